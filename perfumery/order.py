# SPDX-License-Identifier: MIT
"""In which order a trial is weighed, with the reason of every line. Common practice, no source.

Powders first, into a boat; then what is thick and accords, which the rest washes down; then traces, as the dilutions they stand
in; then the bulk, the least volatile first; what flies off last, so that it does not leave while the others are weighed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from perfumery.values import Bottle, Line, Material

# Pa at 25 °C from which on a material counts as volatile here; linalool has about 20.
VOLATILE_PA = 20.0
TRACE_STRENGTH = 0.05
_THICK = ("viscous", "resinoid", "paste", "absolute", "concrete")
BOAT, THICK, ACCORD, TRACE, BULK, VOLATILE = "boat", "thick", "accord", "trace", "bulk", "volatile"
_RANK = {BOAT: 0, THICK: 1, ACCORD: 2, TRACE: 3, BULK: 4, VOLATILE: 5}


@dataclass(frozen=True, slots=True)
class Place:
    """A line in the order suggested: its key, and why it stands there (the finding `order-` and this word)."""

    line: int | None
    reason: str


def vapour_pressure(material: Material) -> float | None:
    """Pa at 25 °C, where the material's data say it."""
    return next((datum.value for datum in material.properties if datum.kind.startswith("vapour_pressure")), None)


def reason_of(line: Line, materials: Mapping[int, Material]) -> str:
    """Why a line stands where it stands."""
    if line.accord is not None or line.material is None:
        return ACCORD
    material = materials[line.material]
    if line.strength < 1:
        return TRACE if line.strength <= TRACE_STRENGTH else THICK if _is_thick(material) else BULK
    if material.is_solid:
        return BOAT
    if _is_thick(material):
        return THICK
    note = next((datum.text for datum in material.properties if datum.kind == "note class"), "")
    pressure = vapour_pressure(material)
    flies = pressure is not None and pressure >= VOLATILE_PA
    return VOLATILE if flies or "top" in note or "citrus" in note else BULK


def suggested_order(lines: Iterable[Line], materials: Mapping[int, Material]) -> tuple[Place, ...]:
    """Every line once, in the order suggested; lines of equal rank by volatility where it is known, then by their parts."""

    def rank(line: Line) -> tuple[int, float, float]:
        pressure = None if line.material is None else vapour_pressure(materials[line.material])
        return _RANK[reason_of(line, materials)], pressure or 0.0, -line.parts

    return tuple(Place(line.key, reason_of(line, materials)) for line in sorted(lines, key=rank))


def tools(lines: Iterable[Line], bottles: Iterable[Bottle | None], materials: Mapping[int, Material]) -> tuple[int, int]:
    """(pipettes, boats) that a weighing needs: one pipette a bottle without a dropper of its own, one boat a powder."""
    boats = sum(reason_of(line, materials) == BOAT for line in lines)
    without = {bottle.key for bottle in bottles if bottle is not None and bottle.dropper_on is None}
    return max(len(without) - boats, 0), boats


def _is_thick(material: Material) -> bool:
    return any(word in material.form for word in _THICK)
