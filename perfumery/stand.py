# SPDX-License-Identifier: MIT
"""When to dip the strips of a stand so that their readings do not collide, and which would fall outside bench hours.

All strips of a stand are dipped one gap after another and read at the same times after their dip. Two pieces of work collide
when they begin nearer than one reading takes; a dip is work too. Instants are added up in UTC, so that a change of the clocks
moves no reading; bench hours are what the clock on the wall shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from itertools import combinations, pairwise

from perfumery.base import reading_times_wrong
from perfumery.findings import Refused, refuse
from perfumery.instants import instant

MOST_STRIPS = 8
# A gap longer than this is no stand any more. Our own choice.
LONGEST_GAP_MIN = 60
LONGEST_READING_MIN = 60.0


@dataclass(frozen=True, slots=True)
class Ahead:
    """One reading to come: of which strip of the stand (0 is dipped first), its due point in seconds after the dip, when."""

    strip: int
    due_s: float
    at: datetime
    is_outside: bool


@dataclass(frozen=True, slots=True)
class Stagger:
    """A stand as proposed: whole minutes between two dips, the hour of each dip, and all its readings by time."""

    gap_min: int
    dips: tuple[datetime, ...]
    readings: tuple[Ahead, ...]

    @property
    def outside(self) -> tuple[Ahead, ...]:
        """The readings that would fall outside bench hours."""
        return tuple(reading for reading in self.readings if reading.is_outside)


def stagger(
    count: int, due_offsets: Iterable[float], reading_minutes: float, bench_hours: tuple[time, time],
    *, first_at: datetime, zone: tzinfo,
) -> Stagger:  # fmt: skip
    """The smallest gap in whole minutes for `count` strips (1..8) that are each read at `due_offsets`, seconds after the dip.

    `bench_hours` are (opens, closes) as the wall shows them in `zone`; see `is_open`. Raises Refused `stand-range`,
    `reading-time-range`, `reading-minutes-range`, `reading-times-close` where one strip alone would collide, `stagger-none`
    where no gap up to an hour will do, and `time-naive`.
    """
    dues = tuple(sorted(set(due_offsets)))
    gap = smallest_gap(count, dues, reading_minutes)
    start = instant(first_at).astimezone(UTC)
    dips = tuple(start + place * timedelta(minutes=gap) for place in range(count))
    ahead = (
        Ahead(place, due, at, not is_open(at.astimezone(zone).time(), bench_hours))
        for place, dip in enumerate(dips)
        for due in dues
        for at in (_local(dip + timedelta(seconds=due), zone),)
    )
    readings = tuple(sorted(ahead, key=lambda reading: (reading.at, reading.strip)))
    return Stagger(gap, tuple(_local(dip, zone) for dip in dips), readings)


def hours_of(habits: Mapping[str, float]) -> tuple[time, time]:
    """(opens, closes) of the bench by the perfumer's habits, to the minute; hour 24 is midnight."""
    return _wall(habits["bench opens hour"]), _wall(habits["bench closes hour"])


def is_open(wall: time, bench_hours: tuple[time, time]) -> bool:
    """Whether a clock on the wall stands within bench hours, both ends included.

    Closing at or before opening runs over midnight, as for who works at night; so twice the same hour is all day.
    """
    opens, closes = bench_hours
    return opens <= wall <= closes if opens < closes else wall >= opens or wall <= closes


def smallest_gap(count: int, due_offsets: Sequence[float], reading_minutes: float) -> int:
    """Whole minutes between two dips so that no work of one strip begins within a reading's time of another's.

    0 for a single strip. Raises as `stagger`.
    """
    if not 1 <= count <= MOST_STRIPS:
        raise refuse("stand-range", count=count, most=MOST_STRIPS)
    wrong = reading_times_wrong(tuple(due_offsets))
    if wrong:
        raise Refused(*wrong)
    if not 0 < reading_minutes <= LONGEST_READING_MIN:
        raise refuse("reading-minutes-range", minutes=reading_minutes, most=LONGEST_READING_MIN)
    apart = reading_minutes * 60
    for earlier, later in pairwise(due_offsets):
        if later - earlier < apart:
            raise refuse("reading-times-close", earlier_min=earlier / 60, later_min=later / 60, minutes=reading_minutes)
    if count == 1:
        return 0
    # work of two strips that lie k gaps apart begins |k × gap − step| apart, over all steps from one work of a strip to another
    steps = {0.0, *(later - earlier for earlier, later in combinations((0.0, *due_offsets), 2))}
    for gap in range(1, LONGEST_GAP_MIN + 1):
        if all(abs(places * gap * 60 - step) >= apart for places in range(1, count) for step in steps):
            return gap
    raise refuse("stagger-none", count=count, minutes=reading_minutes, longest=LONGEST_GAP_MIN)


def _wall(hour: float) -> time:
    minutes = round(hour * 60) % (24 * 60)
    return time(minutes // 60, minutes % 60)


def _local(at: datetime, zone: tzinfo) -> datetime:
    """The instant as the wall of that zone shows it, with its offset fixed: later sums with it cannot jump."""
    return instant(at.astimezone(zone))
