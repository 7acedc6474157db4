# SPDX-License-Identifier: MIT
"""Figures of a curve by the terms of ASTM E1909 (time-intensity evaluation), intensity words by VDI 3882 part 1.

Peak and areas were read in an excerpt of ASTM E1909-97(2003), clause 3.1. The time of the peak is from memory, and that
it is the first time of several is our own choice. The curve is constructed to be checked by hand.
data/time_intensity.csv carries each row's source.
"""

import csv
import re
from pathlib import Path

import pytest

from perfumery.smelling import INTENSITY_ANCHORS, area, curve_figures

with (Path(__file__).parent / "data" / "time_intensity.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

_TIMES, _LEVELS = (
    [float(text) for text in re.search(rf"\b{letter}=([\d,]+)", ROWS["T20"]["inputs"])[1].split(",")] for letter in "tI"
)
CURVE = tuple(zip(_TIMES, _LEVELS, strict=True))
WANTED = ROWS["T20"]["recomputed_value"]


def wanted(name):
    return float(re.search(rf"{name}\s?=?\s?([\d.]+)", WANTED)[1])


def test_peak_is_the_maximum_observed_intensity():
    assert ROWS["T01"]["published_value"] == "maximum observed intensity"
    assert curve_figures(CURVE).peak == wanted("Imax") == 80


def test_time_of_the_peak_is_the_first_time_of_it():
    assert curve_figures(CURVE).peak_h == wanted("Tmax") == 2


def test_area_under_the_curve():
    assert ROWS["T02"]["published_value"] == "area under the curve"
    assert area(CURVE, 0, 32) == pytest.approx(wanted("AUC"), abs=1e-9)


def test_area_before_and_after_the_peak():
    peak_h = curve_figures(CURVE).peak_h
    assert area(CURVE, 0, peak_h) == pytest.approx(wanted("before first peak"), abs=1e-9)
    assert area(CURVE, peak_h, 32) == pytest.approx(wanted("after"), abs=1e-9)
    assert wanted("before first peak") + wanted("after") == wanted("AUC")


def test_last_noticed_is_the_last_reading_above_zero():
    figures = curve_figures(CURVE)
    assert (figures.last_noticed_h, figures.still_noticed) == (16, False)


@pytest.mark.parametrize("row", [row for row in ROWS.values() if row["id"].startswith("L_VDI")], ids=lambda row: row["id"])
def test_intensity_word(row):
    assert INTENSITY_ANCHORS[int(row["inputs"])] == row["published_value"]
    assert len(INTENSITY_ANCHORS) == 7
