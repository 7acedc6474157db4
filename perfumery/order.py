# SPDX-License-Identifier: MIT
"""In which order a trial is weighed, with the reason of every line. Common practice, no source.

Powders first, into a boat; then what is thick and accords, which the rest washes down; then traces, as the dilutions they stand
in; then the bulk, the least volatile first; what flies off last, so that it does not leave while the others are weighed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from perfumery.values import SOLID_WORDS, Bottle, Line, Material

# Pa at 25 °C from which on a material counts as volatile here; linalool has about 20.
VOLATILE_PA = 20.0
TRACE_STRENGTH = 0.05
_THICK = ("viscous", "resinoid", "paste", "absolute", "concrete", "semi-solid")
# "may deposit crystals", "semi-solid": what can become solid or half is one is no powder
_HEDGED = re.compile(r"\b(may|can|semi|deposits?|sometimes)\b")
# Pa taken where nothing is measured: about limonene for peel oils, else the medians of the starting materials by their note,
# and that of all of them where not even a note is known, so that the unknown stands in the middle.
_PEEL = re.compile(r"\bexpressed\b|\bpeel oil\b|\bcitrus\b")
_PEEL_PA, _UNKNOWN_PA = 200.0, 4.0
_NOTE_PA = {"top": 53.0, "heart": 3.0, "middle": 3.0, "base": 0.1}
BOAT, THICK, ACCORD, TRACE, BULK, VOLATILE = "boat", "thick", "accord", "trace", "bulk", "volatile"
_RANK = {BOAT: 0, THICK: 1, ACCORD: 2, TRACE: 3, BULK: 4, VOLATILE: 5}


@dataclass(frozen=True, slots=True)
class Place:
    """A line in the order suggested: its key, and why it stands there (the finding `order-` and this word)."""

    line: int | None
    reason: str


def volatility(material: Material) -> float:
    """Pa at 25 °C by which materials are put in order, no more exact than that: the vapour pressure where the data say it, what
    the boiling point lets expect, else what peel oils have, or materials of that note; the unknown in the middle."""
    pressure = _datum(material, "vapour_pressure")
    if pressure is not None:
        return pressure
    boils = _datum(material, "boiling_point")
    if boils is not None:
        return _expected_pa(boils)
    note = " ".join(datum.text.casefold() for datum in material.properties if datum.kind == "note class")
    if _PEEL.search(f"{note} {material.form} {material.name} {material.botanical}".casefold()):
        return _PEEL_PA
    return next((pascal for word, pascal in _NOTE_PA.items() if word in note), _UNKNOWN_PA)


def reason_of(line: Line, materials: Mapping[int, Material]) -> str:
    """Why a line stands where it stands."""
    if line.accord is not None or line.material is None:
        return ACCORD
    material = materials[line.material]
    if line.strength < 1:
        return TRACE if line.strength <= TRACE_STRENGTH else THICK if _is_thick(material) else BULK
    if _is_powder(material):
        return BOAT
    if _is_thick(material):
        return THICK
    return VOLATILE if volatility(material) >= VOLATILE_PA else BULK


def suggested_order(lines: Iterable[Line], materials: Mapping[int, Material]) -> tuple[Place, ...]:
    """Every line once, in the order suggested; lines of equal rank by volatility, then by their parts, then as written."""

    def rank(line: Line) -> tuple[int, float, float]:
        pascal = 0.0 if line.material is None else volatility(materials[line.material])
        return _RANK[reason_of(line, materials)], pascal, -line.parts

    return tuple(Place(line.key, reason_of(line, materials)) for line in sorted(lines, key=rank))


def tools(lines: Iterable[Line], bottles: Iterable[Bottle | None], materials: Mapping[int, Material]) -> tuple[int, int]:
    """(pipettes, boats) that a weighing needs, from its lines and the bottle of each: one boat a powder, one pipette a bottle
    that a liquid is taken from and that has no dropper of its own. A bottle still to be chosen (None) is not counted."""
    boats, without = 0, set()
    for line, bottle in zip(lines, bottles, strict=True):
        if reason_of(line, materials) == BOAT:
            boats += 1
        elif bottle is not None and bottle.dropper_on is None:
            without.add(bottle.key)
    return len(without), boats


def _datum(material: Material, kind: str) -> float | None:
    """The first figure of a kind, whatever its unit is written as behind it."""
    figures = (d.value for d in material.properties if d.kind.startswith(kind))
    return next((figure for figure in figures if figure is not None and math.isfinite(figure)), None)


def _expected_pa(boils_c: float) -> float:
    """Pa at 25 °C of what boils there: the curve of Mackay and others (1982), written from memory, with the factor 1.1 that fits
    the starting materials; half of them within a factor of two, nine in ten within five."""
    boils, room = min(max(boils_c + 273.15, 150.0), 2000.0), 298.15  # beyond, the curve bends back
    over = boils / room
    return 101325.0 * math.exp(-1.1 * (4.4 + math.log(boils)) * (1.8 * (over - 1) - 0.8 * math.log(over)))


def _is_powder(material: Material) -> bool:
    """Whether the form says so outright. `Material.is_solid` also takes an oil that may deposit crystals, to be careful."""
    said = re.split(r"[;,()]", material.form.casefold())
    return any(word in part for part in said for word in SOLID_WORDS if not _HEDGED.search(part))


def _is_thick(material: Material) -> bool:
    return any(word in material.form.casefold() for word in _THICK)
