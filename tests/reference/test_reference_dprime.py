# SPDX-License-Identifier: MIT
"""d′ and shares of right answers against published values of the psychometric functions.

Each row of data/dprime.csv names its source: values stored with R. H. B. Christensen's functions (after Ennis 1993 and
Brockhoff & Christensen 2010), which were found there to about 1e-5, and the form of the table of Frijters, Kooistra &
Vereijken (1980); rows saying COMPUTED have no printed value.
"""

import csv
from pathlib import Path

import pytest

from perfumery import dprime, share_right
from perfumery.methods import DUO_TRIO, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE

with (Path(__file__).parent / "data" / "dprime.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = list(csv.DictReader(_file))
TESTS = {"triangle": (TRIANGLE,), "duo-trio": (DUO_TRIO,), "2-AFC": (PAIRED, PAIRED_ONE_SIDED), "3-AFC": (THREE_AFC,)}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['method']} {row['direction']} {row['input']}")
def test_psychometric_function(row):
    given, tolerance = float(row["input"]), float(row["suggested_tolerance"])
    decimals = len(row["recomputed_value"].partition(".")[2])
    for test in TESTS[row["method"]]:
        ours = share_right(test, given) if row["direction"] == "d' -> Pc" else dprime(test, given)
        assert ours == pytest.approx(float(row["published_value"] or row["recomputed_value"]), abs=tolerance)
        assert ours == pytest.approx(float(row["recomputed_value"]), abs=0.6 * 10**-decimals)
