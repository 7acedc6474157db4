# SPDX-License-Identifier: MIT
"""Strips over time: due points, lateness, curves and the figures taken from them.

Terms of the curve figures (peak, time of peak, area under the curve, last noticed) follow ASTM E1909, time-intensity
evaluation. Curves and figures use the true times of the readings, never the due times.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise, takewhile
from typing import TypeAlias

from perfumery.instants import hours
from perfumery.values import Reading, Strip

Series: TypeAlias = tuple[tuple[float, float], ...]

MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
# Our own choice, no standard fixes reading times; a project may have its own.
READING_TIMES: tuple[float, ...] = (
    2 * MINUTE, 15 * MINUTE, 30 * MINUTE, HOUR, 2 * HOUR, 4 * HOUR, 8 * HOUR, DAY, 2 * DAY, 3 * DAY, 7 * DAY,
)  # fmt: skip
SHORT_TIMES: tuple[float, ...] = (2 * MINUTE, 15 * MINUTE, 30 * MINUTE, HOUR, 2 * HOUR, 4 * HOUR, DAY)
# Intensity anchors as published in VDI 3882-1.
INTENSITY_ANCHORS = (
    "not perceptible", "very weak", "weak", "distinct", "strong", "very strong", "extremely strong",
)  # fmt: skip
LATE_SHARE, LATE_LEAST_S = 0.10, MINUTE
# Two neighbouring readings further apart than this ratio of elapsed times leave a gap that no area is drawn across. The
# widest step of the default times is 2 → 15 min; read as late as still counts as on time that is a ratio of 8.25.
GAP_RATIO = 9.0
# Readings this ratio of elapsed times apart or more pin a crossing down so badly that both are named.
WIDE_RATIO = 4.0


@dataclass(frozen=True, slots=True)
class DuePoint:
    """One due point of a strip. `state` is 'answered', 'missed', 'due', 'passed' or 'ahead'; `late` whether its reading came
    late, or, while due, whether it already is. Passed: not missed yet, but a reading now would answer the next one."""

    due_s: float
    state: str
    late: bool
    reading: Reading | None = None


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a curve falls below a level: interpolated at `at_h`, between the readings at `after_h` and `before_h`, hours."""

    at_h: float
    after_h: float
    before_h: float

    @property
    def is_wide(self) -> bool:
        """Whether the two readings lie so far apart that both should be named beside the time."""
        return self.before_h >= WIDE_RATIO * self.after_h


@dataclass(frozen=True, slots=True)
class CurveFigures:
    """Summary of one curve. None means not known. `still_noticed`: the last reading was above zero, so last_noticed_h is a
    lower bound.

    `peak_until_h`: the last reading at the peak, as far as they follow each other. `first_noticed_h`: the first reading above
    zero. `gone_by_h`: the reading at zero that follows the last noticed one.
    """

    peak: float | None
    peak_h: float | None
    last_noticed_h: float | None
    still_noticed: bool
    peak_until_h: float | None = None
    first_noticed_h: float | None = None
    gone_by_h: float | None = None

    @property
    def duration_h(self) -> float | None:
        """Hours from the first to the last reading that noticed it; a lower bound, also of what was noticed in between."""
        if self.first_noticed_h is None or self.last_noticed_h is None:
            return None
        return self.last_noticed_h - self.first_noticed_h


# schedule -------------------------------------------------------------------------------------------------------------


def due_times(strip: Strip) -> tuple[float, ...]:
    """The strip's due points in seconds after the dip, ascending."""
    return tuple(sorted(strip.reading_times)) or READING_TIMES


def elapsed_s(strip: Strip, at: datetime) -> float:
    """Seconds from the dip to an instant."""
    return (at - strip.dipped_at) / timedelta(seconds=1)


def answers(strip: Strip, at: datetime) -> float:
    """The due point, in seconds, that a reading at this instant answers: the nearest on log time."""
    elapsed = max(elapsed_s(strip, at), 1.0)
    return min(due_times(strip), key=lambda due: abs(math.log(elapsed / due)))


def lateness_s(strip: Strip, at: datetime, due_s: float) -> float:
    """Seconds by which a reading at this instant comes after its due point; negative when early."""
    return elapsed_s(strip, at) - due_s


def is_late(due_s: float, elapsed: float) -> bool:
    """Late is beyond 10 % of the due time, at least one minute; both in seconds after the dip."""
    return elapsed - due_s > in_time_s(due_s)


def in_time_s(due_s: float) -> float:
    """How many seconds off its due point a reading may be and still be in time."""
    return max(LATE_SHARE * due_s, LATE_LEAST_S)


def due_points(strip: Strip, readings: Iterable[Reading], now: datetime) -> tuple[DuePoint, ...]:
    """Every due point of the strip and how it stands now. A point is missed once the next one is answered or due. What was
    written on paper may still answer one that is passed; a reading now does not, so it is not asked for."""
    by_due = answered(readings, strip)
    times, since, now_answers = due_times(strip), elapsed_s(strip, now), answers(strip, now)
    last_answered = max(by_due, default=-1.0)
    points: list[DuePoint] = []
    for place, due in enumerate(times):
        reading_here = by_due.get(due)
        following = times[place + 1] if place + 1 < len(times) else math.inf
        if reading_here is not None:
            points.append(DuePoint(due, "answered", is_late(due, elapsed_s(strip, reading_here.at)), reading_here))
        elif last_answered > due or following <= since:
            points.append(DuePoint(due, "missed", late=False))
        elif due <= since and now_answers > due:
            points.append(DuePoint(due, "passed", late=False))
        elif due <= since:
            points.append(DuePoint(due, "due", is_late(due, since)))
        else:
            points.append(DuePoint(due, "ahead", late=False))
    return tuple(points)


