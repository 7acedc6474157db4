# SPDX-License-Identifier: MIT
"""What a balance can tell apart, and how far a weighed strength is known, against published rules and figures.

Each row of data/weighing.csv names its source: USP <41> (twice the repeatability at most 0.10 % of the smallest net weight,
so 2000 s, with s at least 0.41 d: 820 d), quoted by balance makers' sheets; rows saying COMPUTED have no printed value.
"""

import csv
import math
import re
from pathlib import Path

import pytest

from perfumery import Balance
from perfumery.dilution import Pour, mixed, mixed_u
from perfumery.weighing import FLOOR_OF_D, K, least_weight, line_error, net_u, share_errors

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


@pytest.mark.parametrize("row", [row for row in ROWS if row.startswith("W08_")])
def test_smallest_quantity_by_sensitivity(row):
    """Sensitivity requirement × 100 ÷ allowed error in percent, as pharmacists learn it (basicmedicalkey.com,
    pharmacalculation.com, uhphar-4330): what the balance leaves open, here 2u, may be that share of the mass. In mg."""
    requirement, percent = re.fullmatch(r"SR=([\d.]+) mg, error ([\d.]+) %", ROWS[row]["inputs"]).groups()
    balance = Balance("prescription", d_g=1e-6, s_g=float(requirement) / 1000 / K)
    found = least_weight(balance, float(percent) / 100) * 1000
    assert found == pytest.approx(figure(row), abs=float(ROWS[row]["suggested_tolerance"]))
    # and there the error is just what is allowed
    assert line_error(found / 1000, balance).relative * 100 == pytest.approx(float(percent))


def test_stated_limits_are_spread_evenly():
    """A tared weighing of the University of Tartu (GUM example weighing.smu): repeatability 0.17 mg, drift ± 0.2 mg and digits
    ± 0.05 mg, both rectangular. The digits are part of the repeatability here, the drift is the stated accuracy."""
    assert ROWS["W17"]["quantity"] == "u = sqrt(0.00017^2 + 0.0002^2/3 + 0.00005^2/3)"
    balance = Balance("Tartu", d_g=0.0001, s_g=math.hypot(0.00017, 0.00005 / math.sqrt(3)), accuracy_g=0.0002)
    assert net_u(balance) == pytest.approx(figure("W17"), abs=1e-15)


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
    # the share of a line in a trial is the same sum, k = 2
    assert share_errors((m1, m2), (u1, u2)) == (close(K * float(u)), close(K * float(u)))
