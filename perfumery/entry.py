# SPDX-License-Identifier: MIT
"""One line typed into one cell: 'amb 10 20' is a material sought by 'amb', at 10 %, 20 parts."""

from __future__ import annotations

import re
from dataclasses import dataclass

from perfumery.findings import refuse
from perfumery.numbers import parse_number, parse_strength
from perfumery.values import Material

_FIGURE = re.compile(r"[\d.,]+%?")


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed, taken apart: the sought name, the strength 0..1 or None, the parts or None."""

    name: str
    strength: float | None = None
    parts: float | None = None


def parse_entry(text: str) -> Entry:
    """Takes a typed line apart. The last bare figure is parts, one before it or one with % is the strength; 'neat' too.

    'amb' → name only; 'amb 20' → 20 parts; 'amb 10 20' and 'amb 10 % 20' → 10 %, 20 parts; 'amb 10 %' → 10 %. The first word
    is always name, so that '2,6-nonadienal' and '10-undecenal' can be typed. Raises Refused for figures that cannot be.
    """
    words = re.sub(r"\s+%", "%", text.strip()).split()
    figures: list[str] = []
    while len(words) > 1 and len(figures) < 2 and _is_figure(words[-1]):
        figures.insert(0, words.pop())
    name = " ".join(words)
    percents = [f for f in figures if f.endswith("%") or f.casefold() == "neat"]
    bare = [f for f in figures if f not in percents]
    if len(percents) > 1:
        raise refuse("number-unreadable", text=" ".join(figures))
    if len(figures) == 2 and not percents:
        return Entry(name, parse_strength(bare[0]), parse_number(bare[1]))
    return Entry(name, parse_strength(percents[0]) if percents else None, parse_number(bare[-1]) if bare else None)


def _is_figure(word: str) -> bool:
    return word.casefold() == "neat" or _FIGURE.fullmatch(word) is not None


def default_strength(material: Material, last_used: float | None) -> float | None:
    """The strength offered for a material: the last one used in this project, else neat.

    A solid never defaults to neat: None asks for a strength.
    """
    if last_used is not None:
        return last_used
    return None if material.is_solid else 1.0
