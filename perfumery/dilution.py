# SPDX-License-Identifier: MIT
"""Dilutions: how much of what, how strong it truly is, and how far that is known.

All by mass. w = m₁·w₁ ÷ (m₁ + m₂): mass balance, as in the worked dilution examples of pharmaceutical calculations.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from perfumery.findings import refuse

# The material a strength is told of, and all else, where nothing but the strength is known.
_TOLD, _REST = 0, 1


@dataclass(frozen=True, slots=True)
class Dilution:
    """What to bring together, g: `source_g` of the stronger liquid (or neat material) and `carrier_g` of carrier."""

    source_g: float
    carrier_g: float
    strength: float

    @property
    def total_g(self) -> float:
        """Mass of the dilution."""
        return self.source_g + self.carrier_g


def dilute(
    strength: float,
    *,
    total_g: float | None = None,
    source_g: float | None = None,
    carrier_g: float | None = None,
    source_strength: float = 1.0,
) -> Dilution:
    """A dilution to `strength` (0..1, exclusive of what the source has), asked for in one of four forms.

    `total_g` wanted; or `source_g`, all the material there is; or `carrier_g`, carrier that was poured first; each from the
    neat material or from a stronger dilution (`source_strength`). Raises Refused `strength-out-of-reach` with the most the
    source can give, `strength-range`, `mass-not-positive`, or `dilution-form` where not exactly one mass is given.
    """
    for value in (strength, source_strength):
        if not 0 < value <= 1:
            raise refuse("strength-range", percent=value * 100)
    given = [mass for mass in (total_g, source_g, carrier_g) if mass is not None]
    if len(given) != 1:
        raise refuse("dilution-form")
    if not (math.isfinite(given[0]) and given[0] > 0):
        raise refuse("mass-not-positive", mass_g=given[0])
    if strength > source_strength or (carrier_g is not None and strength == source_strength):
        raise refuse("strength-out-of-reach", wanted=strength, most=source_strength)
    if total_g is not None:
        source = total_g * strength / source_strength
        return Dilution(source, total_g - source, strength)
    if source_g is not None:
        return Dilution(source_g, source_g * (source_strength / strength - 1), strength)
    assert carrier_g is not None
    return Dilution(carrier_g * strength / (source_strength - strength), carrier_g, strength)


@dataclass(frozen=True, slots=True)
class Pour:
    """One liquid that went into a mixture: {material: share}, its mass, and the standard uncertainties of both."""

    shares: Mapping[int, float]
    mass_g: float
    u_g: float = 0.0
    u_shares: Mapping[int, float] = field(default_factory=dict)


def mixed(pours: Iterable[Pour]) -> dict[int, float]:
    """{material: share} of what these pours give together; every carrier of every dilution is kept.

    Raises Refused `contents-unknown` where a pour's contents are not known, `mass-not-positive` for nothing at all.
    """
    masses: dict[int, list[float]] = {}
    for pour in pours:
        if pour.mass_g > 0 and not pour.shares:
            raise refuse("contents-unknown", code="")
        for material, share in pour.shares.items():
            masses.setdefault(material, []).append(share * pour.mass_g)
    sums = {material: math.fsum(parts) for material, parts in masses.items()}
    total = math.fsum(sums.values())
    if not total > 0:
        raise refuse("mass-not-positive", mass_g=total)
    return {material: mass / total for material, mass in sums.items() if mass > 0}


def mixed_u(pours: Iterable[Pour]) -> dict[int, float]:
    """{material: standard uncertainty of its share} of what these pours give together (GUM, first order, masses independent).

    With w the material's share in the mixture of mass M: u² = Σ((wᵢ − w)·u(mᵢ) ÷ M)² + Σ(mᵢ·u(wᵢ) ÷ M)². For one source and
    its carrier this is the familiar √((m₂·u₁)² + (m₁·u₂)²) ÷ M², and √((w_s·u(x))² + (x·u(w_s))²) from a dilution.
    """
    own = tuple(pours)
    total = math.fsum(pour.mass_g for pour in own)
    found: dict[int, float] = {}
    for material in {key for pour in own for key in pour.shares}:
        share = math.fsum(pour.shares.get(material, 0.0) * pour.mass_g for pour in own) / total
        terms = [(pour.shares.get(material, 0.0) - share) * pour.u_g / total for pour in own]
        terms += [pour.mass_g * pour.u_shares.get(material, 0.0) / total for pour in own]
        found[material] = math.hypot(*terms)
    return found


def strengthen(mass_g: float, strength: float, wanted: float, with_strength: float = 1.0) -> float:
    """g of a stronger liquid to add to a mixture to reach a strength: m·(w − w₀) ÷ (w₁ − w).

    Raises Refused `strength-out-of-reach` with the most it can give, and where the mixture is stronger already.
    """
    if not strength <= wanted < with_strength:
        raise refuse("strength-out-of-reach", wanted=wanted, most=with_strength)
    return mass_g * (wanted - strength) / (with_strength - wanted)


def weaken(mass_g: float, strength: float, wanted: float) -> float:
    """g of carrier to add to a mixture to come down to a strength: m·(w₀ ÷ w − 1)."""
    if not 0 < wanted <= strength:
        raise refuse("strength-out-of-reach", wanted=wanted, most=strength)
    return mass_g * (strength / wanted - 1)


def true_strength(pours: Iterable[tuple[float, float | None, float, float | None]]) -> tuple[float, float | None]:
    """(strength, its standard uncertainty) of liquids of (strength, its u, mass, u of the mass) brought together; the
    uncertainty is None where that of one of them cannot be told."""
    own = tuple(pours)
    both = [
        Pour({_TOLD: strength, _REST: 1 - strength}, mass_g, u_g or 0.0, {_TOLD: u or 0.0})
        for strength, u, mass_g, u_g in own
    ]
    known = all(u is not None and u_g is not None for _, u, _, u_g in own)
    return mixed(both).get(_TOLD, 0.0), mixed_u(both)[_TOLD] if known else None


def made_up_g(first_g: float, first: float, second: float, wanted: float) -> float | None:
    """g of a liquid of strength `second` that bring a mass of strength `first` to the one wanted: m·(w₁ − w) ÷ (w − w₂). None
    where no amount of it does."""
    away = wanted - second
    grams = first_g * (first - wanted) / away if away else -1.0
    return grams if grams >= 0 else None


def largest_total_g(total_g: float, needs_g: float, left_g: float) -> float:
    """The largest total for which what is left of one liquid is enough, where a total needs so much of it."""
    return total_g * max(left_g, 0.0) / needs_g


def labelled(strength: float, material: int | None, carrier: int | None) -> dict[int, float]:
    """{material: share} by what stands on a label; empty where the label does not say it."""
    if material is None or (strength < 1 and carrier is None):
        return {}
    rest = {} if carrier is None or strength == 1 else {carrier: 1 - strength}
    return {material: strength} | rest
