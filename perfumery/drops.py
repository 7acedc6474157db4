# SPDX-License-Identifier: MIT
"""Drops as masses: an estimate, never a weighing.

A drop is as large as its dropper, its liquid and its haste make it; twenty drops of water to the millilitre are those of the
standard dropper of the European Pharmacopoeia (2.1.1), other liquids from the same tip are smaller.
"""

from __future__ import annotations

import math

from perfumery.findings import refuse

STANDARD_PER_ML = 20.0


def drops_mass(drops: float, drops_per_ml: float, density: float) -> float:
    """About how many g that many drops are: drops ÷ (drops per ml) × g/ml. Raises Refused `mass-not-positive` with what would
    come out where one of the three is not a figure above 0."""
    mass = drops / drops_per_ml * density if drops_per_ml else math.nan
    if not all(math.isfinite(each) and each > 0 for each in (drops, drops_per_ml, density, mass)):
        raise refuse("mass-not-positive", mass_g=mass if math.isfinite(mass) and mass <= 0 else 0.0)
    return mass
