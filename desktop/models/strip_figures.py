# SPDX-License-Identifier: MIT
"""All strips of a project in figures: each at every elapsed time, and what its whole curve says; or each beside a reference.

The terms are those of ASTM E1909, time-intensity evaluation. What is not known is not guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from PySide6.QtCore import QObject

from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.sittings import are_matched
from desktop.models.strips import StripCard, age_text
from desktop.models.table import TableModel
from perfumery import OwnNoise, StripFigures, relative, strip_figures
from perfumery.curves import AREA_FROM_H, AREA_TO_H
from perfumery.smelling import answered

LEVELS = ("1", "2", "2.5", "3", "4")
USUAL_LEVEL = "2.5"
CURVE_SUM = "peak-area-last-noticed"
# The orders, {name: as it is shown}.
NEWEST, PEAK, AREA, LAST = "newest", "peak", "area", "last"
ORDERS = {NEWEST: tr("newest first"), PEAK: tr("peak"), AREA: tr("area"), LAST: tr("last noticed")}


@dataclass(frozen=True, slots=True)
class Ages:
    """How old a mix was when it was dipped; None not known, or not in alcohol."""

    concentrate: timedelta | None = None
    alcohol: timedelta | None = None

    @property
    def told(self) -> str:
        """'8 d · 1 d': as concentrate, in alcohol."""
        return " · ".join(age_text(age) for age in (self.concentrate, self.alcohol) if age is not None)

    def matches(self, other: Ages) -> bool:
        """Whether both ages count as those of another strip."""
        pairs = ((self.concentrate, other.concentrate), (self.alcohol, other.alcohol))
        return all(a is None or b is None or are_matched(a, b) for a, b in pairs)


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One strip. `at` {due point in s: intensity}; `differences` to the reference there, None without one; `shown` whether its
    curve is drawn; `is_reference`; `other_age` where its ages do not match the reference's."""

    card: StripCard
    at: Mapping[float, float]
    figures: StripFigures
    ages: Ages
    differences: Mapping[float, float] | None = None
    noise: OwnNoise | None = field(default=None, compare=False)
    shown: bool = False
    is_reference: bool = False
    other_age: bool = False

    def counts(self, due_s: float) -> bool:
        """Whether the difference at a time is more than one's own noise; True where that is not known."""
        found = None if self.differences is None else self.differences.get(due_s)
        return found is None or self.noise is None or self.noise.counts(found)


def rows_of(cards: Sequence[StripCard], level: float) -> list[FigureRow]:
    """A row a strip, in the order given."""
    return [FigureRow(card, intensities(card), strip_figures(card.series, levels=(level,)), ages_of(card)) for card in cards]


def intensities(card: StripCard) -> dict[float, float]:
    """{due point in s: the intensity that answers it}."""
    by_due = answered(card.readings, card.strip)
    read = ((point.due_s, by_due[point.due_s].intensity) for point in card.points if point.due_s in by_due)
    return {due_s: intensity for due_s, intensity in read if intensity is not None}


def vial_of(card: StripCard) -> int | None:
    """The vial that the liquid of a strip came from, however it was thinned; None under seal."""
    if card.blind:
        return None
    return card.strip.bottle if card.origin.making is None else card.origin.making.into_bottle


def ages_of(card: StripCard) -> Ages:
    """The ages of what a strip was dipped in; nothing under seal."""
    since = (card.origin.concentrate_at, card.origin.alcohol_at)
    concentrate, alcohol = (None if at is None or at > card.strip.dipped_at else card.strip.dipped_at - at for at in since)
    return Ages(concentrate, alcohol)


def differences(row: FigureRow, reference: FigureRow) -> dict[float, float]:
    """{due point: intensity less the reference's} where both answer it."""
    return {due: value - reference.at[due] for due, value in row.at.items() if due in reference.at}


def relative_series(card: StripCard, reference: StripCard) -> tuple[tuple[float, float], ...]:
    """The curve less the reference's at equal elapsed time; not a number in a gap, nothing where it is not known."""
    found = relative(card.series, reference.series)
    known = [place for place, (_, value) in enumerate(found) if value is not None]
    if not known:
        return ()
    inside = found[known[0] : known[-1] + 1]
    return tuple((t, math.nan if value is None else value) for t, value in inside)


def noise_told(noise: OwnNoise | None) -> str:
    """What one's own noise is, in a sentence."""
    if noise is None:
        return tr("Own noise is not yet known: it takes three repeats of the same vial at like ages, under two codes.")
    limit, spread = (figures.fixed(value, 2) for value in (noise.limit, noise.s))
    return tr_count(
        noise.pairs,
        "Own noise {spread} from {n} repeat pair: differences up to {limit} are grey, they may be chance.",
        "Own noise {spread} from {n} repeat pairs: differences up to {limit} are grey, they may be chance.",
        spread=spread, limit=limit,
    )  # fmt: skip


def dues_of(cards: Iterable[StripCard]) -> tuple[float, ...]:
    """Every due point of these strips."""
    return tuple(sorted({point.due_s for card in cards for point in card.points}))


def _cell(due_s: float) -> Column[FigureRow]:
    def text(row: FigureRow) -> str:
        if row.differences is not None and not row.is_reference:
            found = row.differences.get(due_s)
            return "" if found is None else figures.signed(found)
        value = row.at.get(due_s)
        return "" if value is None else figures.parts(value)

    return Column(f"at {due_s:g}", figures.due_text(due_s), text, 52, right=True)


