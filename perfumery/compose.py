# SPDX-License-Identifier: MIT
"""The one place where parts become percent, grams, neat parts, cost and findings.

`compose` recomputes everything, always; it holds no state. Its cost grows with the number of lines reached, each accord
being worked out once, however many lines and routes lead to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, replace

from perfumery.findings import Finding, refuse
from perfumery.shelf import Shelf, reached
from perfumery.values import Line, Version


@dataclass(frozen=True, slots=True)
class Row:
    """One line worked out. `share` is 0..1 of the concentrate; `grams` None without an amount; `cost` the share of the
    line in the cost of one gram of concentrate, None where a price is missing; `line.parts` are live on the fill-up line.
    """

    line: Line
    share: float
    per_thousand: float
    grams: float | None
    neat_parts: float
    cost: float | None


@dataclass(frozen=True, slots=True)
class Composition:
    """A version worked out against a shelf.

    `carriers` and `expanded` map material keys to parts on the version's own total; `expanded` sums each material over all
    routes, carriers included, largest first. `cost_per_g` counts the prices that are known: it is the cost where
    `unpriced` is empty, "at least" where it is not, and None where no price is known at all. `strength` is the finished
    strength it was asked for, mass of concentrate ÷ mass of product.
    """

    rows: tuple[Row, ...]
    total_parts: float
    neat_parts: float
    carriers: Mapping[int, float]
    expanded: Mapping[int, float]
    cost_per_g: float | None
    unpriced: tuple[int, ...]
    amount_g: float | None
    strength: float | None
    findings: tuple[Finding, ...]

    @property
    def neat_share(self) -> float:
        """Odorants' share of the concentrate, 0..1; 0 for a formula without parts."""
        return self.neat_parts / self.total_parts if self.total_parts else 0.0

    def odorant_share(self, strength: float | None = None) -> float:
        """Odorant strength of the product, 0..1: finished strength × neat share."""
        finished = self.strength if strength is None else strength
        if finished is None:
            finished = 1.0
        if not 0 < finished <= 1:
            raise refuse("strength-range", percent=finished * 100)
        return finished * self.neat_share

    def strength_for_odorant(self, share: float) -> float:
        """The finished strength that gives a wanted odorant strength, 0..1.

        Raises Refused `odorant-out-of-reach` with the most these stocks can give: the concentrate undiluted.
        """
        if not 0 < share <= 1:
            raise refuse("strength-range", percent=share * 100)
        # a wish equal to the most is granted: 1e-12 is rounding, not chemistry
        if share > self.neat_share * (1 + 1e-12):
            raise refuse("odorant-out-of-reach", wanted=share, most=self.neat_share)
        return min(share / self.neat_share, 1.0)


@dataclass(frozen=True, slots=True)
class _Inside:
    """An accord worked out per gram of it: neat share, carriers and all materials as shares, known cost, what is unpriced."""

    neat: float
    carriers: Mapping[int, float]
    materials: Mapping[int, float]
    cost: float | None
    unpriced: frozenset[int]


def resolved(version: Version) -> tuple[Line, ...]:
    """The version's lines with the fill-up line's parts made live: wanted total less all others.

    Raises Refused `fill-up-excess` where the others exceed the total (a Version refuses that by itself already).
    """
    others = math.fsum(line.parts for line in version.lines if not line.fill_up)
    rest = version.total - others
    # a sum of decimal figures misses by a few ulp: 1000 − 962.1 is meant to be 37.9
    rest = float(f"{rest:.12g}") if abs(rest) > 1e-9 * version.total else 0.0
    return tuple(replace(line, parts=rest) if line.fill_up else line for line in version.lines)


def compose(
    version: Version, shelf: Shelf, amount_g: float | None = None, strength: float | None = None
) -> Composition:
    """The version worked out: shares, grams for an amount, neat parts, carriers, expansion, cost.

    amount_g: mass of concentrate to be weighed, g (> 0) or None. strength: finished strength 0..1 or None.
    Raises Refused for a loop of accords (named), a material or accord that the shelf lacks, an amount or strength that
    cannot be. A price that is not known makes the cost "at least" and gives a `price-unknown` finding.
    """
    if amount_g is not None and not (math.isfinite(amount_g) and amount_g > 0):
        raise refuse("mass-not-positive", mass_g=amount_g)
    if strength is not None and not 0 < strength <= 1:
        raise refuse("strength-range", percent=strength * 100)
    inside: dict[int | None, _Inside] = {}
    for inner in reached(version, shelf.accords)[:-1]:
        inside[inner.key] = _sum(resolved(inner), shelf, inside)[1]
    lines = resolved(version)
    total = math.fsum(line.parts for line in lines)
    per_line, whole = _sum(lines, shelf, inside)
    rows = tuple(
        Row(
            line=line,
            share=line.parts / total if total else 0.0,
            per_thousand=line.parts / total * 1000 if total else 0.0,
            grams=None if amount_g is None else (line.parts / total * amount_g if total else 0.0),
            neat_parts=line.parts * one.neat,
            cost=None if one.unpriced else (one.cost or 0.0) * (line.parts / total if total else 0.0),
        )
        for line, one in zip(lines, per_line, strict=True)
    )
    largest = dict(sorted(whole.materials.items(), key=lambda item: -item[1]))
    neat = math.fsum(row.neat_parts for row in rows)
    unpriced = tuple(key for key in largest if key in whole.unpriced)
    return Composition(
        rows=rows,
        total_parts=total,
        neat_parts=neat,
        carriers={key: share * total for key, share in sorted(whole.carriers.items(), key=lambda item: -item[1])},
        expanded={key: share * total for key, share in largest.items()},
        cost_per_g=whole.cost,
        unpriced=unpriced,
        amount_g=amount_g,
        strength=strength,
        findings=_notices(lines, total, neat, unpriced, shelf),
    )


