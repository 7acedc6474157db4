# SPDX-License-Identifier: MIT
"""How a strip's card becomes a paper in the stand and a curve on the chart, and which curves are shown."""

from __future__ import annotations

from datetime import datetime

from desktop import figures
from desktop.chart.curve import Curve
from desktop.language import tr
from desktop.models.strips import StripCard, StripsModel
from desktop.widgets.stand import Paper
from perfumery.values import INTENSITY_MAX

CURVES_AT_MOST = 8
# what stands below a paper that waits
WAITING = {"late": tr("late"), "due": tr("due")}


class Shown:
    """Which curves are shown: those ticked by hand in a project, else the latest of each version; the chosen one always.

    Every curve keeps its colour while it is shown; a new one takes the first that is free.
    """

    def __init__(self, model: StripsModel) -> None:
        self._model = model
        self._ticked: dict[int | None, tuple[int, ...]] = {}
        self.keys: tuple[int, ...] = ()
        self.places: dict[int, int] = {}

    def ticked(self, project: int | None) -> tuple[int, ...]:
        """Keys of the strips whose curves are ticked, by hand or by rule."""
        known = {card.key for card in self._model.cards}
        by_hand = self._ticked.get(project)
        ticked = self._model.latest_of_each(CURVES_AT_MOST) if by_hand is None else by_hand
        return tuple(key for key in ticked if key in known)

    def toggle(self, project: int | None, key: int) -> bool:
        """Ticks a curve or takes its tick off; False where no more can be shown."""
        ticked = self.ticked(project)
        if key in ticked:
            self._ticked[project] = tuple(k for k in ticked if k != key)
            return True
        if len(ticked) >= CURVES_AT_MOST:
            return False
        self._ticked[project] = (*ticked, key)
        return True

    def settle(self, project: int | None, chosen: int | None) -> None:
        """Works out `keys` and `places` for what stands in the model now."""
        ticked = self.ticked(project)
        if chosen is None or chosen in ticked:
            self.keys = ticked
        else:
            self.keys = (chosen, *ticked[: CURVES_AT_MOST - 1])
        self.places = {key: place for key, place in self.places.items() if key in self.keys}
        for key in self.keys:
            if key not in self.places:
                taken = set(self.places.values())
                self.places[key] = next(place for place in range(len(self.keys)) if place not in taken)


def paper_of(
    card: StripCard, now: datetime, *, place: int | None, own: bool, veiled: bool, hangs: bool = False
) -> Paper:
    """A strip as it hangs; `place` of its curve, None while that is hidden; veiled: without its last intensity; `hangs`: not
    folded away though it is closed."""
    last = None if veiled else card.last_intensity
    said = [card.label, tr("{elapsed} after the dip", elapsed=figures.elapsed(card.elapsed_h)), card.state_text(now)]
    if last is not None:
        said.append(tr("last intensity {intensity}", intensity=figures.parts(last)))
    said.append(tr("curve hidden") if place is None else tr("curve shown"))
    return Paper(
        key=card.key,
        code=card.code,
        under=short_elapsed(card.elapsed_h),
        name=", ".join(said),
        state=WAITING.get(card.state, ""),
        late=card.state == "late",
        tint=None if last is None else last / INTENSITY_MAX,
        curve=place,
        own=own,
        skin=card.strip.kind == "skin",
        closed=card.state in ("closed", "done") and place is None and not hangs,
    )


def hidden_told(card: StripCard) -> str:
    """Why no earlier figure of a strip is seen."""
    return tr("Earlier figures of {code} stay hidden until this reading is kept.", code=card.code)


def curve_of(card: StripCard, place: int) -> Curve:
    """A strip as a line; skin is dashed."""
    return Curve(
        key=card.key,
        label=card.label,
        short=card.code,
        series=card.series,
        words=card.words,
        dashed=card.strip.kind == "skin",
        liking=card.liking,
        place=place,
    )


def short_elapsed(hours: float) -> str:
    """Elapsed time as the reading row tells it, in the width of a paper: '41 min', '2.7 h', '1.5 d', '12 d'."""
    if 1 <= hours < 23.95:
        return figures.unit(figures.parts(round(hours, 1)), "h")
    if 23.95 <= hours < 240:
        return figures.unit(figures.parts(round(hours / 24, 1)), "d")
    return figures.elapsed(hours)
