# SPDX-License-Identifier: MIT
"""A weaker stock for a line that is too small for its balance: one that stands on the shelf, else the strength to make.

Dilutions are made in tenfold steps: 10 %, 1 %, 0.1 % and so on (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from perfumery.findings import refuse
from perfumery.preparing import SAME_STRENGTH
from perfumery.values import Balance
from perfumery.weighing import least_weight, line_error

STEP = 10.0
WEAKEST = 1e-6


@dataclass(frozen=True, slots=True)
class Weaker:
    """`mass_g` of a stock of `strength` brings what the line brings, `more_g` more carrier with it; `error` is then the relative
    error of the mass (k = 2). `bottle` is its key where it stands on the shelf, None where it has to be made."""

    strength: float
    mass_g: float
    more_g: float
    error: float
    bottle: int | None = None


def weaker_stock(
    mass_g: float, strength: float, most_g: float, balance: Balance, tolerance: float,
    standing: Iterable[tuple[int, float, float | None]] = (),
) -> Weaker | None:  # fmt: skip
    """The strongest stock weaker than `strength` with which a line of `mass_g` reaches the least weight, and is no more than
    `most_g`: first of those standing (bottle, strength, g left or None), where it holds enough, else of tenfold steps. None where
    there is none. Raises Refused `mass-not-positive` or `strength-range`.
    """
    if not mass_g > 0:
        raise refuse("mass-not-positive", mass_g=mass_g)
    if not 0 < strength <= 1:
        raise refuse("strength-range", percent=strength * 100)
    least = least_weight(balance, tolerance) * (1 - 1e-9)
    neat = mass_g * strength

    def made(other: float, bottle: int | None = None) -> Weaker | None:
        mass = neat / other
        if not least <= mass <= most_g:
            return None
        return Weaker(other, mass, mass - mass_g, line_error(mass, balance).relative, bottle)

    on_hand = (
        made(other, bottle)
        for bottle, other, left_g in sorted(standing, key=lambda stock: -stock[1])
        if 0 < other < strength * (1 - SAME_STRENGTH) and (left_g is None or neat / other <= left_g)
    )
    found = next((stock for stock in on_hand if stock is not None), None)
    step = 1 / STEP
    while found is None and step >= WEAKEST * (1 - 1e-9):
        if step < strength * (1 - SAME_STRENGTH):
            found = made(step)
        step = float(f"{step / STEP:.12g}")
    return found
