# SPDX-License-Identifier: MIT
"""Ranking against the example of ISO 8587 and published data.

Each row of data/ranking.csv names its source: ISO 8587:1988 annex A as reproduced on a page about it, with its formulas for the
least difference and Page's test; Demšar (2006, JMLR 7:1-30), as stored in scipy's tests. Row F05 is of a report that divides by
the wrong figure. Friedman's smallest exact probabilities are from memory.
"""

import csv
import re
from pathlib import Path

import pytest
from scipy.stats import rankdata

from perfumery import Refused, ranking, trend
from perfumery.ranks import chi_square_limit, chi_square_tail, friedman, least_difference, ties

with (Path(__file__).parent / "data" / "ranking.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

# Eight answers of our own with the rank sums of F01: the page gives the sums alone.
ANNEX = (
    (1, 5, 3, 4, 2), (1, 5, 4, 2, 3), (1, 5, 4, 3, 2), (2, 3, 5, 4, 1),
    (2, 4, 3, 5, 1), (3, 4, 5, 1, 2), (3, 4, 5, 2, 1), (4, 1, 3, 2, 5),
)  # fmt: skip
# Demšar (2006, JMLR 7:1-30), four methods on fourteen sets of data.
DEMSAR = (
    (0.763, 0.599, 0.954, 0.628, 0.882, 0.936, 0.661, 0.583, 0.775, 1.0, 0.94, 0.619, 0.972, 0.957),
    (0.768, 0.591, 0.971, 0.661, 0.888, 0.931, 0.668, 0.583, 0.838, 1.0, 0.962, 0.666, 0.981, 0.978),
    (0.771, 0.590, 0.968, 0.654, 0.886, 0.916, 0.609, 0.563, 0.866, 1.0, 0.965, 0.614, 0.9751, 0.946),
    (0.798, 0.569, 0.967, 0.657, 0.898, 0.931, 0.685, 0.625, 0.875, 1.0, 0.962, 0.669, 0.975, 0.970),
)
# Zar, Biostatistical Analysis, example 12.6, as stored in scipy's tests: F = 10.68, printed 0.005 < p < 0.01.
ZAR = ((7.0, 9.9, 8.5, 5.1, 10.3), (5.3, 5.7, 4.7, 3.5, 7.7), (4.9, 7.6, 5.5, 2.8, 8.4), (8.8, 8.9, 8.1, 3.3, 9.1))


def numbers(text):
    return [float(each) for each in re.findall(r"\d+(?:\.\d+)?", text)]


def test_example_of_the_standard():
    answers, samples, *sums = numbers(ROWS["F01"]["inputs"])
    assert (answers, samples) == (8, 5)
    value = pytest.approx(float(ROWS["F01"]["recomputed_value"]), abs=1e-9)
    assert friedman(sums, 8) == value
    said = ranking(ANNEX)
    assert list(said.sums) == sums and said.statistic == value
    assert said.p == pytest.approx(0.03145, abs=5e-6) and not said.is_exact
    assert "p=0.03145" in ROWS["F01"]["verified_how"] and "5 % limit 9.5" in ROWS["F01"]["published_value"]
    assert said.is_significant and round(said.needed, 1) == 9.5
    assert "order A E D B C" in ROWS["F01"]["source"]
    assert "".join("ABCDE"[at] for at in sorted(range(5), key=lambda at: sums[at])) == "AEDBC"
    assert set(said.apart) == {(0, 1), (0, 2), (4, 1), (4, 2)}  # A and E lie below B and C


def test_least_difference_of_rank_sums():
    answers, samples = map(int, numbers(ROWS["F02"]["inputs"]))
    wanted = pytest.approx(float(ROWS["F02"]["recomputed_value"]), abs=float(ROWS["F02"]["suggested_tolerance"]))
    assert least_difference(answers, samples) == ranking(ANNEX).least_difference == wanted


def test_limits_of_chi_square():
    rounded, full = numbers(ROWS["F03"]["published_value"]), numbers(ROWS["F03"]["recomputed_value"])
    tolerance = float(ROWS["F03"]["suggested_tolerance"])
    for samples, short, long in zip(range(2, 7), rounded, full, strict=True):
        limit = chi_square_limit(0.05, samples - 1)
        assert limit == pytest.approx(short, abs=tolerance) and limit == pytest.approx(long, abs=5.1e-4)


def test_a_report_that_divides_by_the_degrees_of_freedom():
    """Six samples (df = 5), seven answers: the least difference is 13.72; the report has 15.06."""
    assert "DISAGREES" in ROWS["F05"]["verified_how"]
    text = " ".join(ROWS["F05"].values())
    assert least_difference(7, 6) == pytest.approx(13.7197, abs=5e-4) and "13.7197" in text
    assert least_difference(7, 6) != pytest.approx(15.06, abs=1)


def test_correction_for_ties():
    """Row F10. In the tenth set of data all four are tied, which `ranking` refuses; F itself takes it."""
    rows = list(zip(*DEMSAR, strict=True))
    sums = [float(sum(column)) for column in zip(*(rankdata(row) for row in rows), strict=True)]
    assert str(sums) in ROWS["F10"]["inputs"]
    value, p = numbers(ROWS["F10"]["published_value"])
    ours = friedman(sums, 14, ties(rows))
    assert ours == pytest.approx(value, abs=1e-9)
    assert chi_square_tail(ours, 3) == pytest.approx(p, abs=1e-9)
    assert friedman(sums, 14) == pytest.approx(9.278571, abs=5e-7) and "uncorrected 9.278571" in ROWS["F10"]["recomputed_value"]
    with pytest.raises(Refused) as caught:
        ranking(rows)
    assert [(f.code, f.data["row"]) for f in caught.value.findings] == [("ranks-tied", 10)]


def test_limit_of_pages_test():
    answers, samples = map(int, numbers(ROWS["F20"]["inputs"]))
    wanted = pytest.approx(float(ROWS["F20"]["recomputed_value"]), abs=float(ROWS["F20"]["suggested_tolerance"]))
    assert (answers, samples) == (len(ANNEX), len(ANNEX[0]))
    assert trend(ANNEX).needed == pytest.approx(383.264, abs=0.01)
    # the page's formula takes 1.645 for the normal quantile 1.644854
    mean = 3 * 8 * 5 * 6**2 / 12
    assert mean + (trend(ANNEX).needed - mean) * 1.645 / 1.6448536269514722 == wanted


def test_exact_where_chi_square_is_only_near():
    said = ranking(tuple(zip(*ZAR, strict=True)))
    assert said.statistic == pytest.approx(10.68) and said.is_exact
    assert 0.005 < said.p < 0.01 < chi_square_tail(said.statistic, 3)


@pytest.mark.parametrize(
    "answers, samples, value, p", [(3, 3, 6.0, 0.028), (4, 3, 8.0, 0.0046), (2, 4, 6.0, 0.042), (5, 3, 10.0, 0.0008)]
)
def test_complete_agreement_of_few(answers, samples, value, p):
    """Friedman (1937) tabulated these; the figures are from memory: p = 1 / (P!)^(J − 1)."""
    said = ranking([range(1, samples + 1)] * answers)
    assert said.statistic == pytest.approx(value) and said.is_exact
    assert said.p == pytest.approx(p, abs=0.0005)
