# SPDX-License-Identifier: MIT
"""The tree: where every version came from and why, what was decided, and from here to the Bench, side by side, or a branch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from db import Change
from desktop import figures
from desktop.language import tr
from desktop.models.compared import MOST, Compared
from desktop.models.tree import Family, Node, decided, family_of
from desktop.pages.compare.decide import DecideSheet
from desktop.session import Session
from desktop.widgets.labels import label
from desktop.widgets.panes import Panes
from desktop.widgets.version_tree import VersionTree
from perfumery import Decision, Making, Project, Strip, Version

EMPTY = tr("The versions of the project stand here as a tree. Write the first one on the Bench.")


class TreeView(QWidget):
    """`asked(version)` to open it on the Bench, `compare_asked(keys)` for side by side, `again_asked(version)`."""

    asked = Signal(object)
    compare_asked = Signal(object)
    again_asked = Signal(int)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self.family = Family(())
        self._marks: tuple[int, ...] = ()
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.tree = VersionTree(session.theme, self)
        self.scroll = QScrollArea(self)
        self.scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll.setWidgetResizable(True)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.scroll.setWidget(self.tree)
        self.tree.setAutoFillBackground(False)
        self.retired = QCheckBox(tr("show retired"), self)
        self.card = QWidget(self)
        self.title = label("", "heading", wrap=True)
        self.told = label("", wrap=True)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.told.setAccessibleDescription(tr("The chosen version"))
        self.decide_sheet = DecideSheet(session, self)
        self.side = QStackedWidget(self)
        self.side.addWidget(self.card)
        self.side.addWidget(self.decide_sheet)
        rows: tuple[tuple[str, str, str, Callable[[], Any]], ...] = (
            ("open", tr("Open on the Bench"), "", self.open), ("compare", tr("Put side by side"), "C", self.compare),
            ("branch", tr("Branch from it"), "B", self.branch), ("decide", tr("Decide…"), "D", self.decide),
            ("correct", tr("Correct the last decision…"), "", self.correct), ("star", tr("Star"), "S", self.star),
            ("retire", tr("Retire"), "Del", self.retire), ("again", tr("Could I make it again today?"), "A", self.again),
        )  # fmt: skip
        self.commands: dict[str, QAction] = {}
        self.buttons: dict[str, QPushButton] = {}
        for key, text, keys, slot in rows:
            action = QAction(text, self.tree)
            if keys:
                action.setShortcut(QKeySequence(keys))
                action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
            action.triggered.connect(lambda _=False, slot=slot: slot())
            self.tree.addAction(action)
            button = QPushButton(text, self.card)
            button.setToolTip(keys)
            button.clicked.connect(action.trigger)
            self.commands[key], self.buttons[key] = action, button
        self._lay_out()
        self.tree.chosen.connect(lambda _: self._show_card())
        self.tree.opened.connect(lambda _: self.open())
        self.tree.ticked.connect(self.tick)
        self.retired.toggled.connect(lambda _: self.refresh())
        self.decide_sheet.left.connect(self._on_decide_left)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._refresh_or_note)

    def _lay_out(self) -> None:
        left = QWidget(self)
        first = QVBoxLayout(left)
        first.setContentsMargins(0, 0, 8, 0)
        for part, stretch in ((self.empty, 0), (self.scroll, 1), (self.retired, 0)):
            first.addWidget(part, stretch)
        grid = QGridLayout()
        for place, button in enumerate(self.buttons.values()):
            grid.addWidget(button, place // 2, place % 2)
        column = QVBoxLayout(self.card)
        column.setContentsMargins(8, 0, 0, 0)
        column.setSpacing(8)
        for part in (self.title, self.told):
            column.addWidget(part)
        column.addLayout(grid)
        column.addStretch(1)
        self.split = Panes(self._session.theme, self._session.settings, "tree panes", (left, self.side), (760, 440), grows=0)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(16, 8, 16, 8)
        whole.addWidget(self.split)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return tuple(self.commands.values())

    def take_focus(self) -> None:
        """The focus into the tree."""
        self.tree.setFocus(Qt.FocusReason.OtherFocusReason)

    def go_to(self, version: int) -> None:
        """Chooses a version."""
        self.tree.choose(version)

    # showing ----------------------------------------------------------------------------------------------------------

    @property
    def node(self) -> Node | None:
        """The chosen version."""
        return self.family.node(self.tree.key)

    def refresh(self) -> None:
        """Reads the tree anew; what was chosen and ticked stays so while it is there."""
        self._is_stale = False
        project = self._session.project_key
        retired = self.retired.isChecked()
        self.family = Family(()) if project is None else family_of(self._session.book, project, retired=retired)
        keys = {node.key for node in self.family.nodes}
        self._marks = tuple(key for key in self._marks if key in keys)
        key = self.tree.key if self.tree.key in keys else self._session.version_key
        self.tree.show_family(self.family, key, self._marks)
        self.empty.setVisible(not self.family.nodes)
        self.card.setVisible(bool(self.family.nodes))
        self._show_card()

    def _show_card(self) -> None:
        node = self.node
        if node is None:
            return
        head = node.head
        codes = {one.key: one.head.code for one in self.family.nodes}
        parent = codes.get(self.family.parents.get(head.key, -1), "")
        said = [node.caption, tr("made {day}", day=figures.day(head.made_at))]
        if head.frozen_at is not None:
            said.append(tr("frozen {day}", day=figures.day(head.frozen_at)))
        if parent:
            said.append(tr("from {version}", version=parent))
        if head.takes_from in codes:
            said.append(tr("takes from {version}", version=codes[head.takes_from]))
        self.title.setText(f"{head.code} {head.name}".strip())
        told = [" · ".join(filter(None, said))]
        if head.reason:
            told.append(tr("Why: {reason}", reason=head.reason))
        told += decided(self.family, head.key)
        ticked = [codes[key] for key in self._marks if key in codes]
        if ticked:
            named = figures.listed(ticked, most=MOST)
            told.append(tr("Ticked: {versions} (Space ticks, C puts them side by side).", versions=named))
        self.told.setText("\n".join(filter(None, told)))
        self.commands["retire"].setText(tr("Bring back") if head.retired else tr("Retire"))
        self.commands["star"].setText(tr("Take the star off") if head.starred else tr("Star"))
        for key in ("retire", "star"):
            self.buttons[key].setText(self.commands[key].text())
        for one in (self.commands["correct"], self.buttons["correct"]):
            one.setEnabled(bool(self.family.decisions))

    # doing ------------------------------------------------------------------------------------------------------------

    def _version(self) -> Version | None:
        node = self.node
        return None if node is None else self._session.book.get(Version, node.key)

    def open(self) -> None:
        """Shows the version on the Bench."""
        version = self._version()
        if version is not None:
            self.asked.emit(version)

    def tick(self, key: int) -> None:
        """Ticks a version for side by side, or takes its tick off."""
        if key in self._marks:
            self._marks = tuple(one for one in self._marks if one != key)
        elif len(self._marks) < MOST:
            self._marks = (*self._marks, key)
        else:
            self._session.said.emit(tr("{most} versions are ticked already. Take one off first (Space).", most=MOST), "note")
        self.tree.marks = self._marks
        self.tree.update()
        self._show_card()

    def compare(self) -> None:
        """The ticked versions side by side; with fewer than two the chosen one beside its parent."""
        node = self.node
        if len(self._marks) > 1:
            self.compare_asked.emit(self._marks)
        elif node is not None and node.key in self.family.parents:
            self.compare_asked.emit((self.family.parents[node.key], node.key))
        else:
            self._session.said.emit(tr("Tick two versions with Space first, then put them side by side."), "note")

    def branch(self) -> None:
        """A draft child of the chosen version, opened on the Bench for its reason."""
        version = self._version()
        if version is not None and version.key is not None:
            put = self._session.edit(tr("branch from {code}", code=version.code), self._session.book.draft_of(version.key))
            if put is not None:
                self.asked.emit(put[0])

    def star(self) -> None:
        """Gives or takes the star."""
        version = self._version()
        if version is not None:
            what = tr("no star for {code}", code=version.code) if version.starred else tr("star {code}", code=version.code)
            self._session.edit(what, replace(version, starred=not version.starred))

    def retire(self) -> None:
        """Takes the version off the lists, or brings it back."""
        version = self._version()
        if version is None or version.key is None:
            return
        if version.retired_on is not None:
            self._session.edit(tr("{code} brought back", code=version.code), replace(version, retired_on=None))
        else:
            self._session.retire(version.key)

    def again(self) -> None:
        """Whether it can be made again today."""
        node = self.node
        if node is not None:
            self.again_asked.emit(node.key)

    def decide(self) -> None:
        """Writes down that the ticked versions, or the chosen one, were chosen."""
        node = self.node
        if node is not None:
            self._decide(self._marks or (node.key,), None)

    def correct(self) -> None:
        """Corrects the last decision by a row that replaces it."""
        if self.family.decisions:
            last = self.family.decisions[0]
            self._decide(last.chosen, last)

    def _decide(self, chosen: tuple[int, ...], replaced: Decision | None) -> None:
        heads = {head.key: head for head in self._session.book.version_heads(self._session.project_key or 0)}
        picked = [heads[key] for key in chosen if key in heads]
        kin = {node.key: node.head for key in chosen for node in self.family.kin(key)}
        others = [head for key, head in kin.items() if key not in chosen]
        self.side.setCurrentWidget(self.decide_sheet)
        self.decide_sheet.start(picked, others, replaced)

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_decide_left(self) -> None:
        self.side.setCurrentWidget(self.card)
        self.take_focus()

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(Version, Decision, Making, Strip, Project):
            self._refresh_or_note()

    def _refresh_or_note(self) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()
