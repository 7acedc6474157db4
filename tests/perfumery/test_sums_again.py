# SPDX-License-Identifier: MIT
"""Whether a version can be made again: which bottle then and today, whose lot, how strong, how much, at what price."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import pytest

from perfumery import Bottle, Dipped, Drift, Line, Making, Material, Move, OwnNoise, Reading, Refused, Shelf, Strip, Version
from perfumery.again import again_today, with_smelled
from perfumery.again_line import true_strength
from perfumery.instants import instant
from perfumery.lots import Beside, Lots, Source, beside

LEMON, AMBER, ETHANOL = 1, 2, 3
WEIGHED = instant("2025-02-26T10:00+01:00")
TODAY = date(2025, 4, 10)
MATERIALS = {
    LEMON: Material("Lemon oil", key=LEMON), AMBER: Material("Ambroxide", form="crystals", key=AMBER),
    ETHANOL: Material("Ethanol", is_carrier=True, key=ETHANOL),
}  # fmt: skip
PRICES = {LEMON: 0.09, AMBER: 1.1, ETHANOL: 0.012}
INNER = (Line(3.0, LEMON, key=11), Line(1.0, AMBER, strength=0.1, carrier=ETHANOL, key=12))
ACCORD = Version(1, "A-1", INNER, key=5, name="Stone")
SR = Version(
    1, "SR-1", (Line(60.0, LEMON, key=1), Line(30.0, AMBER, strength=0.1, carrier=ETHANOL, key=2), Line(10.0, accord=5, key=3)),
    key=6,
)  # fmt: skip
TRIAL = Making("trial", 90, WEIGHED, code="T-001", version=6, finished_at=WEIGHED, key=91)


@dataclass(frozen=True)
class Row:
    bottle: Bottle
    left_g: float | None = 50.0
    strength: float | None = None
    drift: Drift | None = None
    retest_on: date | None = None

    @property
    def key(self) -> int:
        return self.bottle.key or 0


def lemon(key: int, lot: str = "", **fields) -> Bottle:
    return Bottle(f"M01-{key}", material=LEMON, lot=lot, key=key, price_per_g=0.1, **fields)


def amber(key: int, code: str, **fields) -> Bottle:
    return Bottle(code, "dilution", material=AMBER, strength=0.1, carrier=ETHANOL, key=key, **fields)


NEAT = Bottle("M19-1", material=AMBER, lot="L6", price_per_g=1.0, key=20)
NEAT_2 = Bottle("M19-2", material=AMBER, lot="L7", price_per_g=2.0, key=21)
S01 = Bottle("S01-1", material=ETHANOL, price_per_g=0.01, key=30)
FIRST, K19, STONE = lemon(1, "L1", received_on="2024-11-01"), amber(22, "K19"), Bottle("A-1", "accord", version=5, key=40)
MADE = (
    Source(22, 20, 2.0, WEIGHED - timedelta(days=9)), Source(22, 30, 18.0, WEIGHED - timedelta(days=9)),
    Source(40, 1, 3.0, WEIGHED - timedelta(days=8), 11), Source(40, 22, 1.0, WEIGHED - timedelta(days=8), 12),
    Source(40, 77, 0.1, WEIGHED - timedelta(days=8)),
)  # fmt: skip


def figure(line: int | None, bottle: int, mass_g: float, key: int) -> Move:
    return Move(WEIGHED, "pour", mass_g, bottle, 90, making=91, line=line, key=key)


FIGURES = (figure(1, 1, 0.6, 1), figure(2, 22, 0.3, 2), figure(3, 40, 0.1, 3))


def asked(*rows: Row, version=SR, amount=1.0, trial=TRIAL, figures=FIGURES, sources=MADE, materials=MATERIALS, more=()):
    bottles = [row.bottle for row in rows] + [NEAT, S01, *more]
    return again_today(
        version, amount, Shelf(materials, {5: ACCORD}, prices=PRICES), rows, Lots(bottles, sources, PRICES), today=TODAY,
        tolerance=0.05, trial=trial, figures=figures,
    )  # fmt: skip


ALL = (Row(FIRST), Row(K19, strength=0.1), Row(STONE, 2.0))


def said(found) -> dict[str, list[str]]:
    return {line.name: [one.code for one in line.findings] for line in found.lines if line.findings}


def verdicts(found) -> list[str]:
    return [line.verdict for line in found.lines]


# the lines ----------------------------------------------------------------------------------------------------------------


def test_all_as_before() -> None:
    found = asked(*ALL)
    assert (found.identical, len(found.lines), said(found), found.findings) == (3, 3, {}, ())
    assert verdicts(found) == ["same bottle"] * 3 and found.bottles == {1: 1, 2: 22, 3: 40}
    assert found.lines[0].then[0].mass_g == 0.6 and found.lines[0].left_g == 50.0
    assert (found.largest_g, found.held_back_by.name) == (20.0, "Stone")


def test_prices_are_those_of_the_very_bottles() -> None:
    """K19 is (2 × 1.0 + 18 × 0.01) ÷ 20 = 0.109; the accord's price is not known, for something unknown went into it."""
    found = asked(*ALL)
    assert [line.price_now for line in found.lines] == [0.1, pytest.approx(0.109), None]
    assert found.cost_then == pytest.approx(0.6 * 0.1 + 0.3 * 0.109) and found.unpriced == (("Stone",), ("Stone",))
    dear = asked(Row(lemon(2, "L2")), *ALL[1:], more=(FIRST,))
    assert dear.cost_now == pytest.approx(0.6 * 0.1 + 0.3 * 0.109)
    nothing = asked(*ALL, version=Version(1, "SR-0", key=7), figures=())
    assert (nothing.cost_then, nothing.cost_now, nothing.largest_g) == (None, None, None)
    assert [one.code for one in nothing.findings] == ["no-lines"]


