# SPDX-License-Identifier: MIT
"""What versions did: a strip of each, their curves, the figures at equal elapsed time, and what that comes to in words."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QVBoxLayout, QWidget

from desktop import figures
from desktop.chart.curves import CurveCanvas
from desktop.language import tr
from desktop.led import Led
from desktop.models.side_smelled import Smelled, SmelledModel, best_of, smelled, strips_of
from desktop.models.strip_figures import ages_of
from desktop.models.strips import StripCard, StripsModel
from desktop.pages.bench.hung import curve_of
from desktop.session import Session
from desktop.widgets.emptied import take_out
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from desktop.widgets.panes import Panes
from perfumery import OwnNoise, Version

NOTHING = tr("No paper strip of these versions was read yet. Dip one of each in one sitting, and read them at the same times.")
PER_ROW = 3


class SmelledSide(QWidget):
    """The strip of each version can be chosen; until somebody does, those of like age are."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._strips = StripsModel(session.book)
        self._led = Led(session)
        self._versions: tuple[Version, ...] = ()
        self._by_hand: dict[int, int] = {}
        self._own: dict[int, list[StripCard]] = {}
        self._noise: OwnNoise | None = None
        self.smelled: Smelled | None = None
        self.heading = label(tr("What it did"), "heading")
        self.ages = label("", "amber", wrap=True)
        self.choices: dict[int, QComboBox] = {}
        self._row = QGridLayout()
        self._row.setHorizontalSpacing(8)
        self._row.setVerticalSpacing(4)
        self.curves = CurveCanvas(session.theme, self)
        self.model = SmelledModel((), self)
        self.grid = Grid(session.theme, session.settings, "side strips", "what", self)
        self.grid.setAccessibleName(tr("The same versions on their strips, at equal elapsed time"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.told = label("", wrap=True)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.told.setAccessibleDescription(tr("What differs on the strips"))
        self.nothing = label(NOTHING, "quiet", wrap=True)
        self.parts = Panes(
            session.theme, session.settings, "side smelled", (self.curves, self.grid), (300, 150), grows=0, upright=True
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(self.heading)
        column.addLayout(self._row)
        column.addWidget(self.ages)
        column.addWidget(self.nothing)
        column.addWidget(self.parts, 1)
        column.addWidget(self.told)
        column.addStretch(0)
        self.curves.said.connect(session.said)

    def show_versions(self, versions: tuple[Version, ...]) -> None:
        """Reads the strips of these versions and shows one of each."""
        if [one.key for one in versions] != [one.key for one in self._versions]:
            self._by_hand = {}
        self._versions = versions
        book, project = self._session.book, versions[0].project
        self._led.lead(self._strips.loading(project, book.now()), self._show_loaded)
        if self._led.is_going:
            # what was read of other versions does not stand under these
            for part in (self.parts, self.told, self.ages, self.nothing, *self.choices.values()):
                part.hide()

    def _show_loaded(self) -> None:
        self._noise = self._session.book.sittings.noise(self._versions[0].project)
        self._own = strips_of(self._strips.cards, self._versions)
        self._fill()
        self._show()

    @property
    def cards(self) -> list[StripCard]:
        """The strips that are compared, in the order of their versions."""
        chosen = best_of(self._own) | {
            key: strip for key, strip in self._by_hand.items() if any(card.key == strip for card in self._own.get(key, ()))
        }
        cards = (self._strips.card(chosen[version.key]) for version in self._versions if version.key in chosen)
        return [card for card in cards if card is not None]

    def _fill(self) -> None:
        """A list of strips for each version that has any."""
        take_out(self._row)
        self.choices = {}
        chosen = {card.version: card.key for card in self.cards}
        for place, version in enumerate(self._versions):
            assert version.key is not None
            own = self._own.get(version.key, [])
            box = QComboBox(self)
            box.setAccessibleName(tr("Strip of {code}", code=version.code))
            for card in own:
                age = ages_of(card).told
                box.addItem(" · ".join(filter(None, (card.code, age))), card.key)
            if not own:
                box.addItem(tr("no strip"), None)
                box.setEnabled(False)
            box.setCurrentIndex(max(box.findData(chosen.get(version.key)), 0))
            box.activated.connect(lambda _, key=version.key, box=box: self._on_strip_chosen(key, box.currentData()))
            caption = QLabel(version.code, self)
            caption.setProperty("role", "caption")
            caption.setBuddy(box)
            row, at = divmod(place, PER_ROW)
            self._row.addWidget(caption, 2 * row, at)
            self._row.addWidget(box, 2 * row + 1, at)
            self.choices[version.key] = box

    def _show(self) -> None:
        cards = self.cards
        has_strips = bool(cards)
        for part in (self.parts, self.told):
            part.setVisible(has_strips)
        self.nothing.setVisible(not has_strips)
        self.ages.setVisible(False)
        if not has_strips:
            self.smelled = None
            self.curves.set_curves([], None)
            return
        found = self.smelled = smelled(cards, self._noise)
        self.ages.setText(found.ages)
        self.ages.setVisible(bool(found.ages))
        places = {version.key: place for place, version in enumerate(self._versions)}
        self.curves.set_curves([curve_of(card, places[card.version]) for card in cards], None)
        if [column.key for column in self.model.columns[2:]] != [f"at {due:g}" for due in found.dues]:
            self.model = SmelledModel(found.dues, self)
            self.grid.show_model(self.model)
        self.model.show_rows(found.rows)
        self.told.setText("\n".join(found.told))

    def _on_strip_chosen(self, version: int, strip: int) -> None:
        self._by_hand[version] = strip
        self._show()

    @property
    def told_all(self) -> tuple[str, ...]:
        """What is said of the strips, for paper."""
        if self.smelled is None:
            return (NOTHING,)
        named = ", ".join(f"{card.label} ({figures.day(card.strip.dipped_at)})" for card in self.cards)
        return tuple(filter(None, (named, self.smelled.ages, *self.smelled.told)))
