# SPDX-License-Identifier: MIT
"""The field that finds anything: in the book, among the commands, in the help. What it found is listed below it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QFrame, QLabel, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from desktop.help_text import Section
from desktop.language import tr
from desktop.led import Led
from desktop.theme import Theme
from desktop.widgets.labels import clearable
from perfumery import (
    Balance,
    BlindTest,
    Bottle,
    Decision,
    Limit,
    Making,
    Material,
    Note,
    Project,
    Reading,
    Sitting,
    Strip,
    Version,
)
from perfumery.text import fold
from perfumery.values import describe

AT_MOST = 12
LEAST_OTHERS = 4
LEAST_WIDTH = 420
_NATIVE = QKeySequence.SequenceFormat.NativeText
_KINDS: dict[type[Any], str] = {
    Material: tr("material"), Version: tr("version"), Project: tr("project"), Bottle: tr("bottle"), Strip: tr("strip"),
    Note: tr("note"), Reading: tr("reading"), Sitting: tr("sitting"), BlindTest: tr("blind test"), Decision: tr("decision"),
    Making: tr("weighing"), Balance: tr("balance"), Limit: tr("limit"),
}  # fmt: skip


def hit_text(value: Any) -> str:
    """What was found, in one line: its code or name, what it says, and what kind of thing it is."""
    kind = _KINDS.get(type(value), type(value).__name__.casefold())
    if isinstance(value, Material):
        said = (value.short, value.cas)
    elif isinstance(value, Bottle):
        said = (value.code, value.label)
    elif isinstance(value, Note):
        said = (_short(value.text), "")
    elif isinstance(value, QAction):
        said, kind = (value.text().replace("&", "").rstrip("…"), value.shortcut().toString(_NATIVE)), tr("command")
    elif isinstance(value, Section):
        said, kind = (value.title, ""), tr("help")
    elif isinstance(value, Decision):
        said = (value.code, _short(value.reason))
    elif isinstance(value, Reading):
        said = (_short(", ".join([*value.words, value.note]).strip(", ")), "")
    else:
        further = (getattr(value, name, "") for name in ("name", "purpose", "question"))
        said = (describe(value), next(filter(None, further), ""))
    first, second = said
    return " · ".join(part for part in (first, "" if second == first else second, kind) if part)


def _rank(wanted: str, value: Any) -> int:
    """0 what is called just as was typed, by its code or name; 1 anything else, in the order it was found; 2 a command and 3 a
    section of the help."""
    if isinstance(value, QAction | Section):
        return 2 if isinstance(value, QAction) else 3
    called = (getattr(value, name, "") for name in ("code", "name", "short", "label"))
    return 0 if any(isinstance(text, str) and fold(text) == wanted for text in called) else 1


def _shortened(found: list[Any]) -> list[Any]:
    """As many as the list holds; what is no value of the book has the last places."""
    values = [one for one in found if not isinstance(one, QAction | Section)]
    others = found[len(values) :]
    places = max(LEAST_OTHERS, AT_MOST - len(values))
    return [*values[: AT_MOST - min(len(others), places)], *others[:places]]


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 60 else line[:59] + "…"


class FindField(QLineEdit):
    """Type, choose with the arrows, Enter goes there: `found(value)`. Escape gives the focus back."""

    found = Signal(object)

    def __init__(
        self, theme: Theme, seek: Callable[[str], Iterator[tuple[Any, ...]]], led: Led, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._seek, self._led = seek, led
        self._values: tuple[Any, ...] = ()
        self._before: QWidget | None = None
        self.setPlaceholderText(tr("Find anything (Ctrl+K)"))
        self.setAccessibleName(tr("Find anything in the book"))
        self.setToolTip(tr("Find a material, version, strip, bottle, note, decision, command or a word of the help (Ctrl+K)"))
        clearable(self)
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Found"))
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setUniformItemSizes(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemClicked.connect(self._on_item_clicked)
        self._nothing = QLabel(tr("Nothing in the book holds these words."))
        self._nothing.setProperty("role", "quiet")
        self._nothing.setMargin(8)
        self._sheet: QFrame | None = None
        self.textEdited.connect(self._on_text_edited)

    def start(self) -> None:
        """Takes the focus with the text selected; Escape will give it back to where it was."""
        window = self.window()
        self._before = window.focusWidget() if window.focusWidget() is not self else self._before
        self.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.selectAll()

    @property
    def values(self) -> tuple[Any, ...]:
        """What is in the list."""
        return tuple(self.list.item(i).data(Qt.ItemDataRole.UserRole) for i in range(self.list.count()))

    @property
    def is_open(self) -> bool:
        """Whether the list is shown."""
        return self._sheet is not None and self._sheet.isVisible()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            # what is chosen is meant of what was typed last
            self._led.finish()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up) and self.list.count():
            step = 1 if key == Qt.Key.Key_Down else -1
            self.list.setCurrentRow((self.list.currentRow() + step) % self.list.count())
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.is_open and self.list.currentItem() is not None:
                self._on_item_clicked(self.list.currentItem())
        elif key == Qt.Key.Key_Escape:
            self._leave()
        else:
            super().keyPressEvent(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and self.is_open:
            self._place()
        return super().eventFilter(watched, event)

    def focusOutEvent(self, event: QEvent) -> None:
        super().focusOutEvent(event)
        self._led.drop()
        if self._sheet is not None:
            self._sheet.hide()

    def _on_text_edited(self, text: str) -> None:
        self._ensure_sheet()
        self._led.lead(self._seeking(text), lambda: self._show_found(text))

    def _seeking(self, text: str) -> Iterator[None]:
        for values in self._seek(text):
            self._values = values
            yield

    def _show_found(self, text: str) -> None:
        self.list.clear()
        if not text.strip():
            if self._sheet is not None:
                self._sheet.hide()
            return
        wanted = fold(text)
        for value in _shortened(sorted(self._values, key=lambda value: _rank(wanted, value))):
            item = QListWidgetItem(hit_text(value), self.list)
            item.setData(Qt.ItemDataRole.UserRole, value)
        self.list.setVisible(self.list.count() > 0)
        self._nothing.setVisible(self.list.count() == 0)
        if self.list.count():
            self.list.setCurrentRow(0)
        self._place()

    def _on_item_clicked(self, item: QListWidgetItem) -> None:
        value = item.data(Qt.ItemDataRole.UserRole)
        self._leave()
        self.found.emit(value)

    def _leave(self) -> None:
        self._led.drop()
        self.clear()
        self.list.clear()
        if self._sheet is not None:
            self._sheet.hide()
        if self._before is not None and self._before.isVisible():
            self._before.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.clearFocus()

    def _ensure_sheet(self) -> None:
        """The list lies on a sheet of the window itself: a popup of its own would take the typing away."""
        if self._sheet is not None:
            return
        window = self.window()
        self._sheet = QFrame(window)
        self._sheet.setObjectName("found")
        self._sheet.hide()
        rows = QVBoxLayout(self._sheet)
        rows.setContentsMargins(1, 1, 1, 1)
        rows.addWidget(self.list)
        rows.addWidget(self._nothing)
        window.installEventFilter(self)

    def _place(self) -> None:
        """Puts the sheet under the field, right edges together."""
        assert self._sheet is not None
        window = self.window()
        self._theme.dress(self._sheet)
        self._sheet.show()
        self._sheet.raise_()
        row = self.list.sizeHintForRow(0) if self.list.count() else 0
        height = max(row * self.list.count() + 6, self._theme.px(34))
        width = max(self.width(), self._theme.px(LEAST_WIDTH))
        corner = self.mapTo(window, QPoint(self.width() - width, self.height() + 4))
        self._sheet.setGeometry(corner.x(), corner.y(), width, height)