def test_the_lot_of_then_first_though_another_was_opened_before() -> None:
    older, brother = lemon(7, "L0", opened_on="2020-01-01"), lemon(8, "L1", opened_on="2024-12-01")
    found = asked(Row(older), *ALL)
    assert found.lines[0].today == FIRST and found.lines[0].verdict == "same bottle"
    gone = Bottle("M01-1", material=LEMON, lot="L1", gone_on="2025-04-01", key=1)
    found = asked(Row(older), Row(gone), Row(brother), *ALL[1:])
    assert (found.lines[0].today, found.lines[0].verdict) == (brother, "same lot")
    assert said(found) == {"Lemon oil": ["again-other-bottle"]} and found.identical == 3, "the same lot is as before"
    empty = asked(Row(older), Row(FIRST, 0.0), *ALL[1:])
    assert empty.lines[0].today == older


def test_another_lot_says_whether_it_is_a_new_one() -> None:
    newer = lemon(9, "L9", received_on="2025-03-01")
    found = asked(Row(FIRST, 0.1), Row(newer), *ALL[1:])
    assert verdicts(found)[0] == "another lot" and not found.lines[0].is_identical
    (finding,) = found.lines[0].graves
    assert finding.data == {"name": "Lemon oil", "code": "M01-9", "was": "M01-1", "is_newer": True}
    assert found.lines[0].lots == (frozenset({1}), frozenset({9}))
    gone = Row(lemon(1, "L1", received_on="2024-11-01", gone_on="2025-04-01"))
    older = asked(gone, Row(lemon(9, "L0", received_on="2020-01-01")), *ALL[1:])
    assert older.lines[0].findings[0].data["is_newer"] is False


def test_lots_follow_what_a_dilution_was_made_of() -> None:
    same, other = amber(23, "K30"), amber(24, "K31")
    later = WEIGHED + timedelta(days=20)
    made = (*MADE, Source(23, 20, 1.0, later), Source(24, 21, 1.0, later))
    gone = Bottle("K19", "dilution", material=AMBER, strength=0.1, carrier=ETHANOL, gone_on="2025-04-01", key=22)
    found = asked(ALL[0], ALL[2], Row(gone), Row(same, strength=0.1), sources=made)
    assert found.lines[1].verdict == "same lot"
    found = asked(ALL[0], ALL[2], Row(gone), Row(other, strength=0.1), Row(NEAT_2), sources=made)
    assert found.lines[1].verdict == "another lot" and found.lines[1].lots == (frozenset({20, 22}), frozenset({21, 24}))


