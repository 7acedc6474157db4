# SPDX-License-Identifier: MIT
"""The physical data of a material by kind: label and unit, so that card and form say the same words."""

from __future__ import annotations

from dataclasses import dataclass

from desktop import figures
from desktop.language import tr
from perfumery import Property

# {how well a datum is known, as the book keeps it: as it is shown}
BASES = {"measured": tr("measured"), "estimated": tr("estimated"), "from memory": tr("from memory")}


@dataclass(frozen=True, slots=True)
class PropertyKind:
    """One kind of datum: its label, the unit of its figure, whether it is a text instead."""

    kind: str
    label: str
    unit: str = ""
    is_text: bool = False


KINDS: dict[str, PropertyKind] = {
    made.kind: made
    for made in (
        PropertyKind("note class", tr("note"), is_text=True),
        PropertyKind("boiling_point_c", tr("boils at"), "°C"),
        PropertyKind("melting_point_c", tr("melts at"), "°C"),
        PropertyKind("flash_point_c", tr("flash point"), "°C"),
        PropertyKind("density_kg_m3", tr("density"), "kg/m³"),
        PropertyKind("vapour_pressure_pa", tr("vapour pressure"), "Pa"),
        PropertyKind("odour_threshold_ug_m3", tr("odour threshold"), "µg/m³"),
        PropertyKind("log_kow", "log Kow"),
        PropertyKind("state", tr("state at 25 °C"), is_text=True),
        PropertyKind("molar_mass_g_mol", tr("molar mass"), "g/mol"),
        PropertyKind("formula", tr("formula"), is_text=True),
        PropertyKind("smiles", "SMILES", is_text=True),
    )
}


def kind_of(kind: str) -> PropertyKind:
    """The kind of this name; an unknown one, as typed by the perfumer, is its own label."""
    return KINDS.get(kind) or PropertyKind(kind, kind)


def shown(datum: Property) -> str:
    """The datum with its unit: '78.2 °C', or its text."""
    if datum.value is None:
        return datum.text or figures.UNKNOWN
    return figures.unit(figures.parts(datum.value), kind_of(datum.kind).unit)


def provenance(datum: Property) -> str:
    """How well it is known and where it is from: 'estimated · CRC organic table'."""
    return " · ".join(part for part in (BASES.get(datum.basis, datum.basis), datum.source) if part) or tr("source not known")


def in_order(data: tuple[Property, ...]) -> tuple[Property, ...]:
    """The data in the order a perfumer asks for them; kinds of her own last, as they were typed."""
    order = {kind: place for place, kind in enumerate(KINDS)}
    return tuple(sorted(data, key=lambda datum: order.get(datum.kind, len(order))))
