# SPDX-License-Identifier: MIT
"""Vessels: what goes in, and what glass, cap and contents ask for. Nothing is said of what is not known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Bottle, Material
from perfumery.vessel import container_cautions, density_of, fit, handling

LEMON, ETHANOL, RESIN = 1, 2, 3
DENSITIES = {LEMON: 0.85, ETHANOL: 0.79, RESIN: None}


def codes(findings):
    return [finding.code for finding in findings]


def test_density_of_a_mixture_by_hand():
    """10 g of 0.85 and 90 g of 0.79 take 11.765 + 113.924 ml: 100 ÷ 125.689 = 0.7956."""
    assert density_of({LEMON: 0.1, ETHANOL: 0.9}, DENSITIES) == pytest.approx(0.79562, abs=1e-5)
    assert density_of({ETHANOL: 1.0}, DENSITIES) == pytest.approx(0.79)
    # what has none is taken to be like the rest
    assert density_of({LEMON: 0.05, ETHANOL: 0.45, RESIN: 0.5}, DENSITIES) == pytest.approx(0.79562, abs=1e-5)
    assert density_of({RESIN: 1.0}, DENSITIES) is None and density_of({}, DENSITIES) is None


@given(st.lists(st.tuples(st.floats(0.01, 1), st.floats(0.6, 1.6)), min_size=1, max_size=6))
def test_density_of_a_mixture_lies_between_those_of_its_parts(parts):
    total = sum(weight for weight, _ in parts)
    shares = {key: weight / total for key, (weight, _) in enumerate(parts)}
    known = {key: rho for key, (_, rho) in enumerate(parts)}
    assert min(known.values()) - 1e-9 <= density_of(shares, known) <= max(known.values()) + 1e-9


def test_what_goes_into_a_vessel_and_what_is_left_to_shake_in():
    """20 g at 0.8 g/ml are 25 ml: 30 ml keep a tenth free, 27 ml do not, 24 ml do not hold it."""
    assert fit(20, 0.8, 30, 0.1) == []
    (small,) = fit(20, 0.8, 27, 0.1)
    assert small.code == "head-space-small"
    assert small.data == pytest.approx({"fills_ml": 25, "volume_ml": 27, "most_g": 27 * 0.9 * 0.8})
    (over,) = fit(20, 0.8, 24, 0.1)
    assert over.code == "vessel-too-small" and over.data["most_g"] == pytest.approx(17.28)
    assert fit(20, 0.8, 25, 0.0) == []
    assert fit(20, None, 10, 0.1) == fit(20, 0.8, None, 0.1) == []


@pytest.mark.parametrize(
    "container, liner, said",
    [
        ("amber glass bottle 30 ml", "PTFE-faced", []),
        ("HDPE bottle", "", ["container-plastic"]),
        ("PET", "", ["container-plastic"]),
        ("plastic-coated glass bottle", "", []),
        ("", "none", ["liner-none"]),
        ("amber glass bottle", "Cork", ["liner-none"]),
        ("amber glass bottle", "polyethylene cone", []),
        ("dropper bottle, glass", "", ["dropper-rubber"]),
        ("amber glass bottle", "rubber", ["dropper-rubber"]),
        ("polypropylene", "cardboard", ["container-plastic", "liner-none"]),
        ("", "", []),
        # plastic of the cap is not plastic of the vessel, wherever it is said
        ("aluminium bottle, PP cap", "", []),
        ("amber bottle with plastic cap", "", []),
        ("amber bottle, black PP screw cap", "", []),
        ("amber bottle PP cap", "", []),
        ("plastic-capped amber bottle", "", []),
        ("plastic bottle, metal cap", "", ["container-plastic"]),
        ("PET bottle with screw cap", "", ["container-plastic"]),
        ("PP screw-cap jar", "", ["container-plastic"]),
        ("PET spray bottle", "", ["container-plastic"]),
        ("HDPE dropper bottle", "", ["container-plastic", "dropper-rubber"]),
        ("PET bottle with glass dropper", "", ["container-plastic", "dropper-rubber"]),
        ("plastic-coated glass", "", []),
        # a word is not yet a cap without a liner
        ("", "no. 3 cone", []),
        ("", "paper-backed PTFE", []),
        ("", "silicone, cork-lined outside", []),
        ("", "No liner", ["liner-none"]),
        ("", "without a liner", ["liner-none"]),
        ("", "unlined metal cap", ["liner-none"]),
        ("", "plain cork", ["liner-none"]),
        ("", "paper disc", ["liner-none"]),
        ("", "card", ["liner-none"]),
    ],
)
def test_what_is_said_against_a_container(container, liner, said):
    assert codes(container_cautions(Bottle("K1", container=container, liner=liner))) == said


def test_a_dropper_that_stays_in_is_said_whatever_the_container():
    assert codes(container_cautions(Bottle("K1", dropper_on="2025-01-10"))) == ["dropper-rubber"]


def test_solids_are_dissolved_and_thick_things_warmed():
    (solid,) = handling(Material("Ambroxide", form="crystals", bench_name="Ambrox"))
    assert (solid.code, solid.data) == ("dissolve-solid", {"name": "Ambrox"})
    for form in ("paste", "resinoid", "absolute", "concrete", "viscous liquid"):
        (thick,) = handling(Material("Labdanum", form=form))
        assert (thick.code, thick.data) == ("warm-thick", {"name": "Labdanum"})
    assert handling(Material("Lemon oil", form="essential oil")) == []
