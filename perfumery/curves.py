# SPDX-License-Identifier: MIT
"""All figures of one strip's curve at once, each known or said not to be.

Terms follow ASTM E1909, time-intensity evaluation: peak and its time, area under the curve, duration. Levels and the span of the
area are those under which curves of this house are compared, our own choice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from perfumery.smelling import HOUR, MINUTE, Crossing, CurveFigures, Series, area, crossing, curve_figures

AREA_FROM_H, AREA_TO_H = 2 * MINUTE / HOUR, 8.0
LEVELS = (2.5, 1.0)


@dataclass(frozen=True, slots=True)
class Below:
    """When a curve fell below a level. Where no reading shows it (`fall` None), `not_by_h` is the last reading, still at or above
    the level; None as well where every reading was below, or there is none."""

    level: float
    fall: Crossing | None
    not_by_h: float | None


@dataclass(frozen=True, slots=True)
class StripFigures:
    """The figures of one curve, times in hours after the dip; `area` in intensity × hours, None not known."""

    curve: CurveFigures
    area: float | None
    area_from_h: float
    area_to_h: float
    below: tuple[Below, ...]


def strip_figures(
    series: Series, *, from_h: float = AREA_FROM_H, to_h: float = AREA_TO_H, levels: Iterable[float] = LEVELS
) -> StripFigures:
    """Peak, area between two elapsed times, times below the levels, first and last noticed of a curve of true times."""
    below = tuple(below_level(series, level) for level in levels)
    return StripFigures(curve_figures(series), area(series, from_h, to_h), from_h, to_h, below)


def below_level(series: Series, level: float) -> Below:
    """The first fall below a level, or how long it is known not to have fallen."""
    fall = crossing(series, level)
    above_last = fall is None and bool(series) and series[-1][1] >= level
    return Below(level, fall, series[-1][0] if above_last else None)
