# SPDX-License-Identifier: MIT
"""How a raw material smelled on its own strips: a line for each, and their curves when they are asked for."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from db import Change
from desktop import figures
from desktop.chart.curves import CurveCanvas
from desktop.language import tr, tr_count
from desktop.models.strips import StripCard, StripsModel
from desktop.pages.bench.hung import CURVES_AT_MOST, curve_of
from desktop.session import Session
from perfumery import Bottle, Reading, Strip, curve_figures

HEIGHT = 200
LINES = 4


class Smelled(QWidget):
    """The strips of one material. The curves are drawn only while they are shown; `opened(part)` when they come up."""

    opened = Signal(QWidget)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._model = StripsModel(session.book)
        self._material: int | None = None
        self._canvas: CurveCanvas | None = None
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setTextFormat(Qt.TextFormat.RichText)
        self.told.setAccessibleDescription(tr("How it smelled on strips"))
        self.button = QPushButton(self)
        self.button.setProperty("role", "link")
        self.button.setCheckable(True)
        self.button.setAutoDefault(False)
        self.button.toggled.connect(self._on_button_toggled)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self.told)
        column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)
        session.changed.connect(self._on_session_changed)

    @property
    def cards(self) -> tuple[StripCard, ...]:
        """The strips that are told of, newest first."""
        return self._model.cards

    @property
    def canvas(self) -> CurveCanvas | None:
        """The chart, once it was asked for."""
        return self._canvas

    def show_for(self, material: int | None) -> None:
        """Shows the strips dipped from a material's bottles; nothing where there are none."""
        if material != self._material:
            self.button.setChecked(False)
        self._material = material
        self._model.load_material(material, self._session.book.now())
        cards = [card for card in self.cards if card.series]
        self.setVisible(bool(cards))
        lines = [_line(card) for card in cards[:LINES]]
        if len(cards) > LINES:
            lines.append(tr_count(len(cards) - LINES, "and {n} earlier strip", "and {n} earlier strips"))
        self.told.setText("<br>".join(lines))
        self._show_curves()

    def _show_curves(self) -> None:
        wanted = self.button.isChecked()
        cards = [card for card in self.cards if card.series][:CURVES_AT_MOST]
        if wanted:
            self.button.setText(tr("Hide the curves") if len(cards) > 1 else tr("Hide the curve"))
        else:
            self.button.setText(tr("Show the curves") if len(cards) > 1 else tr("Show the curve"))
        if wanted and self._canvas is None:
            self._canvas = CurveCanvas(self._session.theme, self)
            self._canvas.setFixedHeight(self._session.theme.px(HEIGHT))
            self.layout().addWidget(self._canvas)
        if self._canvas is not None:
            self._canvas.setVisible(wanted)
            if wanted:
                self._canvas.set_curves([curve_of(card, place) for place, card in enumerate(cards)], None)

    def _on_button_toggled(self, wanted: bool) -> None:
        self._show_curves()
        if wanted and self._canvas is not None:
            self.opened.emit(self._canvas)

    def _on_session_changed(self, change: Change) -> None:
        if self._material is not None and change.touches(Strip, Reading, Bottle):
            self.show_for(self._material)


def _line(card: StripCard) -> str:
    """'P16, M17-1: peak 5.5 at 2 min, noticed > 72 h · earthy, woody'."""
    found = curve_figures(card.series)
    if found.last_noticed_h is None:
        last = tr("never noticed")
    else:
        elapsed = figures.elapsed(found.last_noticed_h)
        last = tr("noticed {elapsed}", elapsed=f"> {elapsed}" if found.still_noticed else elapsed)
    words: dict[str, int] = {}
    for reading in card.readings:
        for word, weight in reading.words.items():
            words[word] = words.get(word, 0) + weight
    most = sorted(words, key=lambda word: -words[word])[:3]
    peak = tr("peak {intensity} at {elapsed}", intensity=figures.parts(found.peak), elapsed=figures.elapsed(found.peak_h))
    told = f"<b>{escape(card.code)}</b> {escape(card.source)}: {peak}, {last}"
    return f"{told} · {escape(', '.join(most))}" if most else told
