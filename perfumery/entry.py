# SPDX-License-Identifier: MIT
"""What is typed into the cells of a formula: a whole line ('amb 10 20') or a strength ('10 % in DPG')."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from perfumery.findings import refuse
from perfumery.numbers import parse_number, parse_strength
from perfumery.values import Material

_FIGURE = re.compile(r"[+\-\u2212]?[\d.,]+%?")
_DILUTION = re.compile(
    r"(?P<strength>neat|pure|[\d.,]+\s*%?(?:\s*w/w)?)?(?:\s*\bin\b\s*|\s+|(?<=%))(?P<carrier>[^\d\s%].*)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed, taken apart: the sought name, strength 0..1 or None, parts or None, the carrier's name or ''."""

    name: str
    strength: float | None = None
    parts: float | None = None
    carrier: str = ""


def parse_entry(text: str) -> Entry:
    """Takes a typed line apart. The last bare figure is parts, one before it or one with % is the strength; 'neat' too.

    'amb' → name only; 'amb 20' → 20 parts; 'amb 10 20' and 'amb 10 % 20' → 10 %, 20 parts; 'amb 10 %' → 10 %;
    'amb 10 in dpg 20' → 10 % in dpg, 20 parts. The first word is always name, so that '2,6-nonadienal' and
    '10-undecenal' can be typed. Raises Refused for figures that cannot be.
    """
    words = re.sub(r"\s+%", "%", text.strip()).split()
    at = next((i for i in range(2, len(words) - 1) if words[i].casefold() == "in" and _is_figure(words[i - 1])), None)
    if at is not None:
        parts = parse_number(words.pop()) if at < len(words) - 2 and _is_figure(words[-1]) else None
        strength = parse_strength(words[at - 1])
        return Entry(" ".join(words[: at - 1]), strength, parts, " ".join(words[at + 1 :]))
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


def with_in(text: str, is_carrier: Callable[[str], bool]) -> str:
    """A typed line with the 'in' that a hand leaves out: 'amb 10 dpg 8' as 'amb 10 in dpg 8', where `is_carrier` knows what
    stands behind a figure."""
    words = re.sub(r"\s+%", "%", text.strip()).split()
    end = len(words) - 1 if words and _is_figure(words[-1]) else len(words)
    for at in range(2, end):
        if _is_figure(words[at - 1]) and is_carrier(" ".join(words[at:end])):
            return " ".join([*words[:at], "in", *words[at:]])
    return text


def sought_name(text: str) -> str:
    """What of a typed line is its name, where its figures cannot be read: all before the first figure that is not the name."""
    words = text.split()
    return " ".join(words[: next((at for at in range(1, len(words)) if _is_figure(words[at])), len(words))])


def parse_dilution(text: str) -> tuple[float | None, str]:
    """A strength cell as (strength 0..1 or None, the carrier's name or ''): '10 % in DPG', '10 dpg', '10', 'neat'.

    None with a carrier's name ('in DPG') changes the carrier alone. Raises Refused as `parse_strength`.
    """
    bare = " ".join(text.split())
    match = _DILUTION.fullmatch(f"{bare} ")
    if match is None or not bare:
        return parse_strength(bare), ""
    carrier = (match["carrier"] or "").strip()
    if match["strength"] is None:
        return (None, carrier) if bare.casefold().startswith("in ") else (parse_strength(bare), "")
    return parse_strength(match["strength"]), carrier


def _is_figure(word: str) -> bool:
    return word.casefold() == "neat" or _FIGURE.fullmatch(word) is not None


def default_strength(material: Material, last_used: float | None) -> float | None:
    """The strength offered for a material: the last one used in this project, else neat.

    A solid never defaults to neat: None asks for a strength.
    """
    if last_used is not None:
        return last_used
    return None if material.is_solid else 1.0