def test_a_bottle_topped_up_with_another_lot_is_not_what_it_was() -> None:
    made = (*MADE, Source(22, 21, 1.0, WEIGHED + timedelta(days=20)))
    found = asked(*ALL, Row(NEAT_2), sources=made)
    assert said(found) == {"Ambroxide": ["again-topped-up"]} and found.lines[1].lots is None
    assert found.identical == 2
    assert found.lines[1].price_now > found.lines[1].price_then


def test_a_drifting_dilution_gives_the_same_neat_amount() -> None:
    drift = Drift(13.6, 12.95, 0.65, 0.02, 0.1, 0.1 * 13.6 / 12.95, 0.22, None)
    strong = Row(K19, 12.95, 0.1, drift)
    assert true_strength(strong, 0.05) == pytest.approx(0.10501931)
    assert true_strength(strong, 0.06) == 0.1 and true_strength(Row(K19), 0.05) is None
    assert true_strength(Row(K19, 12.95, 0.1, Drift(13.6, 13.59, 0.01, 0.02, 0.1, 0.1001, 0.0, None)), 0.05) == 0.1
    found = asked(ALL[0], strong, ALL[2])
    line = found.lines[1]
    (finding,) = line.findings
    assert finding.code == "again-strong" and round(finding.data["weigh_g"], 3) == 0.286 and finding.data["for_g"] == 0.3
    assert finding.data["off"] == pytest.approx(0.050193, abs=1e-6) and finding.data["missing_g"] == 0.65
    assert line.price_now == pytest.approx(0.109 * 13.6 / 12.95)
    weak = asked(ALL[0], Row(K19, strength=0.08), ALL[2]).lines[1]
    assert weak.findings[0].code == "again-weak" and weak.weigh_g == pytest.approx(0.375)
    assert weak.findings[0].data["missing_g"] is None
    within = asked(ALL[0], Row(K19, strength=0.102), ALL[2]).lines[1]
    assert within.is_identical and within.weigh_g == pytest.approx(0.3 / 1.02)
    assert said(asked(ALL[0], Row(K19), ALL[2])) == {"Ambroxide": ["contents-unknown"]}


def test_what_stands_against_a_bottle_by_itself() -> None:
    found = asked(Row(FIRST, retest_on=date(2025, 4, 10)), *ALL[1:])
    assert said(found) == {"Lemon oil": ["again-retest-due"]} and found.identical == 2
    found = asked(Row(FIRST, None, retest_on=date(2025, 5, 1)), *ALL[1:])
    assert said(found) == {"Lemon oil": ["left-unknown", "again-retest-soon"]} and found.identical == 3, "only noted"
    retired = {**MATERIALS, LEMON: Material("Lemon oil", retired_on="2025-01-01", key=LEMON)}
    assert said(asked(*ALL, materials=retired)) == {"Lemon oil": ["retired-used"]}
    dissolving = Row(amber(22, "K19", ready_on="2025-04-11"), strength=0.1)
    assert said(asked(ALL[0], dissolving, ALL[2])) == {"Ambroxide": ["again-not-ready"]}


