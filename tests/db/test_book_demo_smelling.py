# SPDX-License-Identifier: MIT
"""The demo studio's strips put to the sums of smelling: repeats and own noise, blind codes, benchmark, pauses, all from the book.

The expected figures were reckoned beforehand from the studio's data by another program.
"""

from random import Random

import pytest

from db import Book
from perfumery import (
    Dipped,
    Sitting,
    Strip,
    blind_codes,
    own_noise,
    pacing,
    relative,
    repeat_pairs,
    series,
    stagger,
    strip_figures,
    todays_nose,
)
from perfumery.nose import due_intensities


def dipped(book: Book, strip: Strip) -> Dipped:
    """A strip with what it was dipped in, as the book tells it."""
    origin = book.origin(strip.bottle)
    strength, carrier = (strip.strength, strip.carrier) if strip.strength else (origin.bottle.strength, origin.bottle.carrier)
    vial = strip.bottle if origin.making is None else origin.making.into_bottle
    readings = book.readings((strip.key,))[strip.key]
    return Dipped(strip, readings, vial, origin.concentrate_at, origin.alcohol_at, strength, carrier)


@pytest.fixture
def strips(studio) -> dict[str, Dipped]:
    return {strip.code: dipped(studio, strip) for strip in studio.all(Strip)}


def test_the_repeats_are_found_in_the_book(strips):
    pairs = repeat_pairs(strips.values())
    assert {(pair.first.code, pair.second.code): pair.differences for pair in pairs} == {
        ("P08", "P10"): (0.5, 0, 0, -0.5, 0, 0, -0.5, 0),
        ("P11", "P13"): (0, 0, -0.5, 0, 0, -0.5, 0, 0),
        ("P14", "P15"): (0, -0.5, 0, 0.5, 0, 0, 0.5, -1),
    }
    assert [sum(d * d for d in pair.differences) for pair in pairs] == [0.75, 0.5, 1.75]


def test_own_noise_greys_half_a_step_and_counts_a_whole_one(strips):
    noise = own_noise(repeat_pairs(strips.values()))
    assert (noise.s, noise.pairs, noise.count) == (0.25, 3, 24)
    assert round(noise.limit, 3) == 0.693
    assert (noise.counts(0.5), noise.counts(1.0), noise.counts(-1.0)) == (False, True, True)
    assert own_noise(repeat_pairs(d for code, d in strips.items() if code != "P15")) is None


def test_trials_of_one_version_at_ages_apart_are_no_repeat(strips):
    """SR-3 at 6 and at 21 days: two curves, though nowhere half a step apart by more than one's own noise."""
    assert repeat_pairs([strips["P04"], strips["P07"]]) == ()
    assert repeat_pairs([strips["P05"], strips["P12"]]) == ()


# strip: area 2 min to 8 h, h below 2.5, h below 1, h at which it was first read as gone; None where no reading shows it
FIGURES = {
    "P01": (21.779, 4.00, 24.00, None),
    "P02": (24.467, 5.66, 33.94, None),
    "P03": (23.025, 4.00, 24.00, None),
    "P04": (27.913, 24.00, None, None),
    "P05": (None, 2.21, None, None),
    "P06": (27.967, 13.86, None, None),
    "P07": (27.671, 24.00, None, None),
    "P08": (24.413, 5.66, 33.94, None),
    "P09": (None, None, None, None),
    "P10": (23.817, 5.80, 24.00, None),
    "P11": (25.467, 8.00, 33.94, None),
    "P12": (None, 2.00, None, None),
    "P13": (24.029, 5.66, 33.94, None),
    "P14": (27.967, 13.86, None, None),
    "P15": (28.475, 24.00, 40.36, None),
    "P16": (35.754, None, None, None),
    "P17": (8.583, 1.00, 2.83, 8.0),
    "P18": (21.400, 24.00, None, None),
}


@pytest.mark.parametrize("code", FIGURES)
def test_all_figures_of_a_strip_at_once(strips, code):
    each = strips[code]
    curve = series(each.readings, each.strip)
    found = strip_figures(curve)
    falls = [below.fall and round(below.fall.at_h, 2) for below in found.below]
    assert (found.area and round(found.area, 3), *falls, found.curve.gone_by_h) == FIGURES[code]
    # what has not fallen below a level by the last reading says until when that is known
    assert [below.not_by_h for below in found.below] == [curve[-1][0] if fall is None else None for fall in falls]
    assert found.curve.still_noticed is (code != "P17")
    assert found.curve.peak_h == curve[0][0]  # every one of them is strongest at first
    assert found.curve.duration_h == pytest.approx((4 if code == "P17" else curve[-1][0]) - curve[0][0])


def test_only_the_benchmark_s_crossings_are_wide(strips):
    wide = set()
    for code, each in strips.items():
        found = strip_figures(series(each.readings, each.strip), levels=(2.5,))
        if found.below[0].fall is not None and found.below[0].fall.is_wide:
            wide.add(code)
    assert wide == {"P05", "P12"}


def test_curves_beside_the_benchmark_of_their_sitting(strips):
    """H-0 was read at 2 min, 15 min, 1 h and 24 h: between the last two nobody knows where it stood."""
    beside = relative(*(series(strips[code].readings, strips[code].strip) for code in ("P04", "P05")))
    known = {round(t, 2): difference for t, difference in beside if difference is not None}
    assert {0.03, 0.25, 1.0, 24.0} <= set(known)
    assert {2.0, 4.0, 8.0}.isdisjoint(known)


def test_two_sittings_with_the_benchmark_do_not_make_a_nose(strips):
    today, earlier = (due_intensities(strips[code].readings, strips[code].strip) for code in ("P12", "P05"))
    assert todays_nose(today, [earlier]) is None
    assert todays_nose(today, [earlier] * 5).deviation is None  # the same figures five times have no spread


def test_the_first_sitting_stands_as_its_stand_would_be_proposed(studio, strips):
    """Five strips three minutes apart, as they were dipped by hand."""
    sitting = studio.get(Sitting, "S1")
    own = [each.strip for each in strips.values() if each.strip.sitting == sitting.key]
    dues = own[0].reading_times
    zone = own[0].dipped_at.tzinfo
    found = stagger(5, dues, 1, (sitting.at.time(), sitting.at.time()), first_at=own[0].dipped_at, zone=zone)
    assert list(found.dips) == [strip.dipped_at for strip in own]


def test_codes_taken_lately_do_not_come_again(studio):
    taken = [strip.blind_code for strip in studio.all(Strip) if strip.blind_code]
    codes = blind_codes(8, Random(2025), taken)
    assert len(set(codes)) == 8 and set(codes).isdisjoint(taken)


def test_five_first_readings_in_a_quarter_of_an_hour_need_no_rest(strips):
    first = sorted(each.readings[0].at for code, each in strips.items() if code in ("P01", "P02", "P03", "P04", "P05"))
    assert pacing(first, first[-1]).rest_s == 0
    assert pacing([*first, *[first[-1]] * 5], first[-1]).rest_s == 300
