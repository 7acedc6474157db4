# SPDX-License-Identifier: MIT
"""Side by side: what changed between versions at the left, what it did on their strips at the right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QPushButton, QSplitter, QVBoxLayout, QWidget

from db import Change
from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.compared import FEWEST, Compared
from desktop.models.side import (
    GONE,
    INTENDED,
    KINDS,
    LINES,
    MATERIALS,
    NEW,
    PARTS,
    PER_THOUSAND,
    ROWS,
    UNITS,
    WEIGHED,
    Side,
    SideModel,
    SideRow,
    TotalsModel,
    columns,
    shown_rows,
    side_of,
)
from desktop.models.tree import decision_on, newest_first
from desktop.pages.compare.smelled_side import SmelledSide
from desktop.session import Session
from desktop.widgets.bars import BarDelegate
from desktop.widgets.chips import Chips
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Bottle, Contents, Decision, Making, Material, Move, Project, Reading, Refused, Sitting, Strip, Version
from perfumery.difference import difference

EMPTY = tr(
    "Two versions stand side by side here: what changed between them, and what it did on their strips. Add a version above, or "
    "make a second one on the Bench."
)
# A change beyond this fills half of the bar's column.
WHOLE_BAR = 0.5
PANES = "side panes"
_LEFT = (Bottle, Contents, Making, Material, Move, Project, Version, Decision)


class SideView(QWidget):
    """`asked(value)` for what stands on another page, `again_asked(version)` whether it can be made again today."""

    asked = Signal(object)
    again_asked = Signal(int)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._compared = compared
        self._is_stale = True
        self.side: Side | None = None
        self.title = label("", "title")
        self.counted = label("", "quiet", wrap=True)
        self.by = Chips(ROWS, tr("rows"), self)
        self.kind = Chips(KINDS, tr("figures"), self)
        self.unit = Chips(UNITS, tr("unit"), self)
        self.unchanged = QCheckBox(tr("what stayed too"), self)
        self.moved_first = QCheckBox(tr("what moved most first"), self)
        self.lacking = label("", "amber", wrap=True)
        self.grid = Grid(session.theme, session.settings, "side by side", "name", self, give_way=("bar", "stock"))
        self.grid.setAccessibleName(tr("Versions side by side"))
        self.grid.enter_edits = False
        self.grid.setItemDelegate(BarDelegate(session.theme, self.grid, "bar", _length))
        self.totals = Grid(session.theme, session.settings, "side totals", "name", self, give_way=("room",))
        self.totals.setAccessibleName(tr("Totals"))
        self.totals.enter_edits = False
        # all of them where there is room; large text in a low window leaves less
        self.totals.setSizeAdjustPolicy(Grid.SizeAdjustPolicy.AdjustToContents)
        self.why = label("", "quiet", wrap=True)
        self.again = QPushButton(tr("Could I make it again today?"), self)
        self.again.setProperty("role", "primary")
        self.open = QPushButton(tr("Open it on the Bench"), self)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.smelled = SmelledSide(session, self)
        self._pause = QTimer(self, singleShot=True, interval=0)
        self._pause.timeout.connect(self._show_smelled)
        self._lay_out()
        self.save_action = self._action(tr("Save the comparison…"), self.save, "Ctrl+S")
        self.print_action = self._action(tr("Print the comparison…"), self.print_out, "Ctrl+P")
        self.copy_action = self._action(tr("Copy the table"), self.copy, "")
        self._connect()

    def _action(self, text: str, slot: Callable[[], Any], keys: str) -> QAction:
        action = QAction(text, self)
        action.setShortcut(QKeySequence(keys))
        action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(lambda _=False: slot())
        self.addAction(action)
        return action

    def _lay_out(self) -> None:
        left = QWidget(self)
        chips, marks, buttons = QHBoxLayout(), QHBoxLayout(), QHBoxLayout()
        for part in (self.by, self.kind, self.unit):
            chips.addWidget(part)
        chips.addStretch(1)
        for part in (self.unchanged, self.moved_first):
            marks.addWidget(part)
        marks.addStretch(1)
        for button in (self.again, self.open):
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(6)
        for part in (self.title, self.counted):
            column.addWidget(part)
        column.addLayout(chips)
        column.addLayout(marks)
        column.addWidget(self.lacking)
        column.addWidget(self.grid, 1)
        column.addWidget(self.totals)
        column.addWidget(self.why)
        column.addLayout(buttons)
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        self.split.setChildrenCollapsible(False)
        self.split.addWidget(left)
        self.split.addWidget(self.smelled)
        self.split.setStretchFactor(0, 1)
        self.split.setStretchFactor(1, 1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 8, 16, 8)
        whole.addWidget(self.empty)
        whole.addWidget(self.split, 1)
        whole.setAlignment(self.empty, Qt.AlignmentFlag.AlignTop)

    def _connect(self) -> None:
        for chips in (self.by, self.kind, self.unit):
            chips.chosen.connect(lambda _: self._show_rows())
        for box in (self.unchanged, self.moved_first):
            box.toggled.connect(lambda _: self._show_rows())
        self.split.splitterMoved.connect(self._on_splitter_moved)
        self.again.clicked.connect(lambda _=False: self._ask(self.again_asked.emit, by_key=True))
        self.open.clicked.connect(lambda _=False: self._ask(self.asked.emit, by_key=False))
        self.grid.entered.connect(self._open_row)
        self.grid.doubleClicked.connect(lambda index: self._open_row(index.row()))
        self._compared.changed.connect(self._refresh_or_note)
        self._session.changed.connect(self._on_session_changed)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return (self.save_action, self.print_action, self.copy_action, *self.smelled.curves.chart_actions())

    def take_focus(self) -> None:
        """The focus to the table."""
        if self.side is None:
            self.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        if not self.grid.currentIndex().isValid() and self.grid.table.rowCount():
            self.grid.go_to(self.grid.table.index(0, 0))

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Works the versions out anew; their strips a moment after, when the table stands."""
        self._is_stale = False
        versions = self._compared.versions
        enough = len(versions) >= FEWEST
        self.empty.setVisible(not enough)
        self.split.setVisible(enough)
        for action in (self.save_action, self.print_action, self.copy_action):
            action.setEnabled(enough)
        if not enough:
            self.side = None
            return
        try:
            self.side = side_of(self._session.book, versions)
        except Refused as fault:
            self.side = None
            self.empty.setText(wording.sentences(fault.findings))
            self.empty.show()
            self.split.hide()
            return
        self.empty.setText(EMPTY)
        self._give_room()
        self._show_head()
        self._show_rows()
        totals = TotalsModel(self.side, self)
        self.totals.show_model(totals)
        self._show_why()
        self._pause.start()

    def _give_room(self) -> None:
        """More versions want more of the width, until somebody chose otherwise."""
        assert self.side is not None
        own = self._session.settings.widths(PANES)
        usual = min(0.5 + 0.05 * (len(self.side.versions) - FEWEST), 0.65)
        share = own["left"] / (own["left"] + own["right"]) if own.keys() >= {"left", "right"} and any(own.values()) else usual
        left = round(self.split.width() * share)
        self.split.setSizes([left, self.split.width() - left])

    def _show_head(self) -> None:
        assert self.side is not None
        versions = self.side.versions
        mark = " → " if len(versions) == FEWEST else " · "
        self.title.setText(mark.join(version.code for version in versions))
        if len(versions) == FEWEST:
            found = difference(*versions, self._session.book.shelf(*versions))
            counts = (
                tr(
                    "{parts} parts of 1000 moved, carriers included; odorants alone {odorants}",
                    parts=figures.fixed(found.parts_moved, 2), odorants=figures.fixed(found.odorants_moved, 2),
                ),
                tr_count(found.lines_edited, "{n} line edited", "{n} lines edited"),
                tr_count(found.materials_changed, "{n} material changed", "{n} materials changed"),
                tr_count(found.carriers_changed, "{n} carrier changed", "{n} carriers changed"),
            )
            self.counted.setText(" · ".join(counts))
        else:
            self.counted.setText(tr("All beside the first; shares are of the concentrate."))

    def _show_rows(self) -> None:
        if self.side is None:
            return
        by, kind = self.by.name, self.kind.name
        # a line is as it was written; what was weighed is told by material
        self.kind.setEnabled(by == MATERIALS)
        self.unit.buttons[PARTS].setEnabled(by == LINES)
        if by == MATERIALS and self.unit.name == PARTS:
            self.unit.choose(PER_THOUSAND)
        rows = self.side.rows(by, kind if by == MATERIALS else INTENDED)
        made = columns(self.side, by, kind, self.unit.name)
        model = SideModel(made, self)
        model.show_rows(shown_rows(rows, unchanged=self.unchanged.isChecked(), moved_first=self.moved_first.isChecked()))
        self.grid.show_model(model)
        stayed = sum(not row.is_changed for row in rows)
        self.unchanged.setText(tr("what stayed too ({lines})", lines=stayed))
        lacks = by == MATERIALS and kind == WEIGHED and self.side.lacking
        codes = figures.listed(self.side.lacking)
        self.lacking.setText(tr("Never weighed, so as intended: {codes}.", codes=codes) if lacks else "")
        self.lacking.setVisible(bool(lacks))
        height = self.totals.horizontalHeader().sizeHint().height() + len(self.side.totals) * self.grid.rowHeight(0) + 4
        self.totals.setMinimumHeight(60)
        self.totals.setMaximumHeight(max(height, 60))

    def _show_why(self) -> None:
        assert self.side is not None
        last = self.side.versions[-1]
        told = [tr("Why {code}: {reason}", code=last.code, reason=last.reason) if last.reason else ""]
        told += self._decided()
        self.why.setText("\n".join(filter(None, told)))
        self.why.setVisible(any(told))

    def _decided(self) -> list[str]:
        """What was decided last about each of the versions, a sentence for each decision, the newest first."""
        assert self.side is not None
        versions = self.side.versions
        decisions = newest_first(self._session.book.all(Decision, project=versions[-1].project))
        of = {version.key: decision_on(version.key, decisions) for version in versions}
        found = ((one, [version for version in versions if of[version.key] is one]) for one in decisions)
        return [_decision_told(one, own) for one, own in found if own]

    def _show_smelled(self) -> None:
        if self.side is not None:
            self.smelled.show_versions(self.side.versions)

    # doing ------------------------------------------------------------------------------------------------------------

    def _ask(self, emit: Callable[[Any], None], *, by_key: bool) -> None:
        if self.side is not None:
            last = self.side.versions[-1]
            emit(last.key if by_key else last)

    def _open_row(self, place: int) -> None:
        """Shows a row's material on the Bench."""
        if self.side is None:
            return
        row = self.grid.table.row(place)
        key = row.key if self.by.name == MATERIALS else self.side.whole.lines[row.key].material
        material = None if key is None else self._session.book.get(Material, key)
        if material is not None:
            self.asked.emit(material)

    def save(self) -> None:
        """Keeps the comparison as PDF, CSV or XLSX."""
        if self.side is not None:
            from desktop.pages.compare.side_paper import keep

            keep(self, self._session, self.side, self.grid, self.smelled)

    def print_out(self) -> None:
        """Prints the comparison."""
        if self.side is not None:
            from desktop.pages.compare.side_paper import document_of
            from desktop.paper import ask_and_print

            ask_and_print(self, self._session, document_of(self.side, self.grid, self.smelled))

    def copy(self) -> None:
        """Puts the whole table on the clipboard; Ctrl+C in it takes the rows that are selected."""
        if self.side is not None:
            self.grid.selectAll()
            self.grid.copy()
            count = self.grid.table.rowCount()
            self._session.said.emit(tr_count(count, "{n} row on the clipboard.", "{n} rows on the clipboard."), "done")

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_splitter_moved(self) -> None:
        self._session.settings.keep_widths(PANES, dict(zip(("left", "right"), self.split.sizes(), strict=True)))

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(*_LEFT):
            self._refresh_or_note()
        elif change.touches(Reading, Strip, Sitting):
            if self.isVisible():
                self._pause.start()
            else:
                self._is_stale = True

    def _refresh_or_note(self) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()


def _decision_told(one: Decision, versions: Sequence[Version]) -> str:
    """What a decision says of versions that it names."""
    chosen = [version.code for version in versions if version.key in one.chosen]
    told = [tr("{versions} chosen: {reason}", versions=figures.listed(chosen), reason=one.reason)] if chosen else []
    for version in versions:
        reason = one.rejected.get(version.key or 0, "")
        if version.code not in chosen and reason:
            told.append(tr("{version} rejected: {reason}", version=version.code, reason=reason))
        elif version.code not in chosen:
            told.append(tr("{version} rejected", version=version.code))
    return tr("Decided {day}: {decisions}.", day=figures.day(one.made_on), decisions="; ".join(told))


def _length(row: SideRow) -> float | None:
    """How far a row's bar reaches: a change of half of the share or more, what is new and what is gone, fill it."""
    if not row.is_changed:
        return None
    if row.change_text in (NEW, GONE):
        return 1.0 if row.change_text == NEW else -1.0
    return max(-1.0, min(1.0, (row.change or 0.0) / WHOLE_BAR))
