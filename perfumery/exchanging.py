# SPDX-License-Identifier: MIT
"""A stock exchanged for another strength with the composition kept, and a formula rescaled around lines that are held."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from perfumery.compose import resolved
from perfumery.findings import refuse
from perfumery.values import Line, Material, Version

# parts that are rounding, not chemistry
_DUST = 1e-9


@dataclass(frozen=True, slots=True)
class Exchange:
    """The parts of the new stock, and how many parts of carrier come free (positive) or are taken (negative)."""

    parts: float
    carrier_parts: float


@dataclass(frozen=True, slots=True)
class Exchanged:
    """A version with one stock exchanged: `parts` of the new one; `carriers` {material: parts that came free (positive) or
    were taken (negative)}; `added` are the carriers that had no line and got one."""

    version: Version
    parts: float
    carriers: Mapping[int, float]
    added: tuple[int, ...]


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
    if freed < -free_carrier - _DUST:
        raise refuse("exchange-too-weak", wanted=new_strength, weakest=_up(neat / (parts + free_carrier)))
    return Exchange(float(f"{new_parts:.12g}"), float(f"{freed:.12g}"))


def exchanged(
    version: Version, place: int, strength: float, carrier: int | None, materials: Mapping[int, Material]
) -> Exchanged:
    """The version with the stock of one material line exchanged and the composition kept.

    What comes free of the old carrier, and what the new stock brings of its own, is made up for on neat lines of that
    carrier: the one that fills up, then those that are not held, then held ones; where a carrier comes free and no line
    takes it, it gets one. `materials` are those of the version and the new carrier. Raises Refused `exchange-too-weak`
    where a carrier would have to be taken that is not there, `exchange-carrier` or `exchange-no-carrier` where the new stock
    is in another carrier of which too little or none is there.
    """
    lines, live = list(version.lines), resolved(version)
    old = live[place]
    new = replace(lines[place], strength=strength, carrier=carrier)
    made = exchange(old.parts, old.strength, strength, math.inf)
    neat = old.parts * old.strength
    freed: dict[int, float] = {}
    if old.carrier is not None:
        freed[old.carrier] = old.parts - neat
    if carrier is not None:
        freed[carrier] = freed.get(carrier, 0.0) - (made.parts - neat)
    freed = {key: parts for key, parts in freed.items() if abs(parts) > _DUST}
    lines[place] = replace(new, parts=made.parts)
    added: list[int] = []
    for key, parts in freed.items():
        own = [at for at, line in enumerate(live) if at != place and _is_free(line, key, materials)]
        own.sort(key=lambda at: (not live[at].fill_up, live[at].held))
        free = math.fsum(live[at].parts for at in own)
        if parts < 0 and old.carrier in (None, key):
            exchange(old.parts, old.strength, strength, free)
        elif parts < -free - _DUST:
            name = materials[key].carrier_name
            if not free:
                raise refuse("exchange-no-carrier", carrier=name, needed=-parts)
            raise refuse(
                "exchange-carrier", carrier=name, needed=-parts, missing=-parts - free, weakest=_up(neat / (neat + free))
            )
        if parts > 0 and not own:
            added.append(key)
            lines.append(Line(parts=_tidy(parts), material=key, as_carrier=None if materials[key].is_carrier else True))
        rest = parts
        for at in own:
            step = rest if rest > 0 else max(rest, -live[at].parts)
            rest -= step
            if not live[at].fill_up:
                # the line that fills up finds its parts by itself
                lines[at] = replace(live[at], parts=max(_tidy(live[at].parts + step), 0.0))
    return Exchanged(replace(version, lines=tuple(lines)), made.parts, freed, tuple(added))


def rescaled(version: Version, total: float) -> tuple[Version, float]:
    """(the version brought to a total with its held lines kept, the factor the others took).

    The line that fills up is one of the others, so that the composition is kept where nothing is held; without one the
    largest line takes what rounding leaves, and the total is met exactly. Raises Refused `total-not-positive`,
    `nothing-to-rescale` where no line has parts, or `held-too-much` where the held lines leave nothing.
    """
    if not (math.isfinite(total) and total > 0):
        raise refuse("total-not-positive", total=total)
    live = resolved(version)
    held = math.fsum(line.parts for line in live if line.held)
    free = math.fsum(line.parts for line in live if not line.held)
    if held == free == 0:
        raise refuse("nothing-to-rescale")
    if held >= total or free == 0:
        raise refuse("held-too-much", held=held, total=total)
    factor = (total - held) / free
    lines = [
        line if line.held or line.fill_up else replace(line, parts=float(f"{line.parts * factor:.12g}"))
        for line in version.lines
    ]
    if not any(line.fill_up for line in lines):
        most = max((at for at, line in enumerate(lines) if not line.held), key=lambda at: lines[at].parts)
        others = math.fsum(line.parts for at, line in enumerate(lines) if at != most)
        lines[most] = replace(lines[most], parts=_tidy(total - others))
    return replace(version, lines=tuple(lines), total=total), factor


def _is_free(line: Line, carrier: int, materials: Mapping[int, Material]) -> bool:
    """Whether a line is this carrier neat, and counts as one: only then can it give or take without changing anything."""
    counts = materials[carrier].is_carrier if line.as_carrier is None else line.as_carrier
    return line.material == carrier and line.strength == 1 and counts


def _up(strength: float) -> float:
    """A strength rounded up as it will be shown, with four significant figures: what is told must work when it is typed."""
    step = 10.0 ** (math.floor(math.log10(strength)) - 3)
    return min(float(f"{math.ceil(strength / step - 1e-9) * step:.4g}"), 1.0)


def _tidy(parts: float) -> float:
    """Parts without the dust of binary sums, and exact enough that a total is still met."""
    return float(f"{parts:.15g}")
