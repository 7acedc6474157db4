# SPDX-License-Identifier: MIT
"""What is said before a formula is weighed, by what the materials' data say."""

import pytest

from perfumery import Material, Property
from perfumery.cautions import cautions, is_flammable


def material(name: str = "Oil", **fields: object) -> Material:
    return Material(name=name, **fields)


def flash(celsius: float) -> Material:
    return material(properties=(Property("flash_point_c", celsius),))


@pytest.mark.parametrize("celsius, flammable", [(12.0, True), (23.0, True), (60.0, True), (60.1, False), (118.0, False)])
def test_flammable_up_to_sixty_degrees(celsius, flammable):
    """GHS and CLP, Annex I, Table 2.6.1: category 3 ends at 60 °C."""
    assert is_flammable(flash(celsius)) is flammable


def test_what_is_known_without_a_flash_point():
    assert is_flammable(material(cas="64-17-5")) is True
    assert is_flammable(material(storage="flammables cabinet")) is True
    assert is_flammable(material(cas="7732-18-5")) is False
    assert is_flammable(material(storage="non-flammable")) is False
    assert is_flammable(material()) is None
    # a figure comes before words; one that is no figure says nothing
    assert is_flammable(material(storage="flammables cabinet", properties=(Property("flash_point_c", 100.0),))) is False
    assert is_flammable(material(properties=(Property("flash_point_c", float("nan")), Property("flash_point_c", None)))) is None


def test_each_caution_names_what_calls_for_it():
    ethanol = material("Ethanol", cas="64-17-5", properties=(Property("vapour_pressure_pa", 7901.0),))
    ambroxide = material("Ambroxide", form="crystals")
    phenol = material("Phenol", storage="corrosive", properties=(Property("flash_point_c", 79.0),))
    water = material("Water", cas="7732-18-5", properties=(Property("vapour_pressure_pa", 3170.0),))
    said = cautions([ethanol, ambroxide, phenol, water, ethanol], [ambroxide])
    assert [(finding.code, finding.data.get("names")) for finding in said] == [
        ("caution-always", None),
        ("caution-flame", ("Ethanol",)),
        ("caution-flash-unknown", ("Ambroxide",)),
        ("caution-air", ("Ethanol",)),
        ("caution-powder", ("Ambroxide",)),
        ("caution-skin", ("Phenol",)),
        ("caution-decides", None),
    ]


def test_nothing_known_is_still_gloves_goggles_and_who_decides():
    assert [finding.code for finding in cautions([])] == ["caution-always", "caution-decides"]