def _sum(lines: tuple[Line, ...], shelf: Shelf, inside: Mapping[int | None, _Inside]) -> tuple[list[_Inside], _Inside]:
    """(each line per gram of itself, all lines together per gram of their total)."""
    per_line = [inside[line.accord] if line.accord is not None else _one(line, shelf) for line in lines]
    total = math.fsum(line.parts for line in lines) or 1.0
    carriers: dict[int, list[float]] = {}
    materials: dict[int, list[float]] = {}
    costs: list[float] = []
    unpriced: set[int] = set()
    for line, one in zip(lines, per_line, strict=True):
        share = line.parts / total
        if share == 0:
            continue
        for key, part in one.carriers.items():
            carriers.setdefault(key, []).append(part * share)
        for key, part in one.materials.items():
            materials.setdefault(key, []).append(part * share)
        if one.cost is not None:
            costs.append(one.cost * share)
        unpriced |= one.unpriced
    return per_line, _Inside(
        neat=math.fsum(one.neat * line.parts / total for line, one in zip(lines, per_line, strict=True)),
        carriers={key: math.fsum(parts) for key, parts in carriers.items()},
        materials={key: math.fsum(parts) for key, parts in materials.items()},
        cost=math.fsum(costs) if costs else None,
        unpriced=frozenset(unpriced),
    )


def _one(line: Line, shelf: Shelf) -> _Inside:
    """A material line per gram of itself."""
    material, carrier, strength = line.material, line.carrier, line.strength
    for key in (material, carrier):
        if key is not None and key not in shelf.materials:
            raise refuse("reference-missing", kind="Material", key=key)
    assert material is not None
    shares = {material: strength}
    if carrier is not None and strength < 1:
        shares[carrier] = 1 - strength
    carriers = {carrier: 1 - strength} if carrier is not None and strength < 1 else {}
    is_carrier = shelf.is_carrier(line)
    if is_carrier:
        carriers[material] = carriers.get(material, 0.0) + strength
    known = [share * shelf.prices[key] for key, share in shares.items() if key in shelf.prices]
    return _Inside(
        neat=0.0 if is_carrier else strength,
        carriers=carriers,
        materials=shares,
        cost=math.fsum(known) if known else None,
        unpriced=frozenset(key for key in shares if key not in shelf.prices),
    )


def _notices(
    lines: tuple[Line, ...], total: float, neat: float, unpriced: tuple[int, ...], shelf: Shelf
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    if not lines:
        found.append(Finding("no-lines"))
    elif total and not neat:
        found.append(Finding("all-carrier"))
    if unpriced:
        found.append(Finding("price-unknown", {"names": tuple(shelf.materials[key].short for key in unpriced)}))
    retired = [
        shelf.materials[line.material].short
        for line in lines
        if line.material is not None and shelf.materials[line.material].retired_on is not None
    ]
    if retired:
        found.append(Finding("retired-used", {"names": tuple(retired)}))
    return tuple(found)


def share_within(material: int, version: Version, accords: Mapping[int, Version]) -> float:
    """The share 0..1 of one material, neat, in a version over all routes: what `compose` calls expanded ÷ total, alone.

    For one material in many versions; each accord is worked out once. Raises Refused like `reached`.
    """

    def held(line: Line) -> float:
        if line.material == material:
            return line.strength
        return 1 - line.strength if line.carrier == material else 0.0

    return _within(version, accords, lambda line: None if line.accord is not None else held(line))


def accord_within(meant: Container[int], version: Version, accords: Mapping[int, Version]) -> float:
    """The share 0..1 of an accord in a version over all routes; `meant` are the keys of its versions. Raises like `reached`."""

    def held(line: Line) -> float | None:
        if line.accord is None:
            return 0.0
        return 1.0 if line.accord in meant else None

    return _within(version, accords, held)


def _within(version: Version, accords: Mapping[int, Version], held: Callable[[Line], float | None]) -> float:
    """The share of what `held` tells of a line's liquid; None of it asks the line's accord."""
    inside: dict[int | None, float] = {}
    for inner in reached(version, accords):
        lines = resolved(inner)
        total = math.fsum(line.parts for line in lines)
        own = ((line.parts, held(line), line.accord) for line in lines)
        found = math.fsum(parts * (inside[accord] if share is None else share) for parts, share, accord in own)
        inside[inner.key] = found / total if total else 0.0
    return inside[version.key]


def price_findings(composition: Composition, ceiling: float | None) -> tuple[Finding, ...]:
    """`over-price` where the cost per g that is known already exceeds the project's ceiling."""
    cost = composition.cost_per_g
    if ceiling is None or cost is None or cost <= ceiling:
        return ()
    return (Finding("over-price", {"cost": cost, "ceiling": ceiling, "at_least": bool(composition.unpriced)}),)