def test_what_no_bottle_holds() -> None:
    found = asked(*ALL[:1], ALL[2], Row(NEAT))
    assert said(found) == {"Ambroxide": ["again-dissolve"]} and found.lines[1].findings[0].data["code"] == "M19-1"
    assert (found.largest_g, found.held_back_by) == (0.0, found.lines[1]) and found.bottles == {1: 1, 3: 40}
    stronger = Row(Bottle("K5", "dilution", material=AMBER, strength=0.5, carrier=ETHANOL, key=25))
    assert said(asked(ALL[0], ALL[2], stronger)) == {"Ambroxide": ["again-prepare"]}
    assert said(asked(ALL[0], ALL[2], Row(NEAT, 0.0)))["Ambroxide"] == ["again-none"]
    risen = Row(replace(K19, strength=0.105))
    found = asked(ALL[0], ALL[2], risen, Row(NEAT))
    assert said(found) == {"Ambroxide": ["again-relabelled"]}
    assert found.lines[1].findings[0].data == {"name": "Ambroxide", "strength": 0.1, "code": "K19", "now": 0.105}
    assert said(asked(ALL[0], ALL[2], replace(risen, left_g=0.0), Row(NEAT)))["Ambroxide"] == ["again-dissolve"]
    in_another = Row(replace(K19, carrier=LEMON))
    assert said(asked(ALL[0], ALL[2], in_another, Row(NEAT)))["Ambroxide"] == ["again-dissolve"], "its strength is the same"
    assert verdicts(asked(ALL[0], ALL[2]))[1] == "none"


def test_too_little_is_told_with_what_can_be_made() -> None:
    found = asked(Row(FIRST, 0.3), *ALL[1:])
    (finding,) = found.lines[0].findings
    assert finding.code == "too-little" and finding.data == {
        "code": "M01-1", "left_g": 0.3, "needs_g": 0.6, "most_g": pytest.approx(0.5),
    }  # fmt: skip
    assert (found.largest_g, found.held_back_by.today.code) == (0.5, "M01-1")
    unknown = asked(*(Row(row.bottle, None, row.strength) for row in ALL))
    assert (unknown.largest_g, unknown.held_back_by) == (None, None)


# accords ------------------------------------------------------------------------------------------------------------------


def test_an_accord_that_is_opened_is_held_against_what_its_bottle_was_made_of() -> None:
    found = asked(*ALL[:2], Row(STONE, 0.05))
    assert [one.code for one in found.findings] == ["again-opened"] and found.findings[0].data["code"] == "A-1"
    assert [(line.name, line.inside, line.verdict) for line in found.lines[2:]] == [
        ("Lemon oil", "Stone", "same bottle"), ("Ambroxide", "Stone", "same bottle"),
    ]  # fmt: skip
    assert found.lines[2].then[0].mass_g is None and found.identical == 4
    thrown = Bottle("A-1", "accord", version=5, gone_on="2025-04-01", key=40)
    assert [one.data["code"] for one in asked(*ALL[:2], Row(thrown)).findings] == ["A-1"]


def test_an_accord_opened_then_and_made_up_since() -> None:
    opened = (*FIGURES[:2], figure(11, 1, 0.075, 4), figure(12, 22, 0.025, 5))
    found = asked(*ALL, figures=opened)
    assert said(found) == {"Stone": ["again-made-up"]} and found.lines[2].verdict == "not compared"
    assert [one.code for one in asked(*ALL[:2], figures=opened).findings] == [], "no bottle of it ever stood there"


def test_lines_that_were_left_out_then_and_bottles_that_took_turns() -> None:
    found = asked(*ALL, figures=FIGURES[1:])
    assert said(found) == {"Lemon oil": ["again-not-weighed"]}
    second = lemon(2, "L2")
    twice = (figure(1, 1, 0.1, 1), figure(1, 2, 0.5, 2), *FIGURES[1:], figure(None, 30, 0.1, 9), figure(1, 55, 0.1, 8))
    found = asked(Row(FIRST), Row(second), *ALL[1:], figures=twice)
    assert [one.bottle.code for one in found.lines[0].then] == ["M01-2", "M01-1"]
    assert found.lines[0].today == second and found.lines[0].verdict == "same bottle"


def test_never_weighed_is_said_and_every_line_still_has_its_bottle() -> None:
    found = asked(*ALL, trial=None, figures=())
    assert [one.code for one in found.findings] == ["again-never-weighed"]
    assert found.identical == 0 and verdicts(found) == ["not compared"] * 3 and found.cost_then is None
    with pytest.raises(Refused):
        asked(*ALL, amount=0.0)


# smelled beside each other --------------------------------------------------------------------------------------------------

