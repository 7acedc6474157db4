# SPDX-License-Identifier: MIT
"""Figures of a curve by the terms of ASTM E1909 (time-intensity evaluation), intensity words by VDI 3882 part 1.

Peak, areas, slopes and duration were read in an excerpt of ASTM E1909-97(2003), clause 3.1; the excerpt breaks off within the
duration, after "from the onset of sensation". The time of the peak is from memory, and that it is the first time of several is
our own choice. The curve is constructed to be checked by hand.
data/time_intensity.csv carries each row's source.
"""

import csv
import math
import re
from pathlib import Path

import pytest

from perfumery.smelling import INTENSITY_ANCHORS, area, crossing, curve_figures

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


def test_slopes_before_and_after_the_peak():
    """From the first reading to the first at the peak; from the last at the peak to the last reading."""
    assert (ROWS["T06"]["published_value"], ROWS["T07"]["published_value"]) == ("slope before the peak", "slope after the peak")
    increase, decrease = map(float, re.findall(r"[\d.]+", ROWS["T22"]["recomputed_value"]))
    figures = curve_figures(CURVE)
    (from_h, first), (to_h, last) = CURVE[0], CURVE[-1]
    assert (figures.peak - first) / (figures.peak_h - from_h) == pytest.approx(increase, abs=1e-6)
    assert (figures.peak - last) / (to_h - figures.peak_until_h) == pytest.approx(decrease, abs=1e-6)


def test_duration_begins_at_the_onset():
    assert ROWS["T08"]["published_value"].startswith("time measured from the onset of sensation")
    figures = curve_figures(CURVE)
    assert (figures.first_noticed_h, figures.duration_h, figures.gone_by_h) == (1, 15, 32)


def test_a_fall_below_a_level_differs_from_the_plain_time_figure():
    """The row interpolates on plain time (28.8); a dry-down falls by ratios of time, so ours lies on log time, between the same
    readings."""
    plain = float(re.search(r"to ([\d.]+) =", ROWS["T23"]["recomputed_value"])[1])
    found = crossing(CURVE, 0.05 * curve_figures(CURVE).peak)
    assert (found.after_h, found.before_h) == (16, 32)
    assert found.after_h + (20 - 4) / 20 * (found.before_h - found.after_h) == pytest.approx(plain, abs=1e-9)
    assert found.at_h == pytest.approx(16 * 2**0.8) and found.at_h < plain


def test_area_is_by_straight_trapezoids_not_by_logarithms():
    """An exponential fall from 100 to 50 in 30 min: the straight trapezoid is 2250, 4 % above the exact 2164."""
    exact, straight = map(float, re.findall(r"[\d.]+", ROWS["T25"]["recomputed_value"]))
    assert area(((0.0, 100.0), (30.0, 50.0)), 0.0, 30.0) == straight
    assert (100 - 50) * 30 / math.log(100 / 50) == pytest.approx(exact, abs=1e-3)


@pytest.mark.parametrize("row", [row for row in ROWS.values() if row["id"].startswith("L_VDI")], ids=lambda row: row["id"])
def test_intensity_word(row):
    assert INTENSITY_ANCHORS[int(row["inputs"])] == row["published_value"]
    assert len(INTENSITY_ANCHORS) == 7
