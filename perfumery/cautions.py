# SPDX-License-Identifier: MIT
"""What is said before a formula is weighed, from what the materials' data say: fire, air, dust, skin.

Reminders, never an assessment: the supplier's safety data sheet and local law decide, and that is always said. Gloves, goggles
and moving air are said always (common practice, no source).

Fire: the flash points at which GHS and Regulation (EC) No 1272/2008 (CLP), Annex I, Table 2.6.1, call a liquid flammable: under
23 °C category 2 (1 where it boils at 35 °C or lower), 23 to 60 °C category 3. Ethanol is of category 2 by that table; it is known
here by its CAS number where no flash point was entered, and water the same way as what does not burn.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from perfumery.findings import Finding
from perfumery.values import Material

FLAMMABLE_C = 60.0
ETHANOL, WATER = "64-17-5", "7732-18-5"
# Pa at 25 °C from which on much of a material is in the room while it is weighed. A guess, no source: ethanol has 7900.
IN_THE_AIR_PA = 1000.0
_BURNS = re.compile(r"\b(highly |extremely )?(flammables?|inflammables?)\b", re.IGNORECASE)
_NOT = re.compile(r"\bnon[- ]?(in)?flammables?\b|\bnot (in)?flammable\b", re.IGNORECASE)
_SKIN = re.compile(r"\b(corrosive|caustic|irrita(nts?|tes|ting)|sensiti[sz](er|ing)|burns (the )?skin)\b", re.IGNORECASE)


def is_flammable(material: Material) -> bool | None:
    """Whether a flash point up to 60 °C, or what is written of the material's storage, says so; None where nothing is known."""
    flash = _figure(material, "flash_point")
    if flash is not None:
        return flash <= FLAMMABLE_C
    written = _NOT.sub("", _written(material))
    if material.cas == ETHANOL or _BURNS.search(written):
        return True
    return False if material.cas == WATER or written != _written(material) else None


def cautions(materials: Iterable[Material], powders: Iterable[Material] = ()) -> list[Finding]:
    """What to take care of where these materials are in what is weighed, the `powders` among them weighed as such; each with the
    names of those that call for it, the reminder of the safety data sheets last."""
    inside = list(dict.fromkeys(materials))
    burns = [material for material in inside if is_flammable(material)]
    unknown = [material for material in inside if is_flammable(material) is None]
    airy = [material for material in inside if (_figure(material, "vapour_pressure") or 0.0) >= IN_THE_AIR_PA]
    said = (
        ("caution-flame", burns),
        ("caution-flash-unknown", unknown),
        ("caution-air", [material for material in airy if material.cas != WATER]),
        ("caution-powder", list(dict.fromkeys(powders))),
        ("caution-skin", [material for material in inside if _SKIN.search(_written(material))]),
    )
    found = [Finding(code, {"names": tuple(material.short for material in own)}) for code, own in said if own]
    return [Finding("caution-always"), *found, Finding("caution-decides")]


def _figure(material: Material, kind: str) -> float | None:
    """The first figure of a kind, whatever its unit is written as behind it."""
    known = (datum.value for datum in material.properties if datum.kind.startswith(kind))
    return next((value for value in known if value is not None and math.isfinite(value)), None)


def _written(material: Material) -> str:
    """What somebody wrote of the material that may hold a warning."""
    return " · ".join((material.storage, *(datum.text for datum in material.properties if datum.text)))
