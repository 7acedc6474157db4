# SPDX-License-Identifier: MIT
"""How a mixture is told: what to weigh, what it will hold, how strong it is and how far that is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from db import BottleRow
from desktop import figures
from desktop.language import tr, tr_count
from desktop.models.mix import READABILITY_G, Leg, Plan
from perfumery import Finding, Material, weighing

_AMBER = ("too-little", "vessel-too-small", "below-readability", "beyond-left", "container-plastic", "liner-none")


def role_of(finding: Finding) -> str:
    """'amber' for what speaks against going on, 'quiet' for what only tells."""
    return "amber" if finding.code in _AMBER else "quiet"


def strength_with_u(strength: float, u: float | None) -> str:
    """'10.20 % ± 0.01 (k = 2)': the strength is told as far as two standard uncertainties reach."""
    wide = None if u is None else weighing.K * u * 100
    if not wide:
        return figures.percent_text(strength)
    places = max(0, -math.floor(math.log10(wide)))
    if places and round(wide, places) >= 10.0 ** (1 - places):
        places -= 1
    step = 10.0**-places
    return f"{figures.unit(figures.mass(strength * 100, step), '%')} ± {figures.mass(wide, step)} (k = {weighing.K})"


def said(plan: Plan, d: float = READABILITY_G) -> str:
    """What to weigh, in one sentence: '2.000 g of Ambroxide from M19-1, then 18.000 g of ethanol from S01-1'."""

    def grams(leg: Leg) -> str:
        return figures.mass_text(leg.target_g, d)

    if plan.into is not None:
        added = plan.legs[0]
        return tr("Add {mass} of {liquid} to {code}.", mass=grams(added), liquid=_from(added), code=plan.into.code)
    if plan.kind == "accord":
        total = figures.mass_text(plan.total_g, d)
        return tr_count(len(plan.legs), "{n} liquid, {total} in all.", "{n} liquids, {total} in all.", total=total)
    first, second = plan.legs
    facts = {"mass": grams(first), "liquid": _from(first), "then_mass": grams(second), "then_liquid": _from(second)}
    if plan.poured:
        return tr("{mass} of {liquid} is there: add {then_mass} of {then_liquid}.", **facts)
    return tr("{mass} of {liquid}, then {then_mass} of {then_liquid}.", **facts)


def _from(leg: Leg) -> str:
    """'ethanol from S01-1'; of what has no name of its own its code alone."""
    return tr("{liquid} from {code}", liquid=leg.name, code=leg.code) if leg.name and leg.code else leg.called


def bottle_text(row: BottleRow, telling: int | None = None) -> str:
    """A bottle to choose from: 'K20 · 10 % in DPG · 18.490 g left · E-3'; 'neat' only where that is the question."""
    bottle = row.bottle
    stock = figures.stock_text(bottle.strength, row.carrier_name) or ("" if telling is None else tr("neat"))
    left = tr("mass not known") if row.left_g is None else tr("{mass} left", mass=figures.mass_text(row.left_g))
    return " · ".join(filter(None, (bottle.code, stock, left, bottle.place)))


def in_words(
    material: Callable[[int], Material | None], shares: Mapping[int, float], subject: int | None = None, most: int = 4
) -> str:
    """'1 % Ambroxide, 9 % DPG, 90 % ethanol': what it is a dilution of first, then from the least to the most; of a formula
    from the most to the least, its carriers last."""
    known = {key: material(key) for key in shares}
    carriers = {key for key, value in known.items() if value is not None and value.is_carrier}
    if subject is not None:
        order = sorted(shares, key=lambda key: (key != subject, shares[key]))
    else:
        order = sorted(shares, key=lambda key: (key in carriers, -shares[key]))
    shown, rest = (order, []) if len(order) <= most + 1 else (order[:most], order[most:])
    told = []
    for key in shown:
        value = known[key]
        name = "?" if value is None else value.carrier_name if key in carriers else value.short
        told.append(f"{_percent(shares[key])} {name}")
    if rest:
        share = _percent(math.fsum(shares[key] for key in rest))
        told.append(tr_count(len(rest), "{share} in {n} other", "{share} in {n} others", share=share))
    return ", ".join(told)


def _percent(share: float) -> str:
    """A share in words of a label: three figures, no zeros behind the point."""
    text = figures.percent_text(share)
    if not text.endswith("%") or not figures.decimals_shown(text):
        return text
    return figures.unit(figures.short(share * 100, 3 if share < 0.995 else figures.SIGNIFICANT), "%")
