# SPDX-License-Identifier: MIT
"""The forms of a material as they are shown: the book keeps the English word, and any word of one's own as it was typed."""

from __future__ import annotations

from desktop.language import tr

SHOWN = {
    "liquid": tr("liquid"),
    "viscous liquid": tr("viscous liquid"),
    "crystals": tr("crystals"),
    "powder": tr("powder"),
    "paste": tr("paste"),
    "resinoid": tr("resinoid"),
    "absolute": tr("absolute"),
    "concrete": tr("concrete"),
    "tincture": tr("tincture"),
    "essential oil": tr("essential oil"),
    "isolate": tr("isolate"),
    "solvent": tr("solvent"),
    "carrier": tr("carrier"),
}


def form_text(form: str) -> str:
    """A form as it is shown."""
    return SHOWN.get(form, form)


def form_of(text: str) -> str:
    """The form that a shown or typed text means."""
    return next((form for form, shown in SHOWN.items() if shown == text), text)
