# SPDX-License-Identifier: MIT
"""What has to be made before drafts can be weighed: written strengths for which no bottle stands on the shelf."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from perfumery.compose import resolved
from perfumery.values import Bottle, Version

# Labels say a strength with two figures; nearer than this two bottles are the same stock.
SAME_STRENGTH = 0.005


@dataclass(frozen=True, slots=True)
class Preparation:
    """A stock that is asked for: `needed_g` is what the drafts take together at their projects' amounts."""

    material: int
    strength: float
    carrier: int | None
    versions: tuple[str, ...]
    needed_g: float


def is_stock(bottle: Bottle, material: int, strength: float, carrier: int | None) -> bool:
    """Whether a bottle that is not gone is this stock, by its label."""
    return (
        bottle.gone_on is None
        and bottle.material == material
        and bottle.carrier == carrier
        and math.isclose(bottle.strength, strength, rel_tol=SAME_STRENGTH)
    )


def to_prepare(
    drafts: Iterable[tuple[Version, float]], accords: Mapping[int, Version], bottles: Iterable[Bottle]
) -> tuple[Preparation, ...]:
    """Stocks at a strength under 100 % that these (draft, amount in g) ask for and no bottle is, most wanted first.

    An accord is opened into its lines where no bottle holds it. Most wanted: by most drafts, then by the largest mass.
    """
    standing: dict[int | None, list[Bottle]] = {}
    held: set[int | None] = set()
    for bottle in bottles:
        if bottle.gone_on is None:
            standing.setdefault(bottle.material, []).append(bottle)
            held.add(bottle.version)
    wanted: dict[tuple[int, float, int | None], dict[str, float]] = {}

    def collect(version: Version, grams: float, of: str) -> None:
        lines = resolved(version)
        total = math.fsum(line.parts for line in lines)
        for line in lines:
            mass = grams * line.parts / total if total else 0.0
            if line.accord is not None:
                if line.accord not in held and line.accord in accords:
                    collect(accords[line.accord], mass, of)
            elif line.material is not None and line.strength < 1:
                stock = (line.material, line.strength, line.carrier)
                if not any(is_stock(bottle, *stock) for bottle in standing.get(line.material, ())):
                    by = wanted.setdefault(stock, {})
                    by[of] = by.get(of, 0.0) + mass

    for draft, amount_g in drafts:
        collect(draft, amount_g, draft.code)
    made = [Preparation(*stock, tuple(by), math.fsum(by.values())) for stock, by in wanted.items()]
    return tuple(sorted(made, key=lambda p: (-len(p.versions), -p.needed_g, p.material, p.strength)))
