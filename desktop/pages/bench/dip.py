# SPDX-License-Identifier: MIT
"""The sheet from which strips are started: find what to dip, mark several, and dip each on its own press of Enter.

The dip time is the moment of the key press. Codes, strength, carrier, sitting and the perfumer's usual uptake come along.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, QRect, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QListView,
    QPushButton,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from db import is_current
from desktop import figures, wording
from desktop.language import tr
from desktop.led import Led
from desktop.models.conditions import MARKS, ROOM
from desktop.models.dippable import CaptionRole, Dippable, DippableModel, MarkRole, QuietRole, other_rows, project_rows
from desktop.models.stand_plan import StandPlan, stand_plan
from desktop.session import Session
from desktop.theme import CAPTION
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.labels import clearable, label
from desktop.widgets.two_lines import TwoLineDelegate
from perfumery import Bottle, Move, Project, Refused, Sitting, Strip, parse_number, parse_strength
from perfumery.smelling import READING_TIMES

# Taken where no strip was dipped yet: our own choice, to be replaced by a figure of one's own.
UPTAKE_G = 0.02
FIRST = tr("Enter dips the one chosen now. Space marks several: then each Enter dips one.")
SKIN_CAUTION = tr(
    "Skin only after paper, and a small patch first. Not on broken skin; wash off and stop at the first "
    "irritation. Nothing in this book is a safety assessment."
)


class DipSheet(QFrame):
    """`dipped(strip key)` for each strip started, `left()` when the sheet is put away."""

    dipped = Signal(int)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._led = Led(session)
        self._rest: list[Dippable] = []
        self.model = DippableModel(self)
        self._plan: StandPlan | None = None
        self._first_at: datetime | None = None
        self._dipped, self._last = 0, ""
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Dip strips"))
        self._build()
        self._lay_out()

    # opening ----------------------------------------------------------------------------------------------------------

    def open(self) -> None:
        """Shows what can be dipped; the chosen version's smelling dilutions first."""
        book, project = self._session.book, self._session.project
        empty(self.find)
        self.skin.setChecked(False)
        for field in self._fields:
            field.say("")
        empty(self.wearer, self.site)
        self._show_sitting(book.now())
        self.model.show_rows(project_rows(book, project, self._session.version_key))
        self._set_current(0)
        self._plan, self._first_at, self._dipped = None, None, 0
        self._say(FIRST, "caption")
        self.show()
        self.find.setFocus(Qt.FocusReason.OtherFocusReason)
        # the raw materials come after the first look: the project's own is what is mostly wanted
        self._rest = []
        self._led.lead(other_rows(book, self.model.rows, self._rest), self._add_rest)

    def mark(self, bottles: Iterable[int]) -> None:
        """Marks bottles to be dipped, in this order."""
        self.load_rest()
        places = {row.bottle: place for place, row in enumerate(self.model.rows) if not row.make}
        for bottle in bottles:
            if bottle in places:
                self.model.toggle(places[bottle])

    def load_rest(self) -> None:
        """Puts the bottles of raw materials behind the project's rows now."""
        self._led.finish()

    def _add_rest(self) -> None:
        place = self.list.currentIndex().row()
        self.model.add_rows(self._rest)
        self._set_current(max(place, 0))

    def leave(self) -> None:
        """Puts the sheet away."""
        self.hide()
        self.left.emit()

    def _show_sitting(self, now: datetime) -> None:
        self._sitting = self._current_sitting(now)
        sitting = self._sitting
        empty = sitting is None
        self.temp.setText("" if empty or sitting.temp_c is None else figures.parts(sitting.temp_c))
        self.humidity.setText("" if empty or sitting.rh_percent is None else figures.parts(sitting.rh_percent))
        for box, name in ((self.cold, "cold"), (self.scented, "scented"), (self.tired, "tired")):
            box.setChecked(bool(sitting is not None and getattr(sitting, name)))
        since = tr("new sitting") if sitting is None else tr("sitting since {hour}", hour=figures.clock(sitting.at))
        self._sitting_label.setText(since)
        self.uptake.setText(figures.parts(self._usual_uptake()))

    def _current_sitting(self, now: datetime) -> Sitting | None:
        """The sitting that a strip dipped now belongs to: the last one, while it is of today and still open."""
        last = self._session.book.sittings.last()
        return last if last is not None and is_current(last, now) else None

    def _usual_uptake(self) -> float:
        project = self._session.project_key
        strips = () if project is None else self._session.book.strips(project)
        usual = (s.amount_g for s in reversed(strips) if s.kind == "paper" and s.amount_g)
        return next(usual, UPTAKE_G)

    # dipping ----------------------------------------------------------------------------------------------------------

    @property
    def current(self) -> Dippable | None:
        """The chosen row."""
        index = self.list.currentIndex()
        return self.model.rows[index.row()] if index.isValid() else None

    def dip_next(self) -> int | None:
        """Dips one strip now: the first marked row, else the chosen one. Its key, None where nothing was dipped."""
        if self.find.text():
            # what was typed quickly may stand among those still to come
            self.load_rest()
        marked = self.model.marked
        row = marked[0] if marked else self.current
        if row is None:
            self._say(tr("Nothing here to dip. Type less, or add a bottle of it first."), "wrong")
            return None
        conditions = self._conditions()
        if conditions is None:
            return None
        key = self._dip(row, conditions)
        if key is None:
            return None
        if self._first_at is None:
            self._first_at = self._session.book.now()
        self._dipped += 1
        self._last = self._session.book.get(Strip, key).code
        self.model.unmark(row)
        self.dipped.emit(key)
        if marked and self.model.marked:
            self._show_sitting(self._session.book.now())
            self._say_next()
        else:
            self.leave()
        return key

    def _plan_stand(self) -> None:
        """Proposes how far apart the marked ones are dipped, before the first of them is."""
        marked, book = self.model.marked, self._session.book
        if self._first_at is not None:
            return
        if len(marked) < 2:
            self._plan = None
            self._say(FIRST, "caption")
            return
        project = self._session.project
        times = (() if project is None else project.reading_times) or READING_TIMES
        self._plan = stand_plan(book, [row.text.partition(" · ")[0] for row in marked], times, book.now())
        now_dipped = tr("Enter dips {what} now.", what=marked[0].text)
        self._say(f"{self._plan.told(book.now())} {now_dipped}", "caption")

    def _say_next(self, *_: object) -> None:
        """Which one is dipped next, and in how long it is its turn; nothing forces it."""
        waiting = self.model.marked
        if not waiting or self._first_at is None or not self.isVisible():
            return
        now = self._session.book.now()
        left = None if self._plan is None else self._plan.due_in(self._dipped, self._first_at, now)
        done = tr("{code} dipped.", code=self._last)
        what, number = waiting[0].text, len(waiting)
        if left is None:
            turn = tr("Enter dips {what}, {number} to go.", what=what, number=number)
        elif left.total_seconds() <= 0:
            turn = tr("Enter dips {what} now, {number} to go.", what=what, number=number)
        else:
            span = figures.span(left.total_seconds())
            turn = tr("Enter dips {what} in {span}, {number} to go.", what=what, span=span, number=number)
        self._say(f"{done} {turn}", "caption")

    def _conditions(self) -> dict[str, Any] | None:
        """What the fields say; None where one cannot be read, which is then said beside it."""
        found: dict[str, Any] = {}
        wrong: list[Field] = []
        for field, name, read in (
            (self._strength_field, "strength", parse_strength), (self._temp_field, "temp_c", ROOM["temp_c"]),
            (self._humidity_field, "rh_percent", ROOM["rh_percent"]), (self._uptake_field, "uptake", parse_number),
        ):  # fmt: skip
            editor = field.editor
            assert isinstance(editor, QLineEdit)
            field.say("")
            try:
                found[name] = read(editor.text()) if editor.text().strip() else None
            except Refused as refused:
                field.say(wording.sentences(refused.findings))
                wrong.append(field)
        if wrong:
            wrong[0].editor.setFocus(Qt.FocusReason.OtherFocusReason)
            return None
        found |= {"cold": self.cold.isChecked(), "scented": self.scented.isChecked(), "tired": self.tired.isChecked()}
        return found

    def _dip(self, row: Dippable, conditions: dict[str, Any]) -> int | None:
        book, project = self._session.book, self._session.project
        bottle = self._bottle_of(row, project)
        if bottle is None or bottle.key is None:
            return None
        if self.skin.isChecked() and not any(strip.kind == "paper" for strip in book.all(Strip, bottle=bottle.key)):
            self._say(tr("{code} has no paper strip yet. Smell it on paper first, then on skin.", code=bottle.code), "wrong")
            return None
        now = book.now()
        on_skin = self.skin.isChecked()
        sitting, values = self._sitting_now(now, conditions)
        strength, carrier = self._strength(row, bottle, project, conditions["strength"])
        code = book.next_code(Strip, "W" if on_skin else "P")
        strip = Strip(
            code=code, bottle=bottle.key, dipped_at=now, kind="skin" if on_skin else "paper", sitting=sitting,
            strength=strength, carrier=carrier, wearer=self.wearer.text().strip() if on_skin else "",
            site=self.site.text().strip() if on_skin else "", amount_g=conditions["uptake"],
            reading_times=(project.reading_times if project is not None else ()) or READING_TIMES, key=book.new_key(),
        )  # fmt: skip
        values.append(strip)
        # a strip never takes up more than the book says is left: the last drop is dipped too
        left = book.left(bottle.key).get(bottle.key)
        taken = min(conditions["uptake"] or 0.0, *(() if left is None else (max(left, 0.0),)), math.inf)
        if taken:
            values.append(Move(at=now, kind="strip", mass_g=taken, from_bottle=bottle.key, remark=code))
        done = self._session.edit(tr("strip {code} of {bottle}", code=code, bottle=bottle.code), *values)
        return None if done is None else strip.key

    def _sitting_now(self, now: datetime, conditions: dict[str, Any]) -> tuple[int, list[Any]]:
        """(the sitting's key, what has to be put for it)."""
        book = self._session.book
        own = {name: conditions[name] for name in ("temp_c", "rh_percent", "cold", "scented", "tired")}
        sitting = self._current_sitting(now)
        if sitting is None:
            sitting = Sitting(at=now, code=book.next_code(Sitting, "S"), key=book.new_key(), **own)
            return sitting.key or 0, [sitting]
        changed = replace(sitting, **own)
        return sitting.key or 0, [] if changed == sitting else [changed]

    def _strength(
        self, row: Dippable, bottle: Bottle, project: Project | None, typed: float | None
    ) -> tuple[float | None, int | None]:
        """(strength, carrier) of what is dipped: as typed, else as the bottle says."""
        strength = typed if typed is not None else row.strength if row.make != "trial" else bottle.strength
        carrier = bottle.carrier
        if strength is not None and strength < 1 and carrier is None and project is not None:
            carrier = project.carrier
        return strength, carrier if strength is not None and strength < 1 else None

    def _bottle_of(self, row: Dippable, project: Project | None) -> Bottle | None:
        """The bottle of a row; made first where the row says so."""
        session, book = self._session, self._session.book
        if not row.make:
            return None if row.bottle is None else book.get(Bottle, row.bottle)
        if project is None or row.version is None:
            return None
        vial = None if row.bottle is None else book.get(Bottle, row.bottle)
        if row.make == "trial":
            made = session.attempt(book.start_trial, row.version, project.amount_g)
            vial = None if made is None else made[1]
        if vial is None or project.strength is None or project.strength >= 1 or project.carrier is None:
            return vial
        return session.attempt(book.smelling_dilution, vial.key, project.strength, project.carrier)

    # building ---------------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        theme = self._session.theme
        self.find = QLineEdit()
        self.find.setPlaceholderText(tr("Find what to dip"))
        self.find.setAccessibleName(tr("Find what to dip"))
        clearable(self.find)
        self.list = QListView()
        self.list.setAccessibleName(tr("What can be dipped"))
        self.list.setModel(self.model)
        self.list.setUniformItemSizes(True)
        self.list.setItemDelegate(_MarkedRow(self._session, self.list))
        self.list.setMinimumHeight(theme.px(84))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.strength, self.uptake, self.temp, self.humidity = QLineEdit(), QLineEdit(), QLineEdit(), QLineEdit()
        self.wearer, self.site = QLineEdit(), QLineEdit()
        self._strength_field = Field(tr("strength %"), self.strength, tip=tr("of what is dipped; the bottle's own where empty"))
        self._uptake_field = Field(tr("takes up g"), self.uptake, tip=tr("leaves the bottle's ledger with each strip"))
        self._temp_field = Field(tr("room °C"), self.temp)
        self._humidity_field = Field(tr("RH %"), self.humidity)
        self._wearer_field, self._site_field = Field(tr("wearer"), self.wearer), Field(tr("site"), self.site)
        self._fields = (self._strength_field, self._uptake_field, self._temp_field, self._humidity_field)
        self.skin = QCheckBox(tr("on skin"))
        self.cold, self.scented, self.tired = (QCheckBox(MARKS[name].caption) for name in ("cold", "scented", "tired"))
        for box, mark in ((self.cold, MARKS["cold"]), (self.scented, MARKS["scented"]), (self.tired, MARKS["tired"])):
            box.setToolTip(mark.tip)
        self._caution = label(SKIN_CAUTION, "amber", wrap=True)
        self._sitting_label = label("", "caption")
        self._sentence = label("", "caption", wrap=True)
        self._dip_button = QPushButton(tr("Dip now"))
        self._dip_button.setProperty("role", "primary")
        self._leave_button = QPushButton(tr("Leave"))
        self._leave_button.setProperty("role", "link")
        self.find.textChanged.connect(self._on_find_changed)
        self.list.selectionModel().currentChanged.connect(self._on_current_changed)
        self.list.doubleClicked.connect(self.dip_next)
        self._session.ticked.connect(self._say_next)
        self.skin.toggled.connect(self._on_skin_toggled)
        self._dip_button.clicked.connect(self.dip_next)
        self._leave_button.clicked.connect(self.leave)
        for widget in (self.find, self.list, self.strength, self.uptake, self.temp, self.humidity, self.wearer, self.site):
            widget.installEventFilter(self)

    def _lay_out(self) -> None:
        first = QGridLayout()
        first.setHorizontalSpacing(12)
        fields = (self._strength_field, self._uptake_field, self._temp_field, self._humidity_field)
        for place, field in enumerate(fields):
            first.addWidget(field, 0, place, Qt.AlignmentFlag.AlignTop)
        marks = QHBoxLayout()
        marks.setSpacing(12)
        for part in (self._sitting_label, self.cold, self.scented, self.tired):
            marks.addWidget(part)
        marks.addStretch(1)
        marks.addWidget(self.skin)
        self._skin_part = QWidget()
        skin = QGridLayout(self._skin_part)
        skin.setContentsMargins(0, 0, 0, 0)
        skin.addWidget(self._caution, 0, 0, 1, 2)
        skin.addWidget(self._wearer_field, 1, 0)
        skin.addWidget(self._site_field, 1, 1)
        self._skin_part.hide()
        buttons = QHBoxLayout()
        buttons.setSpacing(16)
        buttons.addWidget(self._leave_button)
        buttons.addWidget(self._sentence, 1)
        buttons.addWidget(self._dip_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(6)
        column.addWidget(self.find)
        column.addWidget(self.list, 1)
        for part in (first, marks):
            column.addLayout(part)
        column.addWidget(self._skin_part)
        column.addLayout(buttons)

    # keys and slots ---------------------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            return self._handle_key(watched, event)
        return super().eventFilter(watched, event)

    def _handle_key(self, watched: QObject, event: QKeyEvent) -> bool:
        key = event.key()
        seeking = watched in (self.find, self.list)
        if key == Qt.Key.Key_Escape:
            self.leave()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not event.isAutoRepeat():  # a key held down must not dip the whole stand
                self.dip_next()
        elif key == Qt.Key.Key_Space and seeking and not event.modifiers():
            if self.list.currentIndex().isValid():
                self.model.toggle(self.list.currentIndex().row())
                self._plan_stand()
        elif key in (Qt.Key.Key_Down, Qt.Key.Key_Up) and watched is self.find:
            self._set_current(self.list.currentIndex().row() + (1 if key == Qt.Key.Key_Down else -1))
        elif watched is self.list and event.text().isprintable() and event.text().strip():
            self.find.setFocus(Qt.FocusReason.OtherFocusReason)
            self.find.insert(event.text())
        else:
            return False
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)

    def _set_current(self, place: int) -> None:
        if self.model.rows:
            self.list.setCurrentIndex(self.model.index(min(max(place, 0), len(self.model.rows) - 1)))

    def _say(self, sentence: str, role: str) -> None:
        self._sentence.setProperty("role", role)
        self._sentence.style().unpolish(self._sentence)
        self._sentence.style().polish(self._sentence)
        self._sentence.setText(sentence)

    def _on_find_changed(self, text: str) -> None:
        self.model.seek(text)
        self._set_current(0)

    def _on_current_changed(self, current: QModelIndex) -> None:
        row = self.current
        known = row is not None and row.strength is not None
        shown = figures.strength_text(row.strength).replace(figures.THIN, " ") if known else ""
        if row is not None and row.strength == 1:
            shown = tr("neat")
        self.strength.setPlaceholderText(shown if known else tr("not known"))
        empty(self.strength)

    def _on_skin_toggled(self, on: bool) -> None:
        self._skin_part.setVisible(on)
        self._uptake_field.caption.setText(tr("amount g") if on else tr("takes up g"))
        self.uptake.setAccessibleName(self._uptake_field.caption.text())
        self.uptake.setText("" if on else figures.parts(self._usual_uptake()))


class _MarkedRow(TwoLineDelegate):
    """A two-line row with the number of its mark at the right."""

    def __init__(self, session: Session, parent: QWidget) -> None:
        super().__init__(session.theme, CaptionRole, QuietRole, parent)
        self._look = session.theme

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().paint(painter, option, index)
        number = index.data(MarkRole)
        if number:
            painter.setFont(self._look.font(CAPTION, bold=True))
            painter.setPen(self._look.colour("juniper"))
            box: QRect = option.rect
            right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(box.adjusted(0, 0, -12, 0), right, f"✓ {number}")
