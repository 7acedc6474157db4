# SPDX-License-Identifier: MIT
"""A curve as the chart takes it, and what can be said of curves without drawing: words, numbers, places of labels."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from desktop import figures
from desktop.language import tr, tr_count
from perfumery import curve_figures

# (elapsed hours, label, order in which ticks are given room: the lower the sooner)
TICKS: tuple[tuple[float, str, int], ...] = (
    (2 / 60, "2 min", 0), (0.25, "15", 4), (0.5, "30", 9), (1, "1 h", 1), (2, "2", 8), (4, "4", 6), (8, "8 h", 2),
    (24, "1 d", 3), (48, "2 d", 7), (72, "3 d", 10), (168, "7 d", 5), (336, "14 d", 11), (672, "28 d", 12),
    (2160, "90 d", 13),
)  # fmt: skip
EARLIEST_H = 1 / 120
HIGHEST = 6.0


@dataclass(frozen=True, slots=True)
class Curve:
    """One strip as a line.

    `series` is ((elapsed hours, intensity), …) by time, `words` the smell words of each of its points, heaviest first,
    `liking` ((elapsed hours, liking), …). `place` picks colour and marker; it stays the strip's own while on screen.
    """

    key: int
    label: str
    series: tuple[tuple[float, float], ...]
    words: tuple[tuple[str, ...], ...] = ()
    dashed: bool = False
    liking: tuple[tuple[float, float], ...] = ()
    short: str = ""
    place: int = 0

    def words_at(self, point: int) -> tuple[str, ...]:
        """The words of one point; none where none were written."""
        return self.words[point] if point < len(self.words) else ()


# the time axis --------------------------------------------------------------------------------------------------------


def time_range(curves: Iterable[Curve]) -> tuple[float, float]:
    """(first, last) elapsed hours of the axis: whole ticks around every reading, never less than 2 min to 8 h."""
    times = [max(t, EARLIEST_H) for curve in curves for line in (curve.series, curve.liking) for t, _ in line]
    low = min((*times, TICKS[0][0]))
    latest = max((*times, 8.0))
    # a reading a little behind its time must not stretch the axis by a whole tick
    high = next((t for t, _, _ in TICKS if t >= latest / 1.1), latest)
    return low, max(high, latest)


def ticks_between(
    low: float, high: float, at: Callable[[float], float], width_of: Callable[[str], float]
) -> list[tuple[float, str]]:
    """The ticks (hours, label) that fit side by side; `at` gives a tick's x, `width_of` a label's width, both px."""
    room: list[tuple[float, float]] = []
    kept: list[tuple[float, str]] = []
    inside = [tick for tick in TICKS if low * 0.999 <= tick[0] <= high * 1.001]
    for hours, label, _ in sorted(inside, key=lambda tick: tick[2]):
        half = width_of(label) / 2 + 5
        left, right = at(hours) - half, at(hours) + half
        if all(right <= taken_left or left >= taken_right for taken_left, taken_right in room):
            room.append((left, right))
            kept.append((hours, label))
    return sorted(kept)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as possible to the wanted ones, at least `gap` apart and inside low..high where there is room."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    groups: list[tuple[list[int], float]] = []  # members in order, and where the first of them stands
    for i in order:
        members, start = [i], wanted[i]
        while True:
            start = max(low, min(start, high - gap * (len(members) - 1)))
            if not groups or groups[-1][1] + gap * len(groups[-1][0]) <= start:
                break
            members = groups.pop()[0] + members
            start = math.fsum(wanted[m] - place * gap for place, m in enumerate(members)) / len(members)
        groups.append((members, start))
    found = [0.0] * len(wanted)
    for members, start in groups:
        for place, member in enumerate(members):
            found[member] = start + place * gap
    return found


def nearest(
    points: Iterable[tuple[int, int, float, float]], x: float, y: float, within: float
) -> tuple[int, int] | None:
    """(curve, point) of the drawn point nearest to x, y, all in px; None where none is within reach."""
    best, found = within * within, None
    for curve, point, px, py in points:
        away = (px - x) ** 2 + (py - y) ** 2
        if away < best:
            best, found = away, (curve, point)
    return found


def riding(curve: Curve) -> list[tuple[int, str]]:
    """(point, word) pairs to write on a curve: at each point its heaviest word that is not written yet."""
    shown: list[tuple[int, str]] = []
    last = ""
    for point in range(len(curve.series)):
        words = curve.words_at(point)
        if words and words[0] != last:
            last = words[0]
            shown.append((point, last))
    return shown


# in words and numbers -------------------------------------------------------------------------------------------------


def describe(curves: Sequence[Curve], most: int = 8) -> str:
    """The chart in words, for who cannot see it: '2 curves. P06 SR-4: 5 at 2 min, 3 at 8 h, last 1.5 at 2 d. …'"""
    if not curves:
        return tr("No curves.")
    said = [tr_count(len(curves), "{n} curve.", "{n} curves.")]
    for curve in curves[:most]:
        said.append(f"{curve.label}: {_in_words(curve)}.")
    if len(curves) > most:
        said.append(tr("And {number} more.", number=len(curves) - most))
    return " ".join(said)


def _in_words(curve: Curve) -> str:
    if not curve.series:
        return tr("no reading with an intensity yet")
    if any(math.isnan(y) for _, y in curve.series):
        curve = replace(curve, series=tuple((t, y) for t, y in curve.series if not math.isnan(y)))
    peak = curve_figures(curve.series)
    points = [(peak.peak_h, peak.peak)]
    at_8_h = [(t, y) for t, y in curve.series if 7 <= t <= 9]
    points += [p for p in (*at_8_h[:1], curve.series[-1]) if p != points[-1]]
    told = [tr("{intensity} at {time}", intensity=figures.parts(y), time=figures.elapsed(t)) for t, y in dict.fromkeys(points)]
    return ", ".join([*told, tr("on skin")] if curve.dashed else told)


def details(curve: Curve, point: int) -> tuple[str, ...]:
    """The lines shown for one reading: whose and when, how strong, its words."""
    hours, intensity = curve.series[point]
    told = [tr("intensity {intensity}", intensity=figures.parts(intensity))]
    liking = dict(curve.liking).get(hours)
    if liking is not None:
        told.append(tr("liking {liking}", liking=figures.signed(liking)))
    lines = [f"{curve.label} · {figures.elapsed(hours)}", " · ".join(told)]
    if curve.words_at(point):
        lines.append(", ".join(curve.words_at(point)))
    return tuple(lines)


def numbers(curves: Iterable[Curve], mark: str = ",", point: str = ".") -> str:
    """Every point of the curves as rows of text, fields kept apart by `mark` and decimals written with `point`, with a head."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark, lineterminator="\n")
    writer.writerow(("strip", "elapsed h", "intensity", "liking", "words"))
    for curve in curves:
        liking = dict(curve.liking)
        shown = {t: (y, curve.words_at(i)) for i, (t, y) in enumerate(curve.series)}
        for t in sorted({*shown, *liking}):
            intensity, words = shown.get(t, (None, ()))
            writer.writerow((curve.label, *(_plain(value, point) for value in (t, intensity, liking.get(t))), "; ".join(words)))
    return out.getvalue()


def _plain(value: float | None, point: str) -> str:
    return "" if value is None or math.isnan(value) else f"{value:.6g}".replace(".", point)
