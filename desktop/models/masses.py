# SPDX-License-Identifier: MIT
"""Masses and volumes as they are typed: '12.95', '12,95 g', '30 ML'. Everything that takes one reads it here."""

from __future__ import annotations

from perfumery import parse_number
from perfumery.findings import refuse


def grams(text: str) -> float:
    """A mass in g, as typed. Raises Refused as `parse_number`."""
    return _figure(text, "g")


def mass_of(text: str) -> float:
    """The same, refused where it is not more than nothing."""
    mass = grams(text)
    if not mass > 0:
        raise refuse("mass-not-positive", mass_g=mass)
    return mass


def millilitres(text: str) -> float:
    """A volume in ml that is more than nothing. Raises Refused as `parse_number`, and `volume-not-positive`."""
    volume = _figure(text, "ml")
    if not volume > 0:
        raise refuse("volume-not-positive", volume_ml=volume)
    return volume


def _figure(text: str, unit: str) -> float:
    """The figure before a unit that may stand behind it; '5 kg' is no figure in g."""
    bare = text.strip()
    number = bare[: -len(unit)] if bare.casefold().endswith(unit) else bare
    return parse_number(bare if number[-1:].isalpha() else number)
