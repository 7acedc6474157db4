# SPDX-License-Identifier: MIT
"""One sitting after another: its conditions, its stand, the readings in one go, and the seal of a blind one."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from db import Change, is_current
from desktop.language import tr
from desktop.models.sittings import (
    DueModel,
    SittingLine,
    SittingsModel,
    ages_told,
    benchmark_of,
    lacks_benchmark,
    nose_told,
    pacing_told,
)
from desktop.models.strips import StripCard, StripsModel, sitting_text
from desktop.pages.bench.dip import DipSheet
from desktop.pages.bench.hung import paper_of
from desktop.pages.bench.reading import ReadingRow
from desktop.pages.bench.strip_log import StripLog
from desktop.pages.smell.conditions import Conditions
from desktop.pages.smell.seal import RevealSheet, SealSheet
from desktop.session import Session
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from desktop.widgets.panes import Panes
from desktop.widgets.stand import Stand
from perfumery import Project, Reading, Sitting, Strip

LIST_WIDTH = 470
EMPTY = tr(
    "A sitting is one round of smelling under the same conditions. Begin one, dip its strips one by one, and read them at their "
    "times; sittings stay comparable through the benchmark and the conditions kept with them."
)


class SittingView(QWidget):
    """Sittings at the left, the chosen one at the right."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._chosen: int | None = None
        self._strip: int | None = None
        self._peeked: int | None = None
        self.model = StripsModel(session.book)
        self.sittings, self.due = SittingsModel(self), DueModel(self)
        self._build()
        self._build_actions()
        self._lay_out()
        self._connect()

    # building ---------------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        session = self._session
        self.list = Grid(session.theme, session.settings, "sittings", "purpose", self)
        self.list.setAccessibleName(tr("Sittings"))
        self.due_list = Grid(session.theme, session.settings, "next readings", "state", self)
        self.due_list.setAccessibleName(tr("Next readings of all strips"))
        for grid, model in ((self.list, self.sittings), (self.due_list, self.due)):
            grid.enter_edits = False
            grid.show_model(model)
        self.due_title = label(tr("Next readings"), "strong")
        self.new = QPushButton(tr("New sitting"), self)
        self.new.setToolTip("Ctrl+N")
        self.title = label("", "heading")
        self.told = label("", "quiet", wrap=True)
        self.conditions = Conditions(session, self)
        self.prompt = label("", "amber", wrap=True)
        self.prompt_link = QPushButton(self)
        self.noted = label("", "amber", wrap=True)
        self.stand = Stand(session.theme, self)
        self.reading = ReadingRow(session, self)
        self.log = StripLog(session, self)
        self.dip_sheet = DipSheet(session, self)
        self.seal_sheet, self.reveal_sheet = SealSheet(session, self), RevealSheet(session, self)
        self.dip_button, self.read_button, self.seal_button, self.reveal_button = (
            QPushButton(text, self) for text in (tr("Dip") + "  D", tr("Read") + "  R", tr("Seal…"), tr("Reveal…"))
        )
        for button in (self.prompt_link, self.dip_button, self.read_button, self.seal_button, self.reveal_button):
            button.setProperty("role", "link")
        self.seal_button.setToolTip(tr("Blind: three-digit codes and one clock, until it is revealed"))
        for part in (self.reading, self.dip_sheet):
            part.hide()

    def _build_actions(self) -> None:
        def action(text: str, slot: Any, keys: str = "") -> QAction:
            made = QAction(text, self)
            if keys:
                made.setShortcut(QKeySequence(keys))
                made.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            made.triggered.connect(lambda _=False: slot())
            self.addAction(made)
            return made

        self.new_action = action(tr("New sitting"), self.begin, "Ctrl+N")
        self.dip_action = action(tr("Dip strips…"), self.dip, "Ctrl+D")
        self.read_action = action(tr("Read strip"), self.read, "Ctrl+R")
        self.next_action = action(tr("Read the strip due longest"), self.read_next, "Ctrl+Shift+R")
        self.seal_action = action(tr("Seal the sitting…"), self.seal)
        self.reveal_action = action(tr("Reveal the sitting…"), self.reveal)
        own = Qt.ShortcutContext.WidgetWithChildrenShortcut
        QShortcut(QKeySequence("D"), self, self.dip, context=own)
        QShortcut(QKeySequence("R"), self, self.read, context=own)

    def _lay_out(self) -> None:
        left = QWidget(self)
        column = QVBoxLayout(left)
        column.setContentsMargins(16, 8, 8, 8)
        column.setSpacing(6)
        column.addWidget(self.new, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.list, 3)
        column.addWidget(self.due_title)
        column.addWidget(self.due_list, 2)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.title)
        head.addStretch(1)
        for button in (self.dip_button, self.read_button, self.seal_button, self.reveal_button):
            head.addWidget(button)
        prompt = QHBoxLayout()
        prompt.addWidget(self.prompt, 1)
        prompt.addWidget(self.prompt_link)
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(16, 8, 16, 8)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.told)
        column.addWidget(self.conditions)
        column.addLayout(prompt)
        for part in (self.noted, self.seal_sheet, self.reveal_sheet, self.stand, self.reading):
            column.addWidget(part)
        column.addWidget(self.dip_sheet, 3)
        column.addWidget(self.log, 3)
        column.addStretch(0)
        self.split = Panes(
            self._session.theme, self._session.settings, "sitting panes", (left, right), (LIST_WIDTH, 900), grows=1
        )
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.split)

    def _connect(self) -> None:
        session = self._session
        self.list.selectionModel().currentRowChanged.connect(self._on_list_chosen)
        self.list.entered.connect(lambda _: self.take_stand())
        self.due_list.entered.connect(self._on_due_entered)
        self.due_list.doubleClicked.connect(lambda index: self._on_due_entered(index.row()))
        for button, slot in (
            (self.new, self.begin), (self.dip_button, self.dip), (self.read_button, self.read),
            (self.seal_button, self.seal), (self.reveal_button, self.reveal), (self.prompt_link, self._on_prompt_clicked),
        ):  # fmt: skip
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        clicked_by_enter(
            self.new, self.dip_button, self.read_button, self.seal_button, self.reveal_button, self.prompt_link
        )  # fmt: skip
        self.stand.chosen.connect(self._choose_strip)
        self.stand.read_wanted.connect(self._read)
        self.reading.kept.connect(self._on_reading_kept)
        self.reading.left.connect(self._on_sheet_left)
        self.dip_sheet.dipped.connect(self._on_dipped)
        for sheet in (self.dip_sheet, self.seal_sheet, self.reveal_sheet):
            sheet.left.connect(self._on_sheet_left)
        self.log.correct_wanted.connect(self._on_correct_wanted)
        self.log.unveil_wanted.connect(self._on_unveil_wanted)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._refresh_or_note)
        session.ticked.connect(self._on_session_ticked)
        session.theme.changed.connect(self._refresh_or_note)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return (self.new_action, self.dip_action, self.read_action, self.next_action, self.seal_action, self.reveal_action,
                self.log.correct_action)  # fmt: skip

    def take_focus(self) -> None:
        """The focus to the list of sittings, or to where one is begun."""
        (self.list if self.sittings.rowCount() else self.new).setFocus(Qt.FocusReason.OtherFocusReason)

    def take_stand(self) -> None:
        """The focus to the papers."""
        self.stand.focus_chosen()

    def go_to(self, value: Sitting | Strip) -> None:
        """Shows a sitting, or a strip in its sitting."""
        self.refresh()
        self.choose(value.key if isinstance(value, Sitting) else value.sitting)
        if isinstance(value, Strip) and value.key is not None:
            self._choose_strip(value.key)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads sittings, strips and what is due anew."""
        self._is_stale = False
        book, now = self._session.book, self._session.book.now()
        rows = book.sittings.rows()
        today = now.replace(hour=0, minute=0, second=0, microsecond=0)
        self.sittings.show_rows([SittingLine(row, today) for row in rows])
        if self._chosen not in {row.sitting.key for row in rows}:
            self._chosen = rows[0].sitting.key if rows else None
        self._mark_chosen()
        self._show_due(now)
        self._show()

    def choose(self, sitting: int | None) -> None:
        """Shows one sitting."""
        if sitting != self._chosen:
            self._leave_sheets()
        self._chosen = sitting
        self._strip = None
        if self.reading.card is not None:
            self.reading.leave()
        self._mark_chosen()
        self._show()

    def _leave_sheets(self) -> None:
        """What was asked about one sitting does not stand over another."""
        if self.seal_sheet.is_asking:
            self.seal_sheet.hide()
        self.reveal_sheet.hide()

    def _mark_chosen(self) -> None:
        place = next((at for at, line in enumerate(self.sittings.rows) if line.row.sitting.key == self._chosen), None)
        if place is not None and self.list.currentIndex().row() != place:
            self.list.selectionModel().blockSignals(True)
            self.list.selectRow(place)
            self.list.selectionModel().blockSignals(False)

    @property
    def line(self) -> SittingLine | None:
        """The chosen sitting."""
        return next((line for line in self.sittings.rows if line.row.sitting.key == self._chosen), None)

    @property
    def chosen(self) -> StripCard | None:
        """The strip whose log is shown."""
        return self.model.card(self._strip)

    def _show(self) -> None:
        line, book, now = self.line, self._session.book, self._session.book.now()
        is_there = line is not None
        for part in (self.conditions, self.stand, self.dip_button, self.read_button, self.seal_button, self.reveal_button):
            part.setVisible(is_there)
        self.due_title.setVisible(bool(self.due.rowCount()))
        self.due_list.setVisible(bool(self.due.rowCount()))
        if line is None:
            self.title.setText(tr("Sittings"))
            self.told.setText(EMPTY)
            for hidden in (self.prompt, self.prompt_link, self.noted, self.log):
                hidden.hide()
            self._show_actions()
            return
        sitting = line.row.sitting
        self.model.load_strips(list(book.all(Strip, sitting=sitting.key)), now)
        self.model.cards = tuple(reversed(self.model.cards))  # in the order they were dipped
        if self.model.card(self._strip) is None:
            first = self._next() or next(iter(self.model.cards), None)
            self._strip = None if first is None else first.key
        self.stand.setVisible(bool(self.model.cards))
        self.title.setText(f"{sitting.code} {sitting.purpose}".strip())
        self.told.setText(sitting_text(sitting, now))
        self.conditions.show_sitting(sitting)
        self._show_prompt(line)
        noted = [ages_told(self.model.cards), nose_told(book.sittings.nose(sitting.key or 0))]
        self.noted.setText("\n".join(filter(None, noted)))
        self.noted.setVisible(bool(self.noted.text()))
        self._show_stand(now)
        self._show_actions()

    def _show_prompt(self, line: SittingLine) -> None:
        mark = benchmark_of(self._session.book, self._session.project)
        wanted = mark is not None and lacks_benchmark(line.row)
        self.prompt.setVisible(wanted)
        can_dip = wanted and is_current(line.row.sitting, self._session.book.now())
        self.prompt_link.setVisible(can_dip)
        if mark is not None:
            named = mark.label if mark.label.startswith(mark.code) else f"{mark.code} {mark.label}".strip()
            lacks = tr("{benchmark} does not hang in this sitting: with it, sittings can be compared.", benchmark=named)
            self.prompt.setText(lacks)
            self.prompt_link.setText(tr("Dip {code}…", code=mark.code))

    def _show_stand(self, now: datetime) -> None:
        papers = [
            paper_of(card, now, place=None, own=True, veiled=self._is_veiled(card.key), hangs=True) for card in self.model.cards
        ]  # fmt: skip
        self.stand.set_papers(papers, self._strip)
        card = self.chosen
        self.log.show_card(card, now, veiled=card is not None and self._is_veiled(card.key))
        self.log.setVisible(card is not None and self.dip_sheet.isHidden())

    def _show_due(self, now: datetime) -> None:
        every = StripsModel(self._session.book)
        due = self._session.book.due(now)
        every.load_strips([one.strip for one in due], now)
        cards = {card.key: card for card in every.cards}
        self.due.show_rows([(cards[one.strip.key], now) for one in due if one.strip.key in cards])

    def _is_veiled(self, key: int) -> bool:
        card = self.reading.card
        return card is not None and card.key == key and not self.reading.is_correcting and key != self._peeked

    def _show_actions(self) -> None:
        line, now = self.line, self._session.book.now()
        sitting = None if line is None else line.row.sitting
        can_dip = sitting is not None and is_current(sitting, now) and sitting == self._latest()
        self.dip_button.setEnabled(can_dip and self._session.project is not None)
        self.dip_action.setEnabled(self.dip_button.isEnabled())
        is_next = self._next() is not None
        card = self.model.card(self._strip)
        can_read = is_next or (card is not None and card.state != "closed")
        self.read_button.setEnabled(can_read)
        self.read_action.setEnabled(can_read)
        self.next_action.setEnabled(is_next)
        can_seal = sitting is not None and sitting.clock_at is None and sitting.revealed_at is None and bool(self.model.cards)
        for part in (self.seal_button, self.seal_action):
            part.setEnabled(can_seal)
        is_sealed = sitting is not None and sitting.is_sealed
        for other in (self.reveal_button, self.reveal_action):
            other.setEnabled(is_sealed)
        self.seal_button.setVisible(sitting is not None and not is_sealed and sitting.revealed_at is None)
        self.reveal_button.setVisible(is_sealed)

    def _latest(self) -> Sitting | None:
        return self.sittings.rows[0].row.sitting if self.sittings.rowCount() else None

    # what is done -----------------------------------------------------------------------------------------------------

    def begin(self) -> None:
        """A new sitting, under the conditions that are still to be written."""
        begun = self._session.attempt(self._session.book.sittings.begin)
        if begun is not None:
            self._leave_sheets()
            self._chosen = begun.key
            self.refresh()
            self.conditions.purpose.setFocus(Qt.FocusReason.OtherFocusReason)

    def dip(self) -> None:
        """What can be dipped; each on its own press of Enter."""
        if not self.dip_action.isEnabled():
            return
        if self.reading.card is not None:
            self.reading.leave()
        self.log.hide()
        self.dip_sheet.open()

    def dip_these(self, bottles: tuple[int, ...]) -> None:
        """These vials marked to be dipped, each on its own press of Enter; in the sitting of now, or in a new one."""
        latest = self._latest()
        if latest is None or not is_current(latest, self._session.book.now()):
            self.begin()
        elif latest.key != self._chosen:
            self.choose(latest.key)
        self.dip()
        self.dip_sheet.mark(bottles)

    def read(self) -> None:
        """The strip that is chosen; where that takes no more readings, the next one."""
        card = self.model.card(self._strip)
        if card is not None and card.state != "closed":
            self._read(card.key)
        else:
            self.read_next()

    def read_next(self) -> None:
        """The strip of this sitting that is due longest, else the one that comes next."""
        card = self._next()
        if card is not None:
            self._read(card.key)

    def read_strip(self, strip: Strip) -> None:
        """Shows the sitting of a strip and opens its reading."""
        self.choose(strip.sitting)
        if strip.key is not None:
            self._read(strip.key)

    def _next(self, after: int | None = None) -> StripCard | None:
        waiting = self.model.next_to_read(after)
        if waiting is not None or after is not None:
            return waiting
        coming = [card for card in self.model.cards if card.due is not None]
        return min(coming, key=lambda card: card.strip.dipped_at.timestamp() + (card.due.due_s if card.due else 0), default=None)

    def seal(self) -> None:
        """Blind from now on."""
        line = self.line
        if line is not None and self.seal_action.isEnabled():
            self.seal_sheet.open(line.row.sitting)

    def reveal(self) -> None:
        """The key comes back."""
        line = self.line
        if line is not None and self.reveal_action.isEnabled():
            self.reveal_sheet.open(line.row.sitting, tuple(card.code for card in self.model.cards))

    def _choose_strip(self, key: int) -> None:
        before = self.reading.card
        if before is None or before.key == key:
            self._strip = key
            self._show_stand(self._session.book.now())
            return
        begun = self.reading.is_begun
        self._read(key)
        if begun:
            self._session.said.emit(tr("What was typed for {code} waits there.", code=before.code), "note")

    def _read(self, key: int, reading: Reading | None = None) -> None:
        card = self.model.card(key)
        if card is None:
            return
        self._strip, self._peeked = key, None
        self.dip_sheet.hide()
        self.reading.open(card, reading)
        self._show_stand(self._session.book.now())

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_list_chosen(self) -> None:
        place = self.list.currentIndex().row()
        if 0 <= place < self.sittings.rowCount():
            key = self.sittings.row(place).row.sitting.key
            if key != self._chosen:
                self.choose(key)

    def _on_due_entered(self, place: int) -> None:
        self.read_strip(self.due.row(place)[0].strip)

    def _on_prompt_clicked(self) -> None:
        mark = benchmark_of(self._session.book, self._session.project)
        self.dip()
        if mark is not None and self.dip_sheet.isVisible():
            self.dip_sheet.find.setText(mark.code)

    def _on_dipped(self, key: int) -> None:
        self._strip = key
        self._show()
        if self.dip_sheet.isVisible():
            self.log.hide()

    def _on_reading_kept(self, key: int) -> None:
        rest = pacing_told(self._session.book.sittings.pacing(self._session.book.now()))
        if rest:
            self._session.said.emit(rest, "note")
        following = self._next(after=key)
        if following is not None:
            self._read(following.key)
            return
        self._show()
        self.stand.focus_chosen()

    def _on_correct_wanted(self, reading: Reading) -> None:
        self._read(reading.strip, reading)

    def _on_unveil_wanted(self) -> None:
        self._peeked = self._strip
        self._show_stand(self._session.book.now())

    def _on_sheet_left(self) -> None:
        self._show()
        self.stand.focus_chosen()

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(Sitting, Strip, Reading, Project):
            self.log.forget()
            self._refresh_or_note()

    def _on_session_ticked(self, now: datetime) -> None:
        if not self.isVisible():
            return
        self.model.tick(now)
        self.reading.tick(now)
        self._show_due(now)
        self._show_stand(now)
        self._show_actions()

    def _refresh_or_note(self, *_: object) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()
        else:
            # what passed while another page was looked at
            self._on_session_ticked(self._session.book.now())
