# SPDX-License-Identifier: MIT
"""One's own noise: how far two readings of the same thing lie apart, and from when on a difference counts.

The spread of a single reading from N repeat differences d is s = √(Σd² / 2N), the usual standard deviation from duplicates; a
difference of two single readings has √2 s and counts above 1.96 times that, which chance alone passes 1 time in 20.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations

from perfumery.smelling import LATE_SHARE, answered, elapsed_s
from perfumery.values import Reading, Strip

FEWEST_PAIRS = 3
COVERAGE = 1.96
# Ages are shown in whole days, so two days means less than two and a half.
AGE_WITHIN = timedelta(days=2.5)


@dataclass(frozen=True, slots=True)
class Dipped:
    """A strip with its readings and what it was dipped in: the vial the liquid came from, since when it is a concentrate and
    since when in alcohol (None not known, or not at all), its strength there (None neat) and carrier."""

    strip: Strip
    readings: tuple[Reading, ...]
    vial: int
    concentrate_at: datetime | None = None
    alcohol_at: datetime | None = None
    strength: float | None = None
    carrier: int | None = None


@dataclass(frozen=True, slots=True)
class RepeatPair:
    """Two strips of the same vial at matched ages, the earlier one first; at each due point that both answer at nearly the same
    true time, second minus first intensity."""

    first: Strip
    second: Strip
    dues_s: tuple[float, ...]
    differences: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class OwnNoise:
    """`s` the spread of one reading in steps of intensity; `limit` what a difference of two must exceed to count; from so many
    `pairs` of strips with `count` differences."""

    s: float
    limit: float
    pairs: int
    count: int

    def counts(self, difference: float) -> bool:
        """Whether a difference of two single readings is more than one's own noise."""
        return abs(difference) > self.limit


def own_noise(pairs: Iterable[RepeatPair]) -> OwnNoise | None:
    """One's own noise from repeat pairs; not yet known (None) from fewer than three that hold a difference."""
    found = [pair.differences for pair in pairs if pair.differences]
    if len(found) < FEWEST_PAIRS:
        return None
    differences = [difference for pair in found for difference in pair]
    s = math.sqrt(math.fsum(d * d for d in differences) / (2 * len(differences)))
    return OwnNoise(s, COVERAGE * math.sqrt(2) * s, len(found), len(differences))


def repeat_pairs(strips: Iterable[Dipped]) -> tuple[RepeatPair, ...]:
    """The repeats among these strips, by the hour of the earlier dip.

    A pair is the same mix from the same vial at the same strength, on paper under two codes, each of its ages within two days.
    Readings are matched by due point where their true times differ by a tenth of the shorter at most. Every strip is in one
    pair only, the nearest in age first, so that no reading is counted twice. Skin is left out: it differs from day to day.
    """
    alike: defaultdict[tuple[object, ...], list[Dipped]] = defaultdict(list)
    for each in strips:
        if each.strip.kind == "paper":
            alike[each.vial, each.concentrate_at, each.alcohol_at is None, each.strength, each.carrier].append(each)
    found = [pair for group in alike.values() for pair in _of_group(group)]
    return tuple(sorted(found, key=lambda pair: pair.first.dipped_at))


def _of_group(group: Sequence[Dipped]) -> list[RepeatPair]:
    by_dip = sorted(group, key=lambda each: (each.strip.dipped_at, each.strip.code))
    near = [
        (max(_age_gaps(first, second)), place, other)
        for (place, first), (other, second) in combinations(enumerate(by_dip), 2)
        if max(_age_gaps(first, second)) < AGE_WITHIN and _are_coded_apart(first.strip, second.strip)
    ]
    pairs: list[RepeatPair] = []
    used: set[int] = set()
    for _, place, other in sorted(near):
        if not {place, other} & used:
            pair = matched(by_dip[place], by_dip[other])
            if pair.differences:
                pairs.append(pair)
                used |= {place, other}
    return pairs


def _age_gaps(first: Dipped, second: Dipped) -> tuple[timedelta, timedelta]:
    """How far the ages of one mix lie apart, (as concentrate, in alcohol)."""
    between = second.strip.dipped_at - first.strip.dipped_at
    if first.alcohol_at is None or second.alcohol_at is None:
        return between, between
    return between, abs(between - (second.alcohol_at - first.alcohol_at))


def _are_coded_apart(first: Strip, second: Strip) -> bool:
    return first.code != second.code and (first.blind_code != second.blind_code or not first.blind_code)


def matched(first: Dipped, second: Dipped) -> RepeatPair:
    """Two strips beside each other, whatever they are of: their readings that answer one due point at nearly the same true
    time."""
    one, two = answered(first.readings, first.strip), answered(second.readings, second.strip)
    pairs: list[tuple[float, float]] = []
    for due in sorted(one.keys() & two.keys()):
        before, after = one[due].intensity, two[due].intensity
        if before is None or after is None:
            continue
        times = sorted((elapsed_s(first.strip, one[due].at), elapsed_s(second.strip, two[due].at)))
        if times[1] - times[0] <= LATE_SHARE * times[0]:
            pairs.append((due, after - before))
    return RepeatPair(first.strip, second.strip, tuple(d for d, _ in pairs), tuple(d for _, d in pairs))
