# SPDX-License-Identifier: MIT
"""The strips of a project: the stand, their curves, the chosen one's log, and the sheets in which they are dipped and read."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QResizeEvent, QShortcut, QShowEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from db import Change
from desktop import figures
from desktop.chart.curves import CurveCanvas
from desktop.language import tr
from desktop.led import Led
from desktop.models.strips import StripCard, StripsModel, sitting_text
from desktop.pages.bench.dip import DipSheet
from desktop.pages.bench.hung import CURVES_AT_MOST, Shown, curve_of, hidden_told, paper_of
from desktop.pages.bench.neighbours import Neighbours
from desktop.pages.bench.one_time import OneTime
from desktop.pages.bench.reading import ReadingRow
from desktop.pages.bench.strip_log import StripLog
from desktop.pages.bench.times import TimesSheet
from desktop.session import Session
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.labels import ElidedLabel, label
from desktop.widgets.stand import Stand
from perfumery import Reading, Sitting

SIDE_FROM = 700
STAND_WIDTH = 180
HEAD_FROM = 560
# Beside the stand the curves must keep the room in which words ride on them, unless this is the composing width.
CURVES_LEAST = 640
STAND_FROM = 860
# Below this height a strip is read without the curves.
CURVES_FROM = 440


class StripsPane(QWidget):
    """Signals: `strip_chosen(key)` when another strip is shown."""

    menu_title = tr("Strips")
    strip_chosen = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._mode = "composing"
        self._is_stale = True
        self._chosen: int | None = None
        self._peeked: int | None = None
        self._kept: int | None = None
        self.model = StripsModel(session.book)
        self._led = Led(session)
        self._shown = Shown(self.model)
        self._build()
        self._build_actions()
        self._lay_out()
        self._connect()

    # what others use --------------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:
        """What the window puts into its menu."""
        return self._actions

    def set_mode(self, mode: str) -> None:
        """'composing' or 'smelling'."""
        self._mode = mode
        # smelling looks at the curves, composing at curves and log alike
        self._column.setStretchFactor(self._picture, 6 if mode == "smelling" else 3)
        self._arrange()

    @property
    def chosen(self) -> StripCard | None:
        """The strip whose log is shown."""
        return self.model.card(self._chosen)

    def choose_strip(self, key: int) -> None:
        """Shows a strip's log and puts its curve over the others."""
        self.refresh_if_stale()
        # whoever picks a paper reads that one, also the one that was just read
        self._next.hide()
        if self.model.card(key) is None or key == self._chosen:
            return
        reading = self.reading.card is not None and not self.reading.is_correcting
        self._chosen = key
        if self.reading.card is not None and not reading:
            self.reading.leave()
        if reading:
            self._open_reading()
        else:
            self._show()
        self.strip_chosen.emit(key)

    def read_strip(self, key: int) -> None:
        """Opens the reading row for a strip."""
        self.refresh_if_stale()
        if self.model.card(key) is None:
            return
        self._chosen = key
        self._open_reading()
        self.strip_chosen.emit(key)

    def dip(self) -> None:
        """Opens the sheet from which strips are started."""
        self._open_sheet(self.dip_sheet)

    def toggle_curve(self, key: int) -> None:
        """Shows or hides a strip's curve."""
        if self._shown.toggle(self._session.project_key, key):
            self._show()
        else:
            text = tr("{number} curves are shown already. Hide one first (Space on a paper).", number=CURVES_AT_MOST)
            self._session.said.emit(text, "note")

    # building ---------------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        session, theme = self._session, self._session.theme
        self._title = label(tr("Strips"))
        self._sitting, self._sitting_below = ElidedLabel(), ElidedLabel()
        for line in (self._sitting, self._sitting_below):
            line.setProperty("role", "caption")
        self._count = label("", "amber")
        self._dip_button = QPushButton("  ".join((tr("Dip"), "D")))
        self._read_button = QPushButton("  ".join((tr("Read"), "R")))
        for button, name in ((self._dip_button, tr("Dip strips")), (self._read_button, tr("Read the chosen strip"))):
            button.setProperty("role", "link")
            button.setAccessibleName(name)
        self.stand = Stand(theme)
        self.neighbours = Neighbours()
        self.curves = CurveCanvas(theme)
        self.one_time = OneTime()
        self.reading = ReadingRow(session)
        self.dip_sheet = DipSheet(session)
        self.times_sheet = TimesSheet(session)
        self._next = QPushButton()
        self._next.setProperty("role", "link")
        self.log = StripLog(session)
        self._empty = QWidget()
        self._empty_text = label("", "quiet", wrap=True)
        self._empty_button = QPushButton(tr("Dip the first strip"))
        self._empty_button.setProperty("role", "primary")
        for part in (self.reading, self.dip_sheet, self.times_sheet, self._next, self._empty, self.neighbours):
            part.hide()
        self._style()

    def _build_actions(self) -> None:
        def action(text: str, slot: Any, keys: str = "", *, checkable: bool = False) -> QAction:
            made = QAction(text, self, checkable=checkable)
            if keys:
                made.setShortcut(QKeySequence(keys))
            (made.toggled if checkable else made.triggered).connect(slot)
            self.addAction(made)
            return made

        self.dip_action = action(tr("Dip strips…"), self._on_dip_triggered, "Ctrl+D")
        self.read_action = action(tr("Read strip"), self._on_read_triggered, "Ctrl+R")
        self.next_action = action(tr("Read the strip due longest"), self._on_next_triggered, "Ctrl+Shift+R")
        self.curve_action = action(tr("Show or hide its curve"), self._on_curve_triggered)
        self.close_action = action(tr("Close strip"), self._on_close_triggered)
        self.times_action = action(tr("Reading times…"), self._on_times_triggered)
        self.earlier_figures_action = action(
            tr("Show earlier figures while reading"), self._on_earlier_figures_toggled, checkable=True
        )
        self._actions = (
            self.dip_action, self.read_action, self.next_action, self.log.correct_action, self.curve_action,
            self.close_action, self.times_action, self.earlier_figures_action, self.log.earlier_action,
            *self.curves.chart_actions(),
        )  # fmt: skip
        # Plain letters only while the focus is in this pane: elsewhere they are typing.
        own = Qt.ShortcutContext.WidgetWithChildrenShortcut
        QShortcut(QKeySequence("D"), self, self._on_dip_triggered, context=own)
        QShortcut(QKeySequence("R"), self, self._on_read_triggered, context=own)

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(self._title)
        head.addWidget(self._sitting, 1)
        head.addStretch(0)
        for part in (self._count, self._dip_button, self._read_button):
            head.addWidget(part)
        self._picture = QGridLayout()
        self._picture.setContentsMargins(0, 0, 0, 0)
        self._picture.setHorizontalSpacing(12)
        self._picture.setVerticalSpacing(4)
        empty = QVBoxLayout(self._empty)
        empty.setContentsMargins(0, 24, 0, 0)
        empty.addWidget(self._empty_text)
        empty.addWidget(self._empty_button, 0, Qt.AlignmentFlag.AlignLeft)
        empty.addStretch(1)
        self._column = column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 8)
        column.setSpacing(6)
        column.addLayout(head)
        column.addWidget(self._sitting_below)
        column.addWidget(self._empty, 1)
        column.addWidget(self.neighbours)
        column.addLayout(self._picture, 3)
        for part in (self.one_time, self.reading, self._next, self.times_sheet):
            column.addWidget(part)
        column.addWidget(self.dip_sheet, 3)
        column.addWidget(self.log, 2)
        self._is_side: bool | None = None
        self._arrange()

    def _connect(self) -> None:
        session = self._session
        self.stand.chosen.connect(self.choose_strip)
        self.neighbours.chosen.connect(self.choose_strip)
        self.stand.toggled.connect(self.toggle_curve)
        self.stand.read_wanted.connect(self.read_strip)
        self.curves.curve_picked.connect(self.choose_strip)
        self.curves.time_picked.connect(self.one_time.choose_near)
        self.curves.said.connect(session.said)
        self._dip_button.clicked.connect(self._on_dip_triggered)
        self._empty_button.clicked.connect(self._on_dip_triggered)
        self._read_button.clicked.connect(self._on_read_triggered)
        self._next.clicked.connect(self._on_offered_next)
        clicked_by_enter(self._next)
        self.log.correct_wanted.connect(self._on_correct_wanted)
        self.log.unveil_wanted.connect(self._on_unveil_wanted)
        self.reading.kept.connect(self._on_reading_kept)
        self.reading.left.connect(self._on_sheet_left)
        self.dip_sheet.dipped.connect(self._on_strip_dipped)
        self.dip_sheet.left.connect(self._on_sheet_left)
        self.times_sheet.left.connect(self._on_sheet_left)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._on_session_chosen)
        session.ticked.connect(self._on_session_ticked)
        session.theme.changed.connect(self._on_theme_changed)

    def _arrange(self) -> None:
        """Stand above the curves, or beside them where there is room for both."""
        room = self.width()
        self._sitting.setVisible(room >= HEAD_FROM)
        self._sitting_below.setVisible(room < HEAD_FROM)
        side = room >= SIDE_FROM and (self._mode == "composing" or room - STAND_WIDTH - 44 >= CURVES_LEAST)
        if side == self._is_side:
            return
        self._is_side = side
        for part in (self.stand, self.curves):
            self._picture.removeWidget(part)
        self.stand.set_column(side)
        if side:
            self.stand.setFixedWidth(self._session.theme.px(STAND_WIDTH))
            self._picture.addWidget(self.stand, 0, 0)
            self._picture.addWidget(self.curves, 0, 1)
        else:
            self.stand.setMinimumWidth(0)
            self.stand.setMaximumWidth(16777215)
            self._picture.addWidget(self.stand, 0, 0)
            self._picture.addWidget(self.curves, 1, 0)
        self._picture.setColumnStretch(1, 1 if side else 0)
        self._picture.setRowStretch(0, 1 if side else 0)
        self._picture.setRowStretch(1, 0 if side else 1)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh_if_stale(self) -> None:
        """Reads the strips again, all of them now, where something changed while the pane was out of sight."""
        if self._is_stale:
            self._load()
        self._led.finish()

    def _load(self) -> None:
        self._is_stale = False
        self._led.lead(self.model.loading(self._session.project_key, self._session.book.now()), self._show_loaded)
        if self._led.is_going:
            self._show()

    def _show_loaded(self) -> None:
        self.log.forget()
        if self.model.card(self._chosen) is None:
            self._chosen = self._first_choice()
        self._show()

    def _first_choice(self) -> int | None:
        """The chosen version's latest strip that was read or is running, else the latest strip."""
        cards = sorted(self.model.cards, key=lambda c: c.version != self._session.version_key)
        telling = [c for c in cards if c.series or c.state in ("due", "late", "")]
        return next((c.key for c in telling or cards), None)

    def _is_veiled(self, key: int) -> bool:
        """Whether a strip's earlier figures must not be seen: it is being read."""
        card = self.reading.card
        hidden = not self.earlier_figures_action.isChecked() and not self.reading.is_correcting
        return card is not None and card.key == key and hidden and key != self._peeked

    def _show(self) -> None:
        """Brings stand, curves, log and actions to what stands in the model."""
        now = self._session.book.now()
        project = self._session.project
        name = "" if project is None else project.name or project.code
        self._title.setText(tr("Strips of {name}", name=name) if name else tr("Strips"))
        has_strips = bool(self.model.cards)
        sheet_open = self.dip_sheet.isVisibleTo(self)
        self._empty.setVisible(not has_strips and not sheet_open and not self._led.is_going)
        self._empty_text.setText(
            tr("Strips hang here once they are dipped: smelled again and again, each becomes a curve.")
            if project is not None
            else tr("Choose or begin a project; its strips hang here.")
        )
        self._empty_button.setVisible(project is not None)
        for part in (self.stand, self.curves, self.one_time):
            part.setVisible(has_strips)
        # while a strip is read its row takes the place under the curves, in a low window that of the stand too
        is_reading = self.reading.card is not None
        self.one_time.setVisible(has_strips and not is_reading)
        low = not self._is_side and self.height() < self._session.theme.px(STAND_FROM)
        is_folded = is_reading and low
        self.stand.setVisible(has_strips and not is_folded)
        self.neighbours.setVisible(has_strips and is_folded)
        # in large text the curves of the others too: its fields must not be squeezed
        is_lowest = is_folded and self.height() < self._session.theme.px(CURVES_FROM)
        self.curves.setVisible(has_strips and not is_lowest)
        self._shown.settle(self._session.project_key, self._chosen)
        self._show_stand(now)
        self._show_curves()
        card = self.chosen
        self.log.show_card(card, now, veiled=card is not None and self._is_veiled(card.key))
        self.log.setVisible(card is not None and not sheet_open)
        for line in (self._sitting, self._sitting_below):
            line.setText("" if card is None else sitting_text(self.model.sitting(card.strip), now))
        self._show_actions()

    def _show_stand(self, now: datetime) -> None:
        version, places = self._session.version_key, self._shown.places

        def own(card: StripCard) -> bool:
            return version is not None and card.version == version

        cards = sorted(self.model.cards, key=lambda card: not own(card))
        papers = [
            paper_of(c, now, place=places.get(c.key), own=own(c), veiled=self._is_veiled(c.key)) for c in cards
        ]  # fmt: skip
        self.stand.set_papers(papers, self._chosen)
        self.neighbours.show_for(self.stand.papers, self.stand.shown, self._chosen)
        waiting = [c for c in self.model.cards if c.state in ("due", "late")]
        self._count.setText(tr("{number} due", number=len(waiting)) if waiting else "")
        self._count.setToolTip(", ".join(f"{c.code} {c.state_text(now)}" for c in waiting))

    def _show_curves(self) -> None:
        every = [c for c in map(self.model.card, self._shown.keys) if c is not None]
        cards = [c for c in every if not self._is_veiled(c.key)]
        self.curves.say_hidden(next((hidden_told(c) for c in every if c not in cards and c.series), ""))
        drawn = [curve_of(c, self._shown.places[c.key]) for c in cards]
        self.curves.set_curves([c for c in drawn if c.series], self._chosen)
        self.one_time.show_cards(cards)

    def _show_actions(self) -> None:
        card, project = self.chosen, self._session.project
        is_open = card is not None and card.state != "closed"
        self.dip_action.setEnabled(project is not None)
        self._dip_button.setEnabled(project is not None)
        self.read_action.setEnabled(is_open)
        self._read_button.setEnabled(is_open)
        self.next_action.setEnabled(self.model.next_to_read() is not None)
        self.curve_action.setEnabled(card is not None)
        self.close_action.setEnabled(card is not None)
        self.close_action.setText(tr("Close strip") if is_open or card is None else tr("Hang strip up again"))
        self.times_action.setEnabled(project is not None)
        self.log.correct_action.setEnabled(card is not None and not self.log.is_veiled)
        for action in self.curves.chart_actions():
            action.setEnabled(bool(self.curves.curves))

    # sheets -----------------------------------------------------------------------------------------------------------

    def _open_sheet(self, sheet: Any) -> None:
        self.refresh_if_stale()
        for other in (self.reading, self.dip_sheet, self.times_sheet):
            if other is not sheet and other.isVisibleTo(self):
                other.leave()
        self._next.hide()
        if sheet is not self.reading:
            sheet.open()
        self._show()

    def _open_reading(self, reading: Reading | None = None) -> None:
        card = self.chosen
        if card is None:
            return
        self._peeked = None
        self._open_sheet(self.reading)
        self.reading.open(card, reading)
        self._show()

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_dip_triggered(self) -> None:
        if self.dip_action.isEnabled():
            self.dip()

    def _on_read_triggered(self) -> None:
        if self._next.isVisibleTo(self):
            self._on_offered_next()
        elif self.read_action.isEnabled():
            self._open_reading()

    def _on_offered_next(self) -> None:
        card = self.model.next_to_read(after=self._kept)
        if card is not None:
            self.read_strip(card.key)

    def _on_next_triggered(self) -> None:
        card = self.model.next_to_read()
        if card is not None:
            self.read_strip(card.key)

    def _on_curve_triggered(self) -> None:
        if self._chosen is not None:
            self.toggle_curve(self._chosen)

    def _on_close_triggered(self) -> None:
        card = self.chosen
        if card is None:
            return
        if card.state == "closed":
            self._session.edit(tr("strip {code} hung up again", code=card.strip.code), replace(card.strip, closed_at=None))
        else:
            now = self._session.book.now()
            self._session.edit(tr("strip {code} closed", code=card.strip.code), replace(card.strip, closed_at=now))

    def _on_times_triggered(self) -> None:
        self._open_sheet(self.times_sheet)

    def _on_earlier_figures_toggled(self) -> None:
        self._show()

    def _on_unveil_wanted(self) -> None:
        """For this one reading; the setting is the menu's."""
        self._peeked = self._chosen
        self._show()

    def _on_correct_wanted(self, reading: Reading) -> None:
        self._open_reading(reading)

    def _on_reading_kept(self, key: int) -> None:
        self._show()
        self._kept = key
        if not self._name_next(self._session.book.now()):
            self.stand.focus_chosen()
            return
        self._next.show()
        self._next.setFocus(Qt.FocusReason.OtherFocusReason)

    def _name_next(self, now: datetime) -> bool:
        """Names the strip that is due on the link to it; False where none is."""
        waiting = self.model.next_to_read(after=self._kept)
        if waiting is None:
            self._next.hide()
            return False
        told = tr("Read {code} next: {state}", code=waiting.code, state=waiting.state_text(now))
        self._next.setText(f"{told}  R")
        self._next.setAccessibleName(told)
        return True

    def _on_strip_dipped(self, key: int) -> None:
        self._chosen = key
        self._show()
        card = self.chosen
        if card is not None:
            said = tr("{code} is dipped.", code=card.code)
            if card.due is not None:
                time = figures.due_text(card.due.due_s)
                said = tr("{code} is dipped, first reading after {time}.", code=card.code, time=time)
            self._session.said.emit(said, "done")
        self.strip_chosen.emit(key)

    def _on_sheet_left(self) -> None:
        self._show()
        self.stand.focus_chosen()

    def _on_session_changed(self, change: Change) -> None:
        if not self.isVisible():
            self._is_stale = True
            if change.touches(Sitting):
                # one may be sealed: nothing is shown of its papers before they are read again
                self.model.cards = ()
            return
        if self._led.is_going:
            self._load()
            return
        touched = self.model.apply(change, self._session.book.now())
        if touched is None:
            self.log.forget()
            if self.model.card(self._chosen) is None:
                self._chosen = self._first_choice()
            self._show()
        elif touched:
            self._show()

    def _on_session_chosen(self) -> None:
        if self.reading.card is not None:
            self.reading.leave()
        self._chosen = None
        self._next.hide()
        self._is_stale = True
        if self.isVisible():
            self._load()

    def _on_session_ticked(self, now: datetime) -> None:
        if not self.isVisible():
            return
        self.model.tick(now)
        self.reading.tick(now)
        self._show_stand(now)
        self._show_actions()
        if self._next.isVisibleTo(self) and not self._name_next(now):
            self.stand.focus_chosen()
        card = self.chosen
        if card is not None and not self._is_veiled(card.key):
            self.log.show_card(card, now, veiled=False)

    def _on_theme_changed(self) -> None:
        self._style()
        self._is_side = None
        self._arrange()
        if not self.isVisible():
            self._is_stale = True
        elif not self._is_stale:
            self._show()

    def _style(self) -> None:
        self._title.setFont(self._session.theme.font(15, bold=True))

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self._load()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()