TIMES = (120.0, 3600.0)


def dipped(code: str, bottle: int, *intensities: float, at: datetime = WEIGHED, sitting: int | None = None, **more) -> Dipped:
    key = int(code[1:])
    strip = Strip(code, bottle, at, sitting=sitting, reading_times=TIMES, key=key, **more)
    readings = [
        Reading(strip=key, at=at + timedelta(seconds=s), due_s=s, intensity=y) for s, y in zip(TIMES, intensities, strict=False)
    ]
    return Dipped(strip, tuple(readings), bottle)


NOISE = OwnNoise(0.25, 0.693, 3, 24)


def test_two_lots_beside_each_other_in_one_sitting_or_on_one_day() -> None:
    old, new = dipped("P01", 1, 5, 3, sitting=7), dipped("P02", 9, 4.5, 4, at=WEIGHED + timedelta(days=3), sitting=7)
    assert beside([old], [new], NOISE) == Beside(new.strip.dipped_at, 1.0, 3600.0, is_beyond=True)
    assert beside([old], [new], None).is_beyond is None
    next_week = dipped("P03", 9, 5, 3, at=WEIGHED + timedelta(days=7))
    assert beside([old], [next_week], NOISE) is None and beside([], [new], NOISE) is None
    same_day = dipped("P04", 9, 5, 2.5, at=WEIGHED + timedelta(hours=3))
    assert beside([old], [same_day], NOISE) == Beside(same_day.strip.dipped_at, -0.5, 3600.0, is_beyond=False)
    skin = dipped("W05", 9, 5, 2, kind="skin")
    assert beside([old], [skin], NOISE) == Beside(WEIGHED)


def test_the_answer_with_what_the_strips_say() -> None:
    newer = lemon(9, "L9", received_on="2025-03-01")
    found = asked(Row(FIRST, 0.1, retest_on=date(2025, 4, 1)), Row(newer, retest_on=date(2025, 4, 1)), *ALL[1:])

    def told(*strips: Dipped, noise: OwnNoise | None = NOISE):
        return with_smelled(found, strips, noise).lines[0]

    assert [one.code for one in told().findings] == ["again-other-lot", "again-unsmelled", "again-retest-due"]
    assert told().beside is None
    pair = dipped("P01", 1, 5, 3), dipped("P02", 9, 5, 4)
    apart = told(*pair)
    assert apart.findings[1].code == "again-smelled-apart" and apart.beside.difference == 1.0
    assert apart.findings[1].data["on"] == WEIGHED.date() and apart.findings[1].data["was"] == "M01-1"
    assert told(dipped("P01", 1, 5), dipped("P02", 9, 5)).findings[1].code == "again-smelled-alike"
    assert told(*pair, noise=None).findings[1].code == "again-smelled-open"


# where the liquid came from ---------------------------------------------------------------------------------------------------


def test_lots_where_little_is_known() -> None:
    at = WEIGHED
    loop = (Source(22, 23, 1.0, at), Source(23, 22, 1.0, at))
    lots = Lots([K19, amber(23, "K30"), lemon(1, " "), STONE], loop, PRICES)
    assert lots.of(1) == {(1, "", "")} and lots.of(40) == {(40, "", "")} and lots.of(99) == {(99, "", "")}
    assert lots.of(22) == {(22, "", "")} and lots.price(22) is None, "a ring tells nothing"
    assert lots.price(99) is None and lots.price(40) is None
    plain = Lots([K19, lemon(1, "L1", supplier="B"), lemon(2, "l1", supplier="A")], (), PRICES)
    assert plain.price(22) == pytest.approx(0.1 * 1.1 + 0.9 * 0.012), "by its label"
    assert plain.of(1) != plain.of(2), "two suppliers may both write 1"
    joined = Lots([lemon(1, "L1"), lemon(2, "L2")], [Source(1, 2, 3.0, at)], PRICES)
    assert joined.of(1) == {(LEMON, "l1", ""), (LEMON, "l2", "")} and joined.of(1, at - timedelta(days=1)) == {(LEMON, "l1", "")}
