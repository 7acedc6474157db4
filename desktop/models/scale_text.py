# SPDX-License-Identifier: MIT
"""What comes into the figure field: typed by hand, or sent by a balance that types like a keyboard ('+   0.0500 g').

A figure in another unit is refused: a balance that was left on carats must not be booked as grams.
"""

from __future__ import annotations

import math
import re

from desktop.language import tr
from perfumery import parse_number
from perfumery.findings import refuse

_SIGNED = re.compile(r"(?P<sign>[+\-\u2212]?)\s*(?P<figure>.*?)\s*(?P<unit>[^\W\d_]*)", re.DOTALL)
# the words behind a count of drops: those of this language, kept apart by blanks, and the English ones
_DROP_WORDS = "|".join(map(re.escape, (*tr("drop drops").split(), "drops", "drop")))
_DROPS = re.compile(rf"(?P<count>.*?)\s*(?:{_DROP_WORDS})", re.IGNORECASE)
MINUS = "-\u2212"
# A figure so many times its target, or so small a part of it, is asked about before it is taken.
FAR = 5.0
SLIP = 0.3  # what a slipped point explains comes this near the target


def shown_mass(text: str) -> float:
    """g that a balance shows. Raises Refused `unit-not-grams`, `balance-below-zero`, `mass-not-positive`, and as
    `parse_number`."""
    taken = _SIGNED.fullmatch(text.strip())
    assert taken is not None  # every part of it may be empty
    sign, figure, unit = taken["sign"], taken["figure"], taken["unit"]
    if unit and figure[-1:].isdigit() and unit.casefold() != "g":
        raise refuse("unit-not-grams", figure=figure, unit=unit)
    # what is no figure with a unit behind it is read whole, so that the sentence names all of it
    whole = figure if figure and unit.casefold() == "g" else f"{figure}{unit}"
    mass = parse_number(f"{sign}{whole}" if sign and figure[:1] not in MINUS else whole)
    if mass < 0:
        raise refuse("balance-below-zero", mass_g=mass)
    if not mass > 0:
        raise refuse("mass-not-positive", mass_g=mass)
    return mass


def difference(text: str) -> float:
    """g by difference: the boat or pipette before, less after, as '12.345 - 12.045'; a single figure is the difference itself.
    Raises Refused as `shown_mass`, and `after-not-less`."""
    before, minus, after = text.replace("\u2212", "-").partition("-")
    if not (minus and before.strip()):
        return shown_mass(text)
    full, emptied = shown_mass(before), shown_mass(after)
    if emptied >= full:
        raise refuse("after-not-less", before_g=full, after_g=emptied)
    return round(full - emptied, 9)


def drops_of(text: str) -> float | None:
    """How many drops were counted, as in '12 drops'; None where it is no count of drops. Raises Refused as `parse_number`."""
    taken = _DROPS.fullmatch(text.strip())
    return None if taken is None else parse_number(taken["count"])


def is_far(mass: float, target: float, noise: float = 0.0) -> bool:
    """Whether a mass is so far from its target that a hand that slipped is likelier than a hand that poured."""
    return target > 0 and not target / FAR < mass < target * FAR and abs(mass - target) > noise


def slipped(mass: float, target: float) -> float | None:
    """The mass with its decimal point where it comes near the target; None where no place of the point does."""
    moved = float(f"{mass * 10.0 ** round(math.log10(target / mass)):.12g}")
    return moved if abs(moved - target) <= SLIP * target else None


def is_figure(text: str) -> bool:
    """Whether a text begins as a figure does; codes of bottles begin with a letter."""
    return text.strip().lstrip("+-\u2212 ")[:1] in tuple("0123456789.,")
