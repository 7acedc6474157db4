# SPDX-License-Identifier: MIT
"""The benchmark strip as a check weight: curves relative to it, and how today's nose stands to its usual.

Intensities are steps of a scale, so both are differences; a ratio of steps would mean nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, stdev

from perfumery.smelling import GAP_RATIO, HOUR, Series, answered, in_time_s, lateness_s
from perfumery.values import Reading, Strip

FEWEST_SITTINGS = 5


@dataclass(frozen=True, slots=True)
class Nose:
    """How the benchmark strip was read today against earlier sittings, at the due points `dues_s` that all of them answer.

    `difference` today's mean less their mean, in steps of intensity; `spread` the standard deviation of their means;
    `deviation` the difference in units of that spread, None where the earlier ones do not differ at all; `sittings` how many.
    """

    difference: float
    spread: float
    deviation: float | None
    dues_s: tuple[float, ...]
    sittings: int


def relative(series: Series, benchmark_series: Series) -> tuple[tuple[float, float | None], ...]:
    """((elapsed hours, intensity less the benchmark's at the same elapsed time), …) for every reading of the curve.

    The benchmark is interpolated on log time between its readings. Not known (None) before its first and after its last one, and
    in a gap between two whose elapsed times are further apart than GAP_RATIO.
    """
    found: list[tuple[float, float | None]] = []
    for elapsed_h, intensity in series:
        beside = on_log_time(benchmark_series, elapsed_h)
        found.append((elapsed_h, None if beside is None else intensity - beside))
    return tuple(found)


def on_log_time(series: Series, elapsed_h: float) -> float | None:
    """The curve at an elapsed time, straight on log time between two readings; None where it is not known."""
    for each_h, intensity in series:
        if each_h == elapsed_h:
            return intensity
    for (t0, y0), (t1, y1) in pairwise(series):
        if t0 < elapsed_h < t1:
            start, at, end = (max(t, 1 / HOUR) for t in (t0, elapsed_h, t1))
            if end / start > GAP_RATIO:
                return None
            return y0 + (y1 - y0) * math.log(at / start) / math.log(end / start)
    return None


def due_intensities(readings: Iterable[Reading], strip: Strip) -> dict[float, float]:
    """{due point in seconds: intensity} of the readings that answer one in time, neither early nor late beyond a tenth (at least
    a minute): only such are comparable between sittings."""
    return {
        due: reading.intensity
        for due, reading in answered(readings, strip).items()
        if reading.intensity is not None and abs(lateness_s(strip, reading.at, due)) <= in_time_s(due)
    }


def todays_nose(today: Mapping[float, float], earlier: Sequence[Mapping[float, float]]) -> Nose | None:
    """The benchmark strip of today beside those of earlier sittings, each {due point: intensity} as `due_intensities` gives.

    None below five earlier sittings that answer the same due points. Where too few answer all points of today, the point that
    fewest answer is left out, the latest of several, until five do.
    """
    dues = sorted(today)
    while dues:
        alike = [sitting for sitting in earlier if all(due in sitting for due in dues)]
        if len(alike) >= FEWEST_SITTINGS:
            return _nose(today, alike, tuple(dues))
        dues.remove(min(reversed(dues), key=lambda due: sum(due in sitting for sitting in earlier)))
    return None


def _nose(today: Mapping[float, float], earlier: Sequence[Mapping[float, float]], dues: tuple[float, ...]) -> Nose:
    means = [fmean(sitting[due] for due in dues) for sitting in earlier]
    spread = stdev(means)
    difference = fmean(today[due] for due in dues) - fmean(means)
    return Nose(difference, spread, difference / spread if spread > 0 else None, dues, len(earlier))
