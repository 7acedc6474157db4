# SPDX-License-Identifier: MIT
"""What a balance can tell apart, and how far a weighed strength is known, against published rules and figures.

Each row of data/weighing.csv names its source: USP <41> (twice the repeatability at most 0.10 % of the smallest net weight,
so 2000 s, with s at least 0.41 d: 820 d), quoted by balance makers' sheets; rows saying COMPUTED have no printed value.
"""

import csv
import re
from pathlib import Path

import pytest

from perfumery import Balance
from perfumery.dilution import Pour, mixed, mixed_u
from perfumery.weighing import FLOOR_OF_D, least_weight, net_u

with (Path(__file__).parent / "data" / "weighing.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

TOLERANCE = 0.001


def close(value):
    return pytest.approx(value, rel=1e-6)


def figure(row):
    return float(ROWS[row]["published_value"] or ROWS[row]["recomputed_value"])


def named(row):
    """{name: figure} of a row's inputs: "s=0.004 g, d=0.01 g"."""
    return {name: float(value) for name, value in re.findall(r"(\w+)\s*=\s*([\d.e-]+)", ROWS[row]["inputs"])}


@pytest.mark.parametrize("row", [row for row in ROWS if row.startswith("W02_")])
def test_smallest_weight_by_repeatability(row):
    """Printed in mg; a step fine enough that only the repeatability counts."""
    s_mg = named(row)["s"]
    assert ROWS[row]["unit"] == "mg"
    assert least_weight(Balance("B", d_g=s_mg / 10_000, s_g=s_mg / 1000), TOLERANCE) * 1000 == close(figure(row))


def test_smallest_weight_of_the_chapters_own_example():
    assert least_weight(Balance("B", d_g=1e-5, s_g=named("W01")["s"]), TOLERANCE) == close(figure("W01"))


def test_floor_is_820_steps():
    assert least_weight(Balance("ideal", d_g=1.0, s_g=0.0), TOLERANCE) == close(figure("W03"))


@pytest.mark.parametrize("row", [row for row in ROWS if row.startswith("W05_")])
def test_an_ideal_balance_stands_on_the_floor(row):
    assert least_weight(Balance("ideal", d_g=named(row)["d"]), TOLERANCE) == close(figure(row))


@pytest.mark.parametrize("row", [row for row in ROWS if row.startswith("W06_")])
def test_the_larger_of_repeatability_and_floor_counts(row):
    given = named(row)
    assert least_weight(Balance("B", d_g=given["d"], s_g=given["s"]), TOLERANCE) == close(figure(row))


@pytest.mark.parametrize("row", [row for row in ROWS if row.startswith("W07_")])
def test_another_tolerance(row):
    given = named(row)
    balance = Balance("B", d_g=given["d"], s_g=given["s_eff"])
    assert net_u(balance) == given["s_eff"]
    assert least_weight(balance, given["tol"]) == close(figure(row))


@pytest.mark.parametrize("row", [row for row in ROWS if row.startswith("W22_")])
def test_floor_is_the_resolution_of_two_readings(row):
    """d ÷ √6, printed as 0.41 d."""
    d_g = named(row)["d"]
    assert round(figure(row) / d_g, 2) == FLOOR_OF_D
    assert net_u(Balance("B", d_g=d_g)) == pytest.approx(figure(row), rel=0.005)


def test_uncertainty_of_a_weighed_strength():
    (m1, u1), (m2, u2) = ((float(m), float(u)) for m, u in re.findall(r"m\d=([\d.]+)\(([\d.]+)\)", ROWS["W38"]["inputs"]))
    pours = (Pour({1: 1.0}, m1, u1), Pour({2: 1.0}, m2, u2))
    share, u = re.match(r"([\d.]+) u=([\d.e-]+)", ROWS["W38"]["recomputed_value"]).groups()
    assert (mixed(pours)[1], mixed_u(pours)[1]) == (close(float(share)), close(float(u)))
