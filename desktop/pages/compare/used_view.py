# SPDX-License-Identifier: MIT
"""Where used: the versions that hold a material or an accord, the notes that speak of it, and what happened when it was moved."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import chain
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from db import Change, Use, UseStep
from desktop import figures
from desktop.language import tr, tr_count
from desktop.led import Led
from desktop.models.compared import Compared
from desktop.models.use_steps import StepReader, StepsModel, step_row
from desktop.models.uses import Thing, ThingsModel, UseRow, UseRows, UsesModel, mentions, sought, things
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import WholeLabel, clearable, label
from desktop.widgets.panes import Panes
from perfumery import Material, Note, Project, Reading, Sitting, Strip, Version, Word

EMPTY = tr("Choose a material or an accord: every version that holds it stands here, with its dose and what its strips said.")
UNUSED = tr("No version holds it yet.")
NO_CAUSE = tr("Side by side, not cause and effect: what else moved is named with each step.")
NEVER_MOVED = tr("Its share never changed from a version to one that came from it.")
READING = tr("Still being read.")
# So many steps are worked out without being looked at; so many rows are much to walk through for Python's collector of garbage.
STEPS_AHEAD, MANY = 400, 4_000


class UsedView(QWidget):
    """`asked(value)` to show a version on the Bench, `compare_asked(keys)` to put a step side by side."""

    asked = Signal(object)
    compare_asked = Signal(object)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._led = Led(session)
        self._reader = StepReader(session.book)
        self._is_stale = True
        self._shown: Thing | None = None
        self._knows_steps = False
        self._known: list[Thing] = []
        self.thing: Thing | None = None
        self.find = QLineEdit(self)
        clearable(self.find)
        self.find_field = Field(tr("find a material or accord"), self.find, self)
        self.things = ThingsModel(self)
        self.list = self._grid(self.things, "used things", "name", tr("Materials and accords"))
        self.title = label(EMPTY, "heading", wrap=True)
        self.told = label("", "quiet", wrap=True)
        self.uses = UsesModel(self)
        self.use_grid = self._grid(self.uses, "uses", "project", tr("Versions that hold it"))
        self.mentions = WholeLabel(self)
        self.mentions.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.mentions.setAccessibleDescription(tr("Strip notes that mention it"))
        self.take = QPushButton(tr("Take the newer accord"), self)
        self.moved_title = label(tr("What happened when it was moved"), "heading")
        self.no_cause = label(NO_CAUSE, "caption", wrap=True)
        self.steps = StepsModel(self)
        self.step_grid = self._grid(self.steps, "use steps", "smelled", tr("What happened when it was moved"))
        self.step_told = WholeLabel(self)
        self.step_told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.step_told.setAccessibleDescription(tr("The chosen step"))
        self._lay_out()
        self.find_action = self._action(tr("Find a material or accord"), self.take_focus, "Ctrl+F")
        self.take_action = self._action(tr("Take the newer version of the accord"), self.take_newer, "")
        self._connect()

    def _grid(self, model: Any, view: str, elastic: str, name: str) -> Grid:
        grid = Grid(self._session.theme, self._session.settings, view, elastic, self)
        grid.setAccessibleName(name)
        grid.enter_edits = False
        grid.show_model(model)
        return grid

    def _action(self, text: str, slot: Callable[[], Any], keys: str) -> QAction:
        action = QAction(text, self)
        if keys:
            action.setShortcut(QKeySequence(keys))
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(lambda _=False: slot())
        self.addAction(action)
        return action

    def _lay_out(self) -> None:
        left, right, above, below = (QWidget(self) for _ in range(4))
        own = QVBoxLayout(left)
        own.setContentsMargins(0, 0, 8, 0)
        own.setSpacing(8)
        own.addWidget(self.find_field)
        own.addWidget(self.list, 1)
        buttons = QHBoxLayout()
        buttons.addWidget(self.take)
        buttons.addStretch(1)
        first = QVBoxLayout(above)
        first.setContentsMargins(0, 0, 0, 0)
        first.setSpacing(6)
        for part in (self.title, self.told):
            first.addWidget(part)
        first.addWidget(self.use_grid, 1)
        first.addLayout(buttons)
        first.addWidget(self.mentions)
        second = QVBoxLayout(below)
        second.setContentsMargins(0, 8, 0, 0)
        second.setSpacing(6)
        for part in (self.moved_title, self.no_cause):
            second.addWidget(part)
        second.addWidget(self.step_grid, 1)
        second.addWidget(self.step_told)
        parts = Panes(self._session.theme, self._session.settings, "used tables", (above, below), (360, 280), upright=True)
        whole = QVBoxLayout(right)
        whole.setContentsMargins(8, 0, 0, 0)
        whole.addWidget(parts)
        self.split = Panes(self._session.theme, self._session.settings, "used panes", (left, right), (280, 920), grows=1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 16, 8)
        column.addWidget(self.split)

    def _connect(self) -> None:
        self.find.textChanged.connect(lambda _: self._show_things())
        self.find.returnPressed.connect(self._on_find_entered)
        self.list.selectionModel().currentRowChanged.connect(lambda index, _: self._on_thing_chosen(index.row()))
        self.use_grid.entered.connect(self._open_use)
        self.use_grid.doubleClicked.connect(lambda index: self._open_use(index.row()))
        self.use_grid.selectionModel().currentRowChanged.connect(lambda *_: self._update_take())
        self.step_grid.selectionModel().currentRowChanged.connect(lambda *_: self._tell_step())
        self.step_grid.entered.connect(self._open_step)
        self.step_grid.doubleClicked.connect(lambda index: self._open_step(index.row()))
        for moved in (self.step_grid.verticalScrollBar().valueChanged, self.step_grid.verticalScrollBar().rangeChanged):
            moved.connect(lambda *_: self._on_steps_moved())
        self.take.clicked.connect(lambda _=False: self.take_newer())
        self._session.changed.connect(self._on_session_changed)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return (self.find_action, self.take_action)

    def take_focus(self) -> None:
        """The focus to what is looked for."""
        self.find.setFocus(Qt.FocusReason.OtherFocusReason)
        self.find.selectAll()

    def go_to(self, value: Material | Version) -> None:
        """Shows the uses of a material or an accord."""
        if self._is_stale:
            self.refresh()
        is_accord = isinstance(value, Version)
        keys = {head.key for head in self._session.book.uses.family(value.key or 0)} if is_accord else {value.key}
        found = next((one for one in self._known if one.is_accord is is_accord and one.key in keys), None)
        if found is not None:
            self.find.clear()
            self._choose(found)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads what can be used, and the uses of what is chosen."""
        self._is_stale = False
        self._known = things(self._session.book)
        self._show_things()
        self._show()

    def _show_things(self) -> None:
        self.things.show_rows(sought(self._known, self.find.text()))

    def _choose(self, thing: Thing) -> None:
        self.thing = thing
        place = next((at for at, row in enumerate(self.things.rows) if row == thing), None)
        if place is not None:
            self.list.go_to(self.things.index(place, 0))
        self._show()

    def _show(self) -> None:
        thing = self.thing
        has_thing = thing is not None
        for part in (self.use_grid, self.mentions, self.moved_title, self.no_cause, self.step_grid, self.step_told):
            part.setVisible(has_thing)
        self.take.setVisible(has_thing and thing is not None and thing.is_accord)
        if thing is None:
            self.title.setText(EMPTY)
            self.told.setText("")
            return
        self.title.setText(thing.name)
        self.use_grid.show_only(None if thing.is_accord else tuple(c.key for c in self.uses.columns if c.key != "note"))
        if thing != self._shown:
            self._shown = thing
            self.uses.show_rows([])
            self.mentions.setText("")
            self.steps.show_rows([])
        self._knows_steps = False
        self._tell_step()
        self._reader.forget()
        self._led.lead(self._reading(thing), self._update_take)

    def _reading(self, thing: Thing) -> Iterator[None]:
        """Reads the uses of a thing in pieces of some ms, the newest first, and shows them as they come."""
        read = UseRows(self._session.book, thing)
        shown = 0
        for _ in read.reading():
            # often at first; rows that stood there already stay until there are as many again
            if len(read.rows) >= max(4 * shown, self.uses.rowCount(), 1):
                shown = len(read.rows)
                self._show_uses(read.rows)
            self._tell_count(read)
            yield
        self._show_uses(read.rows)
        self._tell_count(read, is_read=True)
        uses = [row.use for row in read.rows]
        yield
        self.mentions.setText((yield from mentions(self._session.book, thing, (use.head.key for use in uses))))
        yield from self._reading_steps(uses)
        yield from self._working_out(thing)

    def _show_uses(self, rows: list[UseRow]) -> None:
        self.uses.show_rows(rows)
        if self.uses.rowCount() and not self.use_grid.currentIndex().isValid():
            self.use_grid.go_to(self.uses.index(0, 0))
        self._update_take()
        if len(rows) > MANY:
            gc.freeze()

    def _tell_count(self, read: UseRows, *, is_read: bool = False) -> None:
        number = read.count
        told = UNUSED if number == 0 else ""
        if number:
            told = tr_count(number, "Held by {n} version.", "Held by {n} versions.")
        self.told.setText(told if is_read else " ".join(filter(None, (told, READING))))

    def _reading_steps(self, uses: list[Use]) -> Iterator[None]:
        steps: tuple[UseStep, ...] = ()
        for steps in self._session.book.uses.finding_steps(uses):  # noqa: B007
            yield
        rows = []
        for step in steps:
            rows.append(step_row(step))
            if not len(rows) % STEPS_AHEAD:
                yield
        self._knows_steps = True
        self.steps.show_rows(rows)
        if rows:
            self.step_grid.go_to(self.steps.index(0, 0))
        if len(rows) > MANY:
            gc.freeze()
        self._tell_step()
        yield

    def _working_out(self, thing: Thing) -> Iterator[None]:
        """Works the steps out, those on the screen before the others."""
        while (place := self._next_step()) is not None:
            row = self.steps.row(place)
            self.steps.put(place, (yield from self._reader.working_out(row, None if thing.is_accord else thing.key)))
            if place == self.step_grid.currentIndex().row():
                self._tell_step()
            yield

    def _next_step(self) -> int | None:
        """The place of a step to be worked out next."""
        grid, rows = self.step_grid, self.steps.rowCount()
        last = grid.rowAt(grid.viewport().height() - 1)
        on_screen = range(max(grid.rowAt(0), 0), rows if last < 0 else last + 1)
        places = chain(on_screen, range(min(rows, STEPS_AHEAD)))
        return next((place for place in places if self.steps.row(place).moved is None), None)

    def _tell_step(self) -> None:
        """The chosen step in full: what its row has no room for."""
        index = self.step_grid.currentIndex()
        if not index.isValid() or index.row() >= self.steps.rowCount():
            none = NEVER_MOVED if self._knows_steps else READING
            self.step_told.setText("" if self.steps.rowCount() else none)
            return
        row = self.steps.row(index.row())
        named = ", ".join(filter(None, (f"{row.step.parent.code} → {row.step.child.code}", row.step.child.reason)))
        if row.moved is None:
            self.step_told.setText(f"{named}.\n{READING}")
            return
        moved = figures.fixed(row.moved.parts_moved, 2)
        told = (
            f"{named}.",
            tr("On the strips: {smelled}.", smelled=row.smelled),
            tr("What else moved, ‰: {materials}; {parts} parts of 1000 in all.", materials=row.others, parts=moved),
        )
        self.step_told.setText("\n".join(told))

    # doing ------------------------------------------------------------------------------------------------------------

    @property
    def use(self) -> UseRow | None:
        """The chosen use."""
        index = self.use_grid.currentIndex()
        return self.uses.row(index.row()) if index.isValid() and index.row() < self.uses.rowCount() else None

    def _update_take(self) -> None:
        use = self.use
        can = use is not None and use.newer is not None
        for one in (self.take, self.take_action):
            one.setEnabled(can)
        if use is None or use.newer is None:
            self.take.setText(tr("Take the newer accord"))
            return
        accord, version = use.newer.code, use.use.head.code
        if use.state == "draft":
            self.take.setText(tr("Take {accord} into {version}", accord=accord, version=version))
        else:
            self.take.setText(tr("Take {accord} into a child of {version}", accord=accord, version=version))

    def take_newer(self) -> None:
        """Puts the newest version of the accord into the chosen version: a draft changes, a frozen one gets a child."""
        use = self.use
        if use is None or use.newer is None or use.use.held is None:
            return
        book, newer, held = self._session.book, use.newer, use.use.held
        version = book.get(Version, use.use.head.key)
        if version is None:
            return
        if version.is_frozen:
            version = replace(book.draft_of(version.key or 0), reason=f"with {newer.code}")
        lines = tuple(replace(line, accord=newer.key) if line.accord == held else line for line in version.lines)
        step = tr("{accord} into {version}", accord=newer.code, version=version.code)
        put = self._session.edit(step, replace(version, lines=lines))
        if put is not None:
            self.asked.emit(put[0])

    def _open_use(self, place: int) -> None:
        version = self._session.book.get(Version, self.uses.row(place).use.head.key)
        if version is not None:
            self.asked.emit(version)

    def _open_step(self, place: int) -> None:
        step = self.steps.row(place).step
        self.compare_asked.emit((step.parent.key, step.child.key))

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_find_entered(self) -> None:
        if self.things.rowCount():
            self._choose(self.things.row(0))
            self.use_grid.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _on_thing_chosen(self, place: int) -> None:
        # a list that only follows the line above it has nothing chosen
        if 0 <= place < self.things.rowCount() and self.list.hasFocus():
            self.thing = self.things.row(place)
            self._show()

    def _on_steps_moved(self) -> None:
        # while others are worked out, what has come in sight is the next
        if self._shown is not None and not self._is_stale and not self._led.is_going and self._next_step() is not None:
            self._led.lead(self._working_out(self._shown), lambda: None)

    def _on_session_changed(self, change: Change) -> None:
        if not change.touches(Material, Version, Project, Reading, Strip, Sitting, Word, Note):
            return
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True
            # what is being read may not be there any more
            self._led.lead(iter(()), lambda: None)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()
