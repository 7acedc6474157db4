# SPDX-License-Identifier: MIT
"""Sittings as rows, and the sentences about one: what hangs in it, its benchmark, the ages of its mixes, today's nose, rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from PySide6.QtCore import QObject

from db import Book, SittingRow
from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.strips import StripCard, age_text
from desktop.models.table import TableModel
from perfumery import Bottle, Nose, Pacing, Project

# Two ages count as one when they lie within so much of each other.
AGE_WITHIN, AGE_SHARE = timedelta(days=2), 0.2


@dataclass(frozen=True, slots=True)
class SittingLine:
    """One sitting of the list; `today` is what its day is told against."""

    row: SittingRow
    today: datetime

    @property
    def marks(self) -> str:
        """What most has to be known: 'sealed', 'no benchmark', 'revealed', 'blind'."""
        sitting = self.row.sitting
        if sitting.is_sealed:
            return tr("sealed")
        if self.row.strips and not self.row.has_benchmark:
            return tr("no benchmark")
        if sitting.revealed_at is not None:
            return tr("revealed")
        return tr("blind") if sitting.blind else ""


COLUMNS: tuple[Column[SittingLine], ...] = (
    Column("code", tr("sitting"), lambda line: line.row.sitting.code, 46),
    Column("at", tr("began"), lambda line: figures.moment(line.row.sitting.at, line.today), 126),
    Column("strips", tr("strips"), lambda line: str(line.row.strips), 40, right=True),
    Column("purpose", tr("purpose"), lambda line: line.row.sitting.purpose, 70),
    Column("marks", "", lambda line: line.marks, 106, tip=tr("sealed, revealed, or without the benchmark")),
)


class SittingsModel(TableModel[SittingLine]):
    """Read only, the newest first."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: SittingLine) -> int | None:
        """The sitting."""
        return row.row.sitting.key

    def tone(self, row: SittingLine, column: Column[SittingLine]) -> str:
        """What is sealed stands out; the rest of a row is quiet beside its code."""
        if column.key == "marks" and row.row.sitting.is_sealed:
            return "amber"
        return "ink" if column.key == "code" else "quiet"

    def tip(self, row: SittingLine, column: Column[SittingLine]) -> str:
        """What a narrow column cuts off."""
        return row.row.sitting.purpose if column.key == "purpose" else row.marks if column.key == "marks" else ""


def _due_at(one: tuple[StripCard, datetime]) -> str:
    due = one[0].due
    return "" if due is None else figures.due_text(due.due_s)


DUE_COLUMNS: tuple[Column[tuple[StripCard, datetime]], ...] = (
    Column("code", tr("strip"), lambda one: one[0].code, 56),
    Column("subject", tr("of"), lambda one: one[0].subject, 80),
    Column("at", tr("reading"), _due_at, 70, tip=tr("the time after the dip that is read next")),
    Column("state", tr("due"), lambda one: one[0].when_text(one[1]), 150),
)


class DueModel(TableModel[tuple[StripCard, datetime]]):
    """The next reading of every strip that runs, in whatever project, soonest first. Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(DUE_COLUMNS, parent)

    def identity(self, row: tuple[StripCard, datetime]) -> int:
        """The strip."""
        return row[0].key

    def tone(self, row: tuple[StripCard, datetime], column: Column[tuple[StripCard, datetime]]) -> str:
        """Late and due readings stand out."""
        return "amber" if row[0].state in ("late", "due") and column.key == "state" else "ink"


def benchmark_of(book: Book, project: Project | None) -> Bottle | None:
    """The bottle that a project's strips are measured by, where it still stands."""
    found = None if project is None or project.benchmark is None else book.get(Bottle, project.benchmark)
    return found if found is not None and found.gone_on is None else None


def lacks_benchmark(row: SittingRow) -> bool:
    """Whether something can still be done about a missing benchmark."""
    return bool(row.strips) and not row.has_benchmark and row.sitting.clock_at is None and row.sitting.revealed_at is None


def ages_told(cards: Sequence[StripCard]) -> str:
    """'The mixes differed in age when dipped: P07 21 d, P04 6 d as concentrate.' where not matched; '' where they are."""
    concentrate: list[tuple[str, timedelta]] = []
    alcohol: list[tuple[str, timedelta]] = []
    for card in cards:
        if card.blind or card.strip.kind != "paper":
            continue
        origin = card.origin
        for since, ages in ((origin.concentrate_at, concentrate), (origin.alcohol_at, alcohol)):
            if since is not None and since <= card.strip.dipped_at:
                ages.append((card.code, card.strip.dipped_at - since))
    for ages, where in ((concentrate, tr("as concentrate")), (alcohol, tr("in alcohol"))):
        if len(ages) < 2:
            continue
        (oldest, most), (youngest, least) = max(ages, key=lambda one: one[1]), min(ages, key=lambda one: one[1])
        if not are_matched(most, least):
            told = f"{oldest} {age_text(most)}, {youngest} {age_text(least)} {where}"
            return tr("The mixes differed in age when dipped: {ages}. Compare strips of like age before you decide.", ages=told)
    return ""


def are_matched(one: timedelta, other: timedelta) -> bool:
    """Whether two ages are within 2 days or 20 % of each other."""
    apart = abs(one - other)
    return apart <= AGE_WITHIN or apart <= AGE_SHARE * max(one, other)


def nose_told(nose: Nose | None) -> str:
    """How today's nose stands to its usual, in a sentence; '' while that is not known."""
    if nose is None:
        return ""
    sittings = tr_count(nose.sittings, "{n} earlier sitting", "{n} earlier sittings")
    off = figures.signed(round(nose.difference, 2))
    if nose.deviation is not None and abs(nose.deviation) < 2:
        return tr("Today's nose is as usual: the benchmark read {off} steps against {sittings}.", off=off, sittings=sittings)
    told = tr("the benchmark read {off} steps against {sittings}", off=off, sittings=sittings)
    if nose.deviation is not None:
        times = figures.fixed(abs(nose.deviation), 1)
        told = tr("{difference}, {times} times its usual spread", difference=told, times=times)
    if nose.difference < 0:
        return tr("Today's nose is duller than usual: {difference}.", difference=told)
    return tr("Today's nose is keener than usual: {difference}.", difference=told)


def pacing_told(rest: Pacing) -> str:
    """What the nose has had, and how long it should rest; '' where nothing needs saying."""
    if not rest.rest_s > 0:
        return ""
    time = figures.span(rest.rest_s)
    return tr_count(
        rest.last_hour, "{n} smell in the last hour: rest {time}.", "{n} smells in the last hour: rest {time}.", time=time
    )
