# SPDX-License-Identifier: MIT
"""Tab goes through the window as it is read: by its layouts, whatever was made first or hung up later.

Qt goes by the order in which widgets were made, so that a paper hung up while the window is open would come last of all.
"""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QApplication, QGridLayout, QLabel, QLayout, QScrollArea, QTextEdit, QWidget


def step(root: QWidget, *, forward: bool) -> bool:
    """Puts the focus on the next stop below `root`, or the one before, round and round; whether it did."""
    current = QApplication.focusWidget()
    if current is None or not root.isAncestorOf(current):
        return False
    order = [widget for widget in in_order(root) if widget is current or _is_stop(widget)]
    if current not in order or len(order) < 2:
        return False
    target = order[(order.index(current) + (1 if forward else -1)) % len(order)]
    # every one that holds it, from the inside: the field must be in sight wherever the focus comes from
    around = target.parentWidget()
    while around is not None:
        if isinstance(around, QScrollArea):
            around.ensureWidgetVisible(target)
        around = around.parentWidget()
    target.setFocus(Qt.FocusReason.TabFocusReason if forward else Qt.FocusReason.BacktabFocusReason)
    if isinstance(target, QLabel):
        target.focusNextPrevChild(forward)  # on to its first link, which is marked: the text itself shows no focus
    return True


def in_order(root: QWidget) -> Iterator[QWidget]:
    """Every visible widget below `root` as it is read. A widget with `tab_stops()` names those below it itself."""
    own = getattr(root, "tab_stops", None)
    for child in own() if own is not None else _children(root):
        if child.isVisible():
            yield child
            # what stands in a table or a text is reached by its own keys
            if not isinstance(child, QAbstractItemView | QTextEdit):
                yield from in_order(child)


def _is_stop(widget: QWidget) -> bool:
    if isinstance(widget, QLabel) and "<a " not in widget.text():
        return False  # a text that may hold links, and holds none now
    tab = Qt.FocusPolicy.TabFocus
    return bool(widget.focusPolicy() & tab) and widget.isEnabled() and widget.focusProxy() is None


def _children(widget: QWidget) -> list[QWidget]:
    """The widgets right below one: by its layout, then what no layout holds, line by line."""
    layout = widget.layout()
    own = [child for child in widget.children() if isinstance(child, QWidget) and not child.isWindow()]
    laid_out = [] if layout is None else list(_laid_out(layout, own))
    known = set(map(id, laid_out))
    return [*laid_out, *sorted((one for one in own if id(one) not in known), key=lambda one: (one.y(), one.x()))]


def _laid_out(layout: QLayout, own: list[QWidget]) -> Iterator[QWidget]:
    """Those of a widget's own children that a layout holds, in its order.

    They are asked for by their place and not taken out of its items: PySide keeps what `itemAt` returned after Qt has deleted it,
    and takes the next thing at that place in memory for it, which ends the program sooner or later.
    """
    inner = [child for child in layout.children() if isinstance(child, QLayout)]
    parts = [(at, part) for part in (*own, *inner) if (at := layout.indexOf(part)) >= 0]
    if isinstance(layout, QGridLayout):
        parts.sort(key=lambda one: layout.getItemPosition(one[0])[:2])
    else:
        parts.sort(key=lambda one: one[0])
    for _, part in parts:
        if isinstance(part, QLayout):
            yield from _laid_out(part, own)
        else:
            yield part