def _last(row: FigureRow) -> str:
    found = row.figures.curve
    if found.last_noticed_h is None:
        return figures.UNKNOWN
    return f"{'> ' if found.still_noticed else ''}{figures.elapsed(found.last_noticed_h)}"


def _duration(row: FigureRow) -> str:
    found = row.figures.curve
    if found.duration_h is None:
        return figures.UNKNOWN
    return f"{'> ' if found.still_noticed else ''}{figures.elapsed(found.duration_h)}"


def _below(row: FigureRow) -> str:
    (below,) = row.figures.below
    if below.fall is None:
        return figures.UNKNOWN if below.not_by_h is None else f"> {figures.elapsed(below.not_by_h)}"
    if below.fall.is_wide:
        return f"{figures.elapsed(below.fall.after_h)}–{figures.elapsed(below.fall.before_h)}"
    return figures.elapsed(below.fall.at_h)


def columns(dues: Sequence[float], level: str) -> tuple[Column[FigureRow], ...]:
    """The columns for these due points and this level."""
    area = tr("area {span}", span=f"{figures.elapsed(AREA_FROM_H)}–{figures.elapsed(AREA_TO_H)}")
    return (
        Column("shown", "", lambda row: "✓" if row.shown else "", 24, tip=tr("its curve is drawn (Space)")),
        Column("code", tr("strip"), lambda row: row.card.code, 52),
        Column("subject", tr("of"), lambda row: row.card.subject, 92),
        Column("source", tr("trial"), lambda row: row.card.source, 66),
        Column("ages", tr("age · in alcohol"), lambda row: f"! {row.ages.told}" if row.other_age else row.ages.told, 104,
               plain=lambda row: row.ages.told,
               tip=tr("of the mix when it was dipped: as concentrate, in alcohol"), sum="age-of-the-mix"),
        *(_cell(due) for due in dues),
        Column("peak", tr("peak"), lambda row: figures.parts(row.figures.curve.peak), 44, right=True,
               tip=tr("the highest intensity (ASTM E1909: Imax)"), sum=CURVE_SUM),
        Column("peak at", tr("at"), lambda row: figures.elapsed(row.figures.curve.peak_h), 56, right=True,
               tip=tr("when it was first read (Tmax)"), sum=CURVE_SUM),
        Column("area", area, lambda row: figures.UNKNOWN if row.figures.area is None else figures.fixed(row.figures.area, 1), 104,
               right=True, tip=tr("straight trapezoids in hours between true reading times (AUC); — where a gap is too wide"),
               sum=CURVE_SUM),
        Column("below", tr("below {level}", level=level), _below, 84, right=True,
               tip=tr("first fall below the level, on log time; two times where the readings are wide apart"),
               sum="time-below-a-level"),
        Column("last", tr("last noticed"), _last, 84, right=True,
               tip=tr("the last reading above 0; > where it was still noticed"), sum=CURVE_SUM),
        Column("duration", tr("duration"), _duration, 74, right=True,
               tip=tr("from the first to the last reading that noticed it"), sum=CURVE_SUM),
    )  # fmt: skip


class FiguresModel(TableModel[FigureRow]):
    """Read only. A difference that does not count, and an age that does not match, are quiet and say why."""

    def __init__(self, dues: Sequence[float], level: str, parent: QObject | None = None) -> None:
        super().__init__(columns(dues, level), parent)

    def identity(self, row: FigureRow) -> int:
        """The strip."""
        return row.card.key

    def tone(self, row: FigureRow, column: Column[FigureRow]) -> str:
        """Quiet what may be chance or is of another age."""
        if column.key == "ages":
            return "amber" if row.other_age else "quiet"
        if column.key.startswith("at ") and row.differences is not None and not row.is_reference:
            return "ink" if row.counts(float(column.key[3:])) else "quiet"
        return "quiet" if column.key in ("source", "subject") else "ink"

    def tip(self, row: FigureRow, column: Column[FigureRow]) -> str:
        """Why a cell is quiet or amber, and what was read where a difference is shown."""
        if column.key == "ages" and row.other_age:
            return tr("Not within 2 days or 20 % of the reference's age: a difference may be one of age.")
        if not column.key.startswith("at ") or row.differences is None or row.is_reference:
            return ""
        due = float(column.key[3:])
        if due not in row.differences:
            return ""
        read = figures.parts(row.at[due])
        if row.counts(due) or row.noise is None:
            return tr("read {intensity}", intensity=read)
        limit = figures.fixed(row.noise.limit, 2)
        return tr("read {intensity}; a difference up to {limit} may be chance", intensity=read, limit=limit)


def ordered(rows: Sequence[FigureRow], by: str, due_s: float | None) -> list[FigureRow]:
    """The rows by a figure, the most first, what is not known last; or as they are."""

    def figure(row: FigureRow) -> float | None:
        if due_s is not None:
            return row.at.get(due_s)
        found = row.figures
        return {PEAK: found.curve.peak, AREA: found.area, LAST: found.curve.last_noticed_h}.get(by)

    if by == NEWEST and due_s is None:
        return list(rows)
    return sorted(rows, key=lambda row: (figure(row) is None, -(figure(row) or 0.0)))
