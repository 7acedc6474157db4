# SPDX-License-Identifier: MIT
"""Which bottle each line is weighed from: enough counts, an accord is opened where its bottle is short, the neat amount stays."""

from dataclasses import dataclass
from datetime import date

import pytest

from perfumery import Bottle, Line, Version
from perfumery.picking import Held, choices_for, is_ready, off_label, picked, same_neat

LEMON, AMBER, ETHANOL = 1, 2, 3


@dataclass(frozen=True)
class Row:
    bottle: Bottle
    left_g: float | None = 10.0
    strength: float | None = 1.0

    @property
    def key(self) -> int:
        return self.bottle.key or 0


def lemon(key: int, left_g: float | None = 10.0, **fields) -> Row:
    return Row(Bottle(f"M01-{key}", material=LEMON, key=key, **fields), left_g)


AMBER_10 = Row(Bottle("K19", "dilution", material=AMBER, strength=0.1, carrier=ETHANOL, key=20), 10.0, 0.105)
ALCOHOL = Row(Bottle("S01", material=ETHANOL, key=30), 100.0)
ACCORD = Version(1, "A-1", (Line(3.0, LEMON, key=11), Line(1.0, AMBER, strength=0.1, carrier=ETHANOL, key=12)),
                 name="Stone", key=5)  # fmt: skip
OWN = Row(Bottle("A-1", "accord", version=5, key=40), 2.0, None)
WHOLE = Version(1, "SR-1", (Line(60.0, LEMON, key=1), Line(40.0, accord=5, key=2), Line(0.0, ETHANOL, key=3)), key=6)


def codes(picks) -> list[tuple[str, float]]:
    return [("" if pick.row is None else pick.row.bottle.code, pick.target_g) for pick in picks]


def test_the_bottle_opened_first_is_offered_first_and_an_empty_one_last() -> None:
    first, second = lemon(1, 0.0, opened_on="2024-01-01"), lemon(2, opened_on="2025-01-01")
    gone = lemon(3, gone_on="2025-02-01")
    line = Line(1.0, LEMON)
    assert choices_for((gone, second, first, AMBER_10), line) == (second, first)
    held = Held((gone, second, first, AMBER_10, OWN))
    assert held.choices(line) is held.choices(line) and held.of_material(LEMON) == (second, first)
    assert held.choices(Line(1.0, accord=5)) == (OWN,)


def test_enough_counts_and_lines_of_one_stock_share_what_is_left() -> None:
    rows = (lemon(1, 1.0, opened_on="2024-01-01"), lemon(2, None))
    held = Held(rows)
    twice = Version(1, "SR-2", (Line(1.0, LEMON, key=1), Line(1.0, LEMON, key=2)), key=7)
    assert codes(picked(twice, 1.6, {}, held.choices)) == [("M01-1", 0.8), ("M01-2", 0.8)]
    assert codes(picked(twice, 1.6, {}, held.choices, chosen={1: 2})) == [("M01-2", 0.8), ("M01-1", 0.8)]
    assert codes(picked(twice, 1.6, {}, Held(rows[:1]).choices)) == [("M01-1", 0.8), ("M01-1", 0.8)], "none holds enough"
    assert codes(picked(twice, 1.6, {}, lambda line: ())) == [("", 0.8), ("", 0.8)]
    assert picked(Version(1, "SR-3"), 1.0, {}, held.choices) == []


def test_a_bottle_that_is_still_dissolving_comes_after_all_that_hold_anything() -> None:
    today, later = date(2025, 3, 3), date(2025, 3, 4)
    waits, open_one = lemon(1, opened_on="2024-01-01", ready_on=later), lemon(2, 0.1, opened_on="2025-01-01", ready_on=today)
    line, one = Line(1.0, LEMON, key=1), Version(1, "SR-2", (Line(1.0, LEMON, key=1),), key=7)
    assert choices_for((waits, open_one), line) == (waits, open_one), "nobody said which day it is"
    held = Held((waits, open_one), today)
    assert held.choices(line) == (open_one, waits)
    assert codes(picked(one, 1.0, {}, held.choices, today=today)) == [("M01-2", 1.0)], "though it holds too little"
    assert codes(picked(one, 1.0, {}, held.choices, today=today, chosen={1: 1})) == [("M01-1", 1.0)]
    assert codes(picked(one, 1.0, {}, Held((waits, lemon(2, 0.0)), today).choices, today=today)) == [("M01-1", 1.0)]
    assert is_ready(waits.bottle, later) and not is_ready(waits.bottle, today) and is_ready(waits.bottle, None)


def test_an_accord_comes_from_its_bottle_or_is_opened() -> None:
    held = Held((lemon(1), AMBER_10, OWN))
    whole = picked(WHOLE, 4.0, {5: ACCORD}, held.choices)
    assert codes(whole) == [("M01-1", 2.4), ("A-1", 1.6)] and whole[1].accord_line == 2
    opened = picked(WHOLE, 10.0, {5: ACCORD}, held.choices)
    assert codes(opened) == [("M01-1", 6.0), ("M01-1", 3.0), ("K19", 1.0)]
    assert [pick.inside for pick in opened] == [None, ACCORD, ACCORD] and opened[2].accord_line == 2
    assert codes(picked(WHOLE, 10.0, {5: ACCORD}, held.choices, closed=[2]))[1] == ("A-1", 4.0)
    assert len(picked(WHOLE, 4.0, {5: ACCORD}, held.choices, opened=[2])) == 3


@pytest.mark.parametrize(
    ("label", "true", "off"),
    [(0.1, 0.01108, -0.8892), (0.1, 0.105, None), (0.1, 0.1051, 0.051), (0.1, None, None), (1.0, 1.0, None)],
)
def test_a_bottle_off_its_label_by_more_than_the_tolerance(label: float, true: float | None, off: float | None) -> None:
    row = Row(Bottle("K2", "dilution", material=AMBER, strength=label, carrier=ETHANOL, key=21), 10.0, true)
    assert off_label(row, 0.0501) == (None if off is None else pytest.approx(off))


def test_a_stock_off_its_strength_gives_the_same_neat_amount() -> None:
    thinned = Version(1, "SR-4", (Line(20.0, AMBER, strength=0.1, carrier=ETHANOL, key=1), Line(80.0, ETHANOL, key=2)), key=8)
    held = Held((AMBER_10, ALCOHOL))
    picks = picked(thinned, 5.0, {}, held.choices)
    assert codes(picks) == [("K19", 1.0), ("S01", 4.0)]
    assert [pick.target_g for pick in same_neat(picks)] == pytest.approx([1 / 1.05, 5 - 1 / 1.05], abs=1e-9)
    assert same_neat(picks, lambda row: 0.1) == picks, "as written"
    assert same_neat(picks, lambda row: None) == picks, "not known"
    tiny = picked(thinned, 5.0, {}, held.choices)
    tiny[1] = type(tiny[1])(tiny[1].line, 0.01, tiny[1].row)
    assert same_neat(tiny, lambda row: 0.05)[1].target_g == 0.01, "no carrier to take so much from"
    plain = Row(Bottle("K1", "dilution", material=AMBER, strength=0.1, carrier=ETHANOL, key=21))
    alone = picked(Version(1, "SR-5", thinned.lines[:1], key=9), 1.0, {}, lambda line: (plain,))
    assert same_neat(alone, lambda row: 0.2)[0].target_g == 0.5
