# SPDX-License-Identifier: MIT
"""The scales a strip is read on: what was typed into a field as a figure, the anchor words, a reading as text again."""

from __future__ import annotations

from dataclasses import dataclass

from desktop import figures
from desktop.language import tr
from desktop.models.moments import Unreadable, moment_text
from desktop.models.vocabulary import with_weight
from perfumery import Reading, parse_number
from perfumery.smelling import INTENSITY_ANCHORS
from perfumery.values import INTENSITY_MAX, LIKING_MAX

# {published word for a whole intensity: as it is shown}
_ANCHORS = {
    "not perceptible": tr("not perceptible"), "very weak": tr("very weak"), "weak": tr("weak"), "distinct": tr("distinct"),
    "strong": tr("strong"), "very strong": tr("very strong"), "extremely strong": tr("extremely strong"),
}  # fmt: skip

@dataclass(frozen=True, slots=True)
class Draft:
    """What stands in the fields of a reading, as typed."""

    intensity: str = ""
    distance: str = ""
    liking: str = ""
    words: str = ""
    note: str = ""
    read_at: str = ""


def draft_of(reading: Reading) -> Draft:
    """A reading as it would be typed."""

    def plain(value: float | None) -> str:
        return "" if value is None else figures.parts(value)

    weighted = sorted(reading.words.items(), key=lambda item: -item[1])
    return Draft(
        intensity=plain(reading.intensity),
        distance=plain(reading.distance_cm),
        liking="" if reading.liking is None else figures.signed(reading.liking),
        words=", ".join(with_weight(word, weight) for word, weight in weighted),
        note=reading.note,
        read_at=moment_text(reading.at),
    )


def anchor(intensity: float) -> str:
    """The published word for an intensity; a half step lies between two."""
    low = int(intensity)
    if intensity == low:
        return _ANCHORS[INTENSITY_ANCHORS[low]]
    return f"{_ANCHORS[INTENSITY_ANCHORS[low]]} – {_ANCHORS[INTENSITY_ANCHORS[low + 1]]}"


def read_intensity(text: str) -> float | None:
    """0 to 6 in half steps, comma or point; None where nothing is typed. Raises Unreadable or Refused."""
    if not text.strip():
        return None
    value = parse_number(text)
    if not 0 <= value <= INTENSITY_MAX or value * 2 % 1:
        raise Unreadable(tr("Off the scale: 0 to 6, half steps."))
    return value


def read_distance(text: str) -> float | None:
    """A distance in cm; None where nothing is typed. Raises Unreadable or Refused."""
    if not text.strip():
        return None
    value = parse_number(text.casefold().removesuffix("cm"))
    if value < 0:
        raise Unreadable(tr("A distance is 0 or more."))
    return value


def read_liking(text: str) -> int | None:
    """A liking −4 to +4 in whole steps; None where nothing is typed. Raises Unreadable or Refused."""
    if not text.strip():
        return None
    value = parse_number(text)
    if value % 1 or abs(value) > LIKING_MAX:
        raise Unreadable(tr("Off the scale: −4 to +4."))
    return int(value)
