# SPDX-License-Identifier: MIT
"""The shelf a version is composed against: just the materials, accords, bottles and prices it reaches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from perfumery.findings import refuse
from perfumery.values import Bottle, Constituent, Line, Material, Version, describe


@dataclass(frozen=True, slots=True)
class Shelf:
    """What `compose` looks things up in, by integer key.

    `prices` are the prices of the neat materials, per g: the price of the bottle that would be offered first, reckoned back
    to the neat material where that bottle was bought diluted, else the last known. A material that is missing has no known
    price. `constituents` is what is known of what naturals hold, as far as it was written down.
    """

    materials: Mapping[int, Material] = field(default_factory=dict)
    accords: Mapping[int, Version] = field(default_factory=dict)
    bottles: tuple[Bottle, ...] = ()
    prices: Mapping[int, float] = field(default_factory=dict)
    constituents: Mapping[int, tuple[Constituent, ...]] = field(default_factory=dict)

    def price_per_g(self, line: Line) -> float | None:
        """Price per g of what a material line names, its carrier at the carrier's price; None where not known."""
        return mixed_price(self.prices, line.material, line.strength, line.carrier)

    def is_carrier(self, line: Line) -> bool:
        """Whether the line's material counts as a carrier: its own mark unless the line overrides it."""
        if line.as_carrier is not None:
            return line.as_carrier
        return line.material is not None and self.materials[line.material].is_carrier


def mixed_price(
    prices: Mapping[int, float], material: int | None, strength: float, carrier: int | None
) -> float | None:
    """strength × neat price + (1 − strength) × carrier price, per g; None where a price that counts is not known."""
    neat = prices.get(material) if material is not None else None
    if neat is None or strength == 1:
        return neat
    thinned = prices.get(carrier) if carrier is not None else None
    return None if thinned is None else strength * neat + (1 - strength) * thinned


def offered_first(bottles: Iterable[Bottle]) -> tuple[Bottle, ...]:
    """Bottles in the order they would be offered: not gone before gone, opened before unopened, first opened first."""
    far = date.max
    return tuple(
        sorted(bottles, key=lambda b: (b.gone_on is not None, b.opened_on or far, b.received_on or far, b.key or 0))
    )


def neat_prices(bottles: Iterable[Bottle]) -> dict[int, float]:
    """{material: price per g of the neat material} from the priced bottles, the one offered first counting.

    A bottle bought at a strength is reckoned back: (price − (1 − strength) × carrier price) ÷ strength; where its carrier
    has no price of its own, or would cost more than the bottle did, the next bottle counts.
    """
    offered = [
        b for b in offered_first(bottles) if b.kind == "bought" and b.price_per_g is not None and b.material is not None
    ]
    pure: dict[int | None, float] = {}
    for bottle in offered:
        if bottle.strength == 1:
            pure.setdefault(bottle.material, bottle.price_per_g or 0.0)
    neat: dict[int, float] = {}
    for bottle in offered:
        price = bottle.price_per_g or 0.0
        if bottle.material is None or bottle.material in neat:
            continue
        if bottle.strength == 1:
            neat[bottle.material] = price
        elif bottle.carrier in pure:
            back = (price - (1 - bottle.strength) * pure[bottle.carrier]) / bottle.strength
            if back >= 0:
                neat[bottle.material] = back
    return neat


def reached(version: Version, accords: Mapping[int, Version]) -> tuple[Version, ...]:
    """The version and every accord inside it, each once, insides before outsides.

    Raises Refused `accord-loop` with the codes on the loop where a version holds itself, and `reference-missing`.
    """
    done: dict[int | None, Version] = {}
    path: list[Version] = []

    def visit(inner: Version) -> None:
        if inner.key is not None and any(outer.key == inner.key for outer in path):
            start = next(i for i, outer in enumerate(path) if outer.key == inner.key)
            raise refuse("accord-loop", names=tuple(describe(v) for v in (*path[start:], inner)))
        if inner.key in done and inner.key is not None:
            return
        path.append(inner)
        for line in inner.lines:
            if line.accord is not None:
                if line.accord not in accords and line.accord != version.key:
                    raise refuse("reference-missing", kind="Version", key=line.accord)
                visit(version if line.accord == version.key else accords[line.accord])
        path.pop()
        done[inner.key] = inner

    visit(version)
    return tuple(done.values())
