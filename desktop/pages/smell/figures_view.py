# SPDX-License-Identifier: MIT
"""The figures of all strips of a project side by side, beside a strip or another sitting, and the curves of the ticked ones."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAction, QShowEvent
from PySide6.QtWidgets import QCheckBox, QComboBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from db import Change
from desktop import figures
from desktop.chart.curves import CurveCanvas
from desktop.language import tr
from desktop.led import Led
from desktop.models.sittings import benchmark_of
from desktop.models.strip_figures import (
    LEVELS,
    NEWEST,
    ORDERS,
    USUAL_LEVEL,
    FigureRow,
    FiguresModel,
    differences,
    dues_of,
    noise_told,
    ordered,
    relative_series,
    rows_of,
    vial_of,
)
from desktop.models.strips import StripCard, StripsModel
from desktop.pages.bench.hung import CURVES_AT_MOST, curve_of
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import clearable, label
from desktop.widgets.panes import Panes
from perfumery import Bottle, Making, OwnNoise, Project, Reading, Sitting, Strip, Version
from perfumery.text import fold, matches

NOTHING_SHARED = tr("No vial was smelled in both sittings, so they cannot be compared: dip one they share, best the benchmark.")
EMPTY = tr("No strip of this project was read yet. Dip one in a sitting, and read it at its times.")


class FiguresView(QWidget):
    """Space ticks a strip's curve; the reference, the order and the level are chosen above."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._strips = StripsModel(session.book)
        self._led = Led(session)
        self._ticked: list[int] | None = None
        self._places: dict[int, int] = {}
        self._noise: OwnNoise | None = None
        self._references: dict[int, StripCard] = {}
        self._cards: list[StripCard] = []
        self._worked_out: dict[int, FigureRow] = {}
        self._noise_pause = QTimer(self, singleShot=True, interval=0)
        self._noise_pause.timeout.connect(self._show_noise)
        self.find = QLineEdit(self)
        self.find.setPlaceholderText(tr("Find a strip"))
        self.find.setAccessibleName(tr("Find a strip"))
        clearable(self.find)
        self.sitting, self.reference, self.order, self.level = (QComboBox(self) for _ in range(4))
        self.sitting_field = Field(tr("sitting"), self.sitting, self)
        tip = tr("Each figure then is the difference to this strip")
        self.reference_field = Field(tr("beside"), self.reference, self, tip=tip)
        self.order_field = Field(tr("order"), self.order, self, tip=tr("All strips at one elapsed time, the strongest first"))
        self.level_field = Field(tr("time below"), self.level, self)
        self.level.addItems(LEVELS)
        self.level.setCurrentText(USUAL_LEVEL)
        self.relative = QCheckBox(tr("curves beside it too"), self)
        self.liking = QCheckBox(tr("liking"), self)
        self.told = label("", "quiet", wrap=True)
        self.model = FiguresModel((), USUAL_LEVEL, self)
        self.grid = Grid(session.theme, session.settings, "strip figures", "subject", self)
        self.grid.setAccessibleName(tr("Figures of all strips"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.curves = CurveCanvas(session.theme, self)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        row = QHBoxLayout()
        row.setSpacing(12)
        top, foot = Qt.AlignmentFlag.AlignTop, Qt.AlignmentFlag.AlignBottom
        row.addWidget(self.find, 1, foot)
        widths = ((self.sitting_field, 120), (self.reference_field, 150), (self.order_field, 130), (self.level_field, 84))
        for field, width in widths:
            field.setMinimumWidth(self._session.theme.px(width))
            row.addWidget(field, 0, top)
        boxes = QVBoxLayout()
        boxes.setSpacing(2)
        for box in (self.relative, self.liking):
            boxes.addWidget(box)
        row.addLayout(boxes)
        self.split = Panes(
            self._session.theme, self._session.settings, "figures panes", (self.grid, self.curves), (320, 300), upright=True
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 16, 8)
        column.setSpacing(8)
        column.addLayout(row)
        column.addWidget(self.told)
        column.addWidget(self.split, 1)

    def _connect(self) -> None:
        session = self._session
        self.find.textChanged.connect(lambda _: self._show())
        for box in (self.sitting, self.reference, self.order, self.level):
            box.currentIndexChanged.connect(lambda _: self._show())
        self.relative.toggled.connect(lambda _: self._show_curves())
        self.liking.toggled.connect(self.curves.show_liking)
        self.grid.toggle_asked.connect(self.toggle)
        self.grid.entered.connect(self.toggle)
        self.grid.doubleClicked.connect(lambda index: self.toggle(index.row()))
        self.curves.said.connect(session.said)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._on_session_chosen)
        session.theme.changed.connect(self._refresh_or_note)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return self.curves.chart_actions()

    def take_focus(self) -> None:
        """The focus to the table."""
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads the strips anew, and one's own noise once they are shown."""
        self._is_stale = False
        self._led.lead(self._strips.loading(self._session.project_key, self._session.book.now()), self._show_loaded)
        if self._led.is_going:
            self._take_cards()

    def _show_loaded(self) -> None:
        self._take_cards()
        self._noise_pause.start()

    def _take_cards(self, *, curves: bool = True) -> None:
        self._cards = [card for card in self._strips.cards if card.is_read]
        self._fill_choices()
        self._show(curves=curves)

    @property
    def cards(self) -> list[StripCard]:
        """Every strip that was read, newest first."""
        return self._cards

    def _rows(self, cards: list[StripCard], level: float) -> list[FigureRow]:
        """The rows of these strips; what was worked out of a strip stands until it is read again."""
        known = self._worked_out
        fresh = [card for card in cards if card.key not in known or known[card.key].card is not card]
        if not known or next(iter(known.values())).figures.below[0].level != level:
            known, fresh = {}, cards
        self._worked_out = {**known, **{row.card.key: row for row in rows_of(fresh, level)}}
        return [self._worked_out[card.key] for card in cards]

    def _show_noise(self) -> None:
        """Own noise takes the pairs of all repeats, more than the table: it is told a moment after."""
        project = self._session.project_key
        self._noise = None if project is None else self._session.book.sittings.noise(project)
        self._show()

    def _fill_choices(self) -> None:
        cards = self.cards
        sittings = {card.strip.sitting: self._strips.sitting(card.strip) for card in cards}
        named = [(one.code, one.key) for one in sittings.values() if isinstance(one, Sitting)]
        _fill(self.sitting, [(tr("all"), None), *named])
        mark = benchmark_of(self._session.book, self._session.project)
        # the benchmark's own strips first: they are what curves are mostly held against
        first = sorted(cards, key=lambda card: mark is None or card.strip.bottle != mark.key)
        others = [(tr("sitting {code}", code=code), (key,)) for code, key in named]
        _fill(self.reference, [(tr("nothing"), None), *((card.label, card.key) for card in first), *others])
        orders: list[tuple[str, object]] = [(shown, name) for name, shown in ORDERS.items()]
        _fill(self.order, [*orders, *((tr("at {time}", time=figures.due_text(due)), due) for due in dues_of(cards))])

    def _show(self, *, curves: bool = True) -> None:
        level = self.level.currentText()
        cards = self.cards
        self.told.setText(noise_told(self._noise) if cards else "" if self._led.is_going else EMPTY)
        for part in (self.find, self.sitting_field, self.reference_field, self.order_field, self.level_field, self.relative,
                     self.liking, self.split):  # fmt: skip
            part.setVisible(bool(cards))
        sitting, needle = self.sitting.currentData(), fold(self.find.text())
        dues = dues_of(cards)
        wanted = [
            card for card in cards
            if (sitting is None or card.strip.sitting == sitting) and matches(fold(f"{card.label} {card.source}"), needle)
        ]  # fmt: skip
        rows = self._rows(wanted, float(level))
        by = self.order.currentData()
        rows = ordered(rows, by if isinstance(by, str) else NEWEST, by if isinstance(by, float) else None)
        self._references = self._reference_of(rows)
        rows = self._beside(rows, float(level))
        if isinstance(self.reference.currentData(), tuple) and rows and not self._references:
            self.told.setText(f"{self.told.text()} {NOTHING_SHARED}")
        ticked = self.ticked
        self._show_model(dues, level)
        self.model.show_rows([replace(row, shown=row.card.key in ticked) for row in rows])
        self.relative.setEnabled(self.reference.currentData() is not None)
        if curves:
            self._show_curves()

    def _show_model(self, dues: tuple[float, ...], level: str) -> None:
        fresh = FiguresModel(dues, level, self)
        if [column.head for column in fresh.columns] == [column.head for column in self.model.columns]:
            return
        self.model = fresh
        self.grid.show_model(fresh)

    def _beside(self, rows: list[FigureRow], level: float) -> list[FigureRow]:
        if self.reference.currentData() is None:
            return rows
        made = []
        for row in rows:
            card = self._references.get(row.card.key)
            if card is None:
                # of a vial that the other sitting did not smell there is no difference to tell
                made.append(replace(row, differences={}, noise=self._noise))
                continue
            (reference,) = self._rows([card], level)
            made.append(
                replace(
                    row, differences=differences(row, reference), noise=self._noise, is_reference=row.card.key == card.key,
                    other_age=not row.ages.matches(reference.ages),
                )
            )  # fmt: skip
        return made

    def _reference_of(self, rows: list[FigureRow]) -> dict[int, StripCard]:
        """{strip: the one it is held against}: the strip chosen, or that of the same vial in the sitting chosen."""
        chosen = self.reference.currentData()
        if isinstance(chosen, tuple):
            there = [card for card in self.cards if card.strip.sitting == chosen[0]]
            by_vial = {vial_of(card): card for card in reversed(there)}
            by_vial.pop(None, None)
            found = {row.card.key: by_vial.get(vial_of(row.card)) for row in rows if row.card.strip.sitting != chosen[0]}
            return {key: card for key, card in found.items() if card is not None}
        one = self._strips.card(chosen)
        return {} if one is None else {row.card.key: one for row in rows}

    # curves -----------------------------------------------------------------------------------------------------------

    @property
    def ticked(self) -> tuple[int, ...]:
        """Keys of the strips whose curves are drawn: those ticked, else the latest of each version."""
        known = {card.key for card in self.cards}
        keys = self._strips.latest_of_each(CURVES_AT_MOST) if self._ticked is None else tuple(self._ticked)
        return tuple(key for key in keys if key in known)

    def toggle(self, place: int) -> None:
        """Ticks a strip's curve, or takes its tick off."""
        key, ticked = self.model.row(place).card.key, list(self.ticked)
        if key in ticked:
            ticked.remove(key)
        elif len(ticked) < CURVES_AT_MOST:
            ticked.append(key)
        else:
            most = tr("{number} curves are shown already. Take one off first (Space).", number=CURVES_AT_MOST)
            self._session.said.emit(most, "note")
            return
        self._ticked = ticked
        self._show()

    def _show_curves(self) -> None:
        is_beside = self.relative.isChecked() and self.reference.currentData() is not None
        cards = [card for card in (self._strips.card(key) for key in self.ticked) if card is not None]
        self._places = {key: place for key, place in self._places.items() if key in self.ticked}
        for card in cards:
            free = (place for place in range(len(cards) + len(self._places)) if place not in self._places.values())
            self._places.setdefault(card.key, next(free))
        drawn = [curve_of(card, self._places[card.key]) for card in cards]
        self.curves.show_against(self.reference.currentText() if is_beside else "")
        if is_beside:
            by_key = {card.key: card for card in cards}
            held = [(curve, self._references.get(curve.key)) for curve in drawn]
            lines = [(curve, relative_series(by_key[curve.key], card)) for curve, card in held if card is not None]
            drawn = [replace(curve, series=series, words=(), liking=()) for curve, series in lines if series]
        self.curves.set_curves(drawn, None)

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_session_changed(self, change: Change) -> None:
        if not change.touches(Strip, Sitting, Bottle, Project, Reading, Making, Version):
            return
        if not self.isVisible() or self._led.is_going:
            self._refresh_or_note()
            return
        touched = self._strips.apply(change, self._session.book.now())
        if touched is None:
            self._take_cards()
            self._noise_pause.start()
        elif touched:
            self._on_strips_read(touched)

    def _on_strips_read(self, touched: set[int]) -> None:
        before = self.ticked
        self._take_cards(curves=False)
        if self.ticked != before or self.relative.isChecked():
            self._show_curves()
            return
        for card in (self._strips.card(key) for key in self.ticked if key in touched):
            if card is not None:
                self.curves.update_curve(curve_of(card, self._places[card.key]))

    def _on_session_chosen(self) -> None:
        self._ticked = None
        self._worked_out = {}
        self._refresh_or_note()

    def _refresh_or_note(self, *_: object) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()


def _fill(box: QComboBox, choices: list[tuple[str, object]]) -> None:
    """Offers these; what was chosen stays chosen while it is offered."""
    kept = box.currentData()
    if [(box.itemText(at), box.itemData(at)) for at in range(box.count())] == choices:
        return
    box.blockSignals(True)
    box.clear()
    for text, value in choices:
        box.addItem(text, value)
    box.setCurrentIndex(max(box.findData(kept), 0))
    box.blockSignals(False)