def answered(readings: Iterable[Reading], strip: Strip) -> dict[float, Reading]:
    """{due point: the reading that answers it}; of several, the one nearest to it on log time, then the earliest."""
    found: dict[float, Reading] = {}
    away: dict[float, float] = {}
    for reading in in_force(readings, strip):
        due = reading.due_s if reading.due_s is not None else answers(strip, reading.at)
        distance = abs(math.log(max(elapsed_s(strip, reading.at), 1.0) / max(due, 1.0)))
        if due not in found or distance < away[due]:
            found[due], away[due] = reading, distance
    return found


def next_due(strip: Strip, readings: Iterable[Reading], now: datetime) -> DuePoint | None:
    """The due point to read now or, where none is due, the next one ahead; None for a closed or finished strip."""
    if strip.closed_at is not None:
        return None
    return next((p for p in due_points(strip, readings, now) if p.state in ("due", "ahead")), None)


# curves ---------------------------------------------------------------------------------------------------------------


def in_force(readings: Iterable[Reading], strip: Strip) -> tuple[Reading, ...]:
    """The strip's readings that count, by time: neither replaced by a later row nor withdrawn."""
    rows = tuple(readings)
    replaced = {r.replaces for r in rows if r.replaces is not None}
    own = (r for r in rows if r.strip == strip.key and r.key not in replaced and not r.withdrawn)
    return tuple(sorted(own, key=lambda r: r.at))


def series(readings: Iterable[Reading], strip: Strip) -> Series:
    """((elapsed hours, intensity), …) by time, from the readings in force that state an intensity."""
    return tuple((hours(strip.dipped_at, r.at), r.intensity) for r in in_force(readings, strip) if r.intensity is not None)


def area(series: Series, from_h: float, to_h: float) -> float | None:
    """Area under the curve between two elapsed times, intensity × hours, by straight trapezoids between true times.

    Not known (None) where no reading stands within 10 % of either end, or where two neighbouring readings inside leave a
    gap (elapsed times further apart than GAP_RATIO). Beyond the first or last reading the last figure is held.
    """
    if to_h <= from_h or not all(any(abs(t - end) <= LATE_SHARE * end for t, _ in series) for end in (from_h, to_h)):
        return None
    points = _between(series, from_h, to_h)
    pieces: list[float] = []
    for (t0, y0), (t1, y1) in pairwise(points):
        if t0 > 0 and t1 / t0 > GAP_RATIO:
            return None
        pieces.append((t1 - t0) * (y0 + y1) / 2)
    return math.fsum(pieces)


def _between(series: Series, from_h: float, to_h: float) -> Series:
    inside = [(t, y) for t, y in series if from_h < t < to_h]
    return ((from_h, _at(series, from_h)), *inside, (to_h, _at(series, to_h)))


def _at(series: Series, elapsed_h: float) -> float:
    """Straight between the neighbouring readings, held beyond the ends."""
    if elapsed_h <= series[0][0]:
        return series[0][1]
    for (t0, y0), (t1, y1) in pairwise(series):
        if t0 <= elapsed_h <= t1:
            return y0 + (y1 - y0) * (elapsed_h - t0) / (t1 - t0) if t1 > t0 else y1
    return series[-1][1]


def crossing(series: Series, level: float) -> Crossing | None:
    """The first fall from at or above the level to below it, interpolated on log time; None where no reading shows one."""
    for (t0, y0), (t1, y1) in pairwise(series):
        if y0 >= level > y1:
            low, high = math.log(max(t0, 1 / HOUR)), math.log(max(t1, 1 / HOUR))
            return Crossing(math.exp(low + (high - low) * (y0 - level) / (y0 - y1)), t0, t1)
    return None


def time_below(series: Series, level: float) -> float | None:
    """Elapsed hours at which the curve first falls below the level, on log time; None is not known."""
    found = crossing(series, level)
    return None if found is None else found.at_h


def curve_figures(series: Series) -> CurveFigures:
    """Peak, time of peak (the first, where several readings share it), first and last noticed (readings above zero)."""
    if not series:
        return CurveFigures(None, None, None, still_noticed=False)
    peak = max(y for _, y in series)
    first = next(place for place, (_, y) in enumerate(series) if y == peak)
    plateau = list(takewhile(lambda point: point[1] == peak, series[first:]))
    noticed = [place for place, (_, y) in enumerate(series) if y > 0]
    still = series[-1][1] > 0
    return CurveFigures(
        peak=peak,
        peak_h=series[first][0],
        last_noticed_h=series[noticed[-1]][0] if noticed else None,
        still_noticed=still,
        peak_until_h=plateau[-1][0],
        first_noticed_h=series[noticed[0]][0] if noticed else None,
        gone_by_h=series[noticed[-1] + 1][0] if noticed and not still else None,
    )


def at_due(readings: Iterable[Reading], strip: Strip, due_s: float) -> Reading | None:
    """The reading in force that answers a due point; None where there is none."""
    return answered(readings, strip).get(due_s)
