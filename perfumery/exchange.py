# SPDX-License-Identifier: MIT
"""A stock exchanged for another strength with the composition kept, and a formula rescaled around lines that are held."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from perfumery.findings import refuse
from perfumery.values import Version


@dataclass(frozen=True, slots=True)
class Exchange:
    """The parts of the new stock, and how many parts of carrier come free (positive) or are taken (negative)."""

    parts: float
    carrier_parts: float


def exchange(parts: float, strength: float, new_strength: float, free_carrier: float = 0.0) -> Exchange:
    """A stock of `parts` at `strength` exchanged for one at `new_strength`, the neat parts and the total kept.

    `free_carrier`: parts of the same carrier that stand elsewhere in the formula and may be used up. Raises Refused
    `exchange-too-weak` with the weakest strength that works: neat parts ÷ (parts + free carrier).
    """
    for value in (strength, new_strength):
        if not 0 < value <= 1:
            raise refuse("strength-range", percent=value * 100)
    neat = parts * strength
    new_parts = neat / new_strength
    freed = parts - new_parts
    if freed < -free_carrier - 1e-9:
        raise refuse("exchange-too-weak", wanted=new_strength, weakest=neat / (parts + free_carrier))
    return Exchange(float(f"{new_parts:.12g}"), float(f"{freed:.12g}"))


def rescaled(version: Version, total: float) -> tuple[Version, float]:
    """(the version brought to a total with its held lines kept, the factor the others took).

    Raises Refused `total-not-positive`, or `held-too-much` where the held lines alone exceed the total or nothing is free.
    """
    if not (math.isfinite(total) and total > 0):
        raise refuse("total-not-positive", total=total)
    held = math.fsum(line.parts for line in version.lines if line.held)
    free = math.fsum(line.parts for line in version.lines if not line.held and not line.fill_up)
    if held > total or free == 0:
        raise refuse("held-too-much", held=held, total=total)
    factor = (total - held) / free
    lines = tuple(
        line if line.held or line.fill_up else replace(line, parts=float(f"{line.parts * factor:.12g}"))
        for line in version.lines
    )
    return replace(version, lines=lines, total=total), factor
