# SPDX-License-Identifier: MIT
"""What a bottle can take, and what its glass, cap and contents ask for.

The cautions are common practice, no source; each names its reason. Where skin, fire or breathing is concerned the supplier's
safety data sheet decides.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from perfumery.findings import Finding
from perfumery.values import Bottle, Material

_PLASTIC = re.compile(r"\b(plastic|poly\w+|pe|pp|pet|hdpe|ldpe|pvc|ps)\b", re.IGNORECASE)
_GLASS = re.compile(r"\b(glass|alumini?um|steel|tin|metal)\b", re.IGNORECASE)
_CAP = r"(?:cap|lid|closure|stopper|dropper|pipette|pump|spray|collar|seal)"
_VESSEL = re.compile(r"\b(bottle|vial|jar|flask|jug|can|canister|container|tube|bag)s?\b", re.IGNORECASE)
# "…, black PP cap", "… with a pump": a part of what is said that is of the cap alone
_PARTS = re.compile(r"[,;+&()/]|\b(?:with|and)\b", re.IGNORECASE)
_OF_CAP = re.compile(rf"\b{_CAP}(?:s|ped)?\b", re.IGNORECASE)
# "plastic cap" in one breath with the vessel, but not the cap that says what vessel it is: "PET dropper bottle"
_CAP_OF = re.compile(rf"{_PLASTIC.pattern}[\s-]+(?:screw[\s-]+)?{_CAP}(?:s|ped)?\b(?!\s+{_VESSEL.pattern})", re.IGNORECASE)
_CAPPED = re.compile(rf"{_PLASTIC.pattern}[\s-]+capped\b", re.IGNORECASE)
_UNLINED = re.compile(r"\b(no\s+liner|without\s+(a\s+)?liner|unlined)\b", re.IGNORECASE)
_NO_LINER = re.compile(
    r"none|no|without|(plain\s+)?(paper|card(board)?|cork)(\s+(liner|disc|disk|wad|insert|stopper))?", re.IGNORECASE
)
_RUBBER = re.compile(r"\b(rubber|dropper)\b", re.IGNORECASE)
_THICK = ("paste", "resinoid", "absolute", "concrete", "viscous")


# Between alcohol and most oils; for the room in a vessel where no density is known. A guess, no source.
ROUGH_DENSITY = 0.85


def density_of(shares: Mapping[int, float], densities: Mapping[int, float | None]) -> float | None:
    """g/ml of a mixture of {material: mass share}: 1 ÷ Σ(w ÷ ρ), volumes taken to add up (an estimate: alcohol and water
    shrink). Materials without a density are taken to be like the rest; None where none is known."""
    known = [(share, rho) for key, share in shares.items() if (rho := densities.get(key))]
    weight = math.fsum(share for share, _ in known)
    return weight / math.fsum(share / rho for share, rho in known) if weight else None


def fit(mass_g: float, density: float | None, volume_ml: float | None, head_space: float) -> list[Finding]:
    """Whether a mass goes into a vessel of `volume_ml` and leaves `head_space` (0..1) of it free to be shaken.

    Nothing is found where the density or the volume is not known.
    """
    if density is None or volume_ml is None:
        return []
    fills = mass_g / density
    facts = {"fills_ml": fills, "volume_ml": volume_ml, "most_g": volume_ml * (1 - head_space) * density}
    if fills > volume_ml:
        return [Finding("vessel-too-small", facts)]
    return [Finding("head-space-small", facts)] if fills > volume_ml * (1 - head_space) else []


def container_cautions(bottle: Bottle) -> list[Finding]:
    """What is said against the container, the liner of its cap and a dropper that stays in it; nothing where it is not known."""
    found = []
    body = _of_the_vessel(bottle.container)
    if _PLASTIC.search(body) and not _GLASS.search(body):
        found.append(Finding("container-plastic"))
    if _UNLINED.search(bottle.liner) or _NO_LINER.fullmatch(bottle.liner.strip(" .-")):
        found.append(Finding("liner-none"))
    if bottle.dropper_on is not None or _RUBBER.search(f"{bottle.container} {bottle.liner}"):
        found.append(Finding("dropper-rubber"))
    return found


def _of_the_vessel(container: str) -> str:
    """What is said of a container without what is said of its cap, pump or dropper."""
    parts = [_CAPPED.sub("", _CAP_OF.sub("", part)) for part in _PARTS.split(container)]
    return " ".join(part for part in parts if _VESSEL.search(part) or not _OF_CAP.search(part))


def handling(material: Material) -> list[Finding]:
    """How a solid or thick material is brought into solution."""
    if material.is_solid:
        return [Finding("dissolve-solid", {"name": material.short})]
    return [Finding("warm-thick", {"name": material.short})] if any(w in material.form for w in _THICK) else []
