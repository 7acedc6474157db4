# SPDX-License-Identifier: MIT
"""Could it be made again today: the demo studio on its stock-take day, another lot, what was smelled of it."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from random import Random

import pytest

from db import Book, Poured
from perfumery import Bottle, Line, Material, Planned, Reading, Refused, Strip, Version
from perfumery.again import AgainToday


@pytest.fixture(autouse=True)
def stock_take(clock) -> None:
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")


def asked(book: Book, code: str, amount_g: float | None = None) -> AgainToday:
    return book.again_today(book.get(Version, code).key, amount_g)


def key(book: Book, code: str) -> int:
    return book.get(Bottle, code).key


def differing(found: AgainToday) -> dict[str, list[str]]:
    return {line.name: [one.code for one in line.findings] for line in found.lines if line.graves}


# version: compared with, lines as before, lines, the most on hand, held back by, cost per g then and now
DEMO = {
    "SR-1": ("T-021", 17, 17, 81.777, "A-WS", 0.11411, 0.11407),
    "SR-2": ("T-028", 18, 18, 52.571, "A-WS", 0.11188, 0.11185),
    "SR-2B": ("T-023", 20, 20, 56.615, "A-WS", 0.11643, 0.11650),
    "SR-3": ("T-024", 19, 20, 52.571, "A-WS", 0.11650, 0.11556),
    "SR-3B": ("T-025", 21, 22, 46.000, "A-WS", 0.11659, 0.11667),
    "SR-4": ("T-027", 20, 21, 58.880, "A-WS", 0.11788, 0.11792),
}


@pytest.mark.parametrize("code", DEMO)
def test_the_demo_studio_on_its_stock_take_day(studio: Book, code: str) -> None:
    found = asked(studio, code)
    trial, identical, lines, largest, back, then, now = DEMO[code]
    assert (found.trial.code, found.identical, len(found.lines)) == (trial, identical, lines)
    assert (found.largest_g, found.held_back_by.today.code, found.amount_g) == (largest, back, 5.0)
    assert (round(found.cost_then, 5), round(found.cost_now, 5), found.unpriced) == (then, now, ((), ()))
    assert not found.findings and found.vials[0].trial.code == trial


@pytest.mark.parametrize(("code", "written", "weigh"), [("SR-4", 0.100, 0.095), ("SR-3", 0.125, 0.119), ("SR-5", 0.300, 0.286)])
def test_k19_is_strong_and_less_of_it_is_weighed(studio: Book, code: str, written: float, weigh: float) -> None:
    """12.95 g were found of 13.60: if the rest was ethanol it holds 10 % × 13.60 ÷ 12.95 = 10.50 %."""
    found = asked(studio, code)
    assert differing(found) == {"Ambroxide": ["again-strong"]}
    line = next(line for line in found.lines if line.name == "Ambroxide")
    assert (line.today.code, round(line.written_g, 3), round(line.weigh_g, 3)) == ("K19", written, weigh)
    assert line.strength == pytest.approx(0.1 * 13.6 / 12.95, rel=1e-6) and line.left_g == pytest.approx(12.95)


def test_sr_4_line_by_line(studio: Book) -> None:
    lines = {line.name: line for line in asked(studio, "SR-4").lines}
    lemon = lines["Lemon oil"]
    assert ([one.bottle.code for one in lemon.then], lemon.today.code, lemon.verdict) == (["M01-2"], "M01-2", "same bottle")
    assert (lemon.then[0].mass_g, lemon.then[0].bottle.lot, lemon.left_g) == (0.375, "L2502-002", pytest.approx(49.066))
    assert lines["Cedarwood oil, Virginia"].today.code == "M16-2", "not the one that was opened first"
    assert (lemon.price_then, lemon.price_now) == (0.09, 0.09)


def test_a_version_that_was_never_weighed(studio: Book) -> None:
    found = asked(studio, "SR-5")
    assert (found.trial, found.identical, len(found.lines), found.cost_then, found.vials) == (None, 0, 20, None, ())
    assert [one.code for one in found.findings] == ["again-never-weighed"]
    assert {line.verdict for line in found.lines} == {"not compared"} and all(line.today for line in found.lines)
    assert found.lines[0].today.code == "M01-1", "opened first"


def test_an_order_opens_the_accord_and_holds_its_lines_against_its_bottle(studio: Book) -> None:
    found = asked(studio, "SR-4", 76.775)
    assert [one.code for one in found.findings] == ["again-opened"] and (found.identical, len(found.lines)) == (26, 28)
    assert (found.largest_g, found.held_back_by.today.code) == (172.288, "M05-1")
    inner = [line for line in found.lines if line.inside]
    assert [one.then[0].bottle.code for one in inner] == ["M13-1", "M17-1", "K20", "K21", "K22", "K19B", "K23", "K26"]
    ambroxide = next(line for line in inner if line.name == "Ambroxide")
    assert ambroxide.verdict == "same lot" and ambroxide.today.code == "K19", "both were made of M19-1"


def test_an_accord_is_held_against_what_filled_its_bottle(studio: Book) -> None:
    found = asked(studio, "A-WS")
    assert found.trial.kind == "accord" and (found.identical, len(found.lines)) == (7, 8)
    assert [vial.bottle.code for vial in found.vials] == ["A-WS"]


# another lot ----------------------------------------------------------------------------------------------------------------


def test_another_lot_that_was_never_smelled_beside_the_old_one(studio: Book) -> None:
    studio.bottles.discard(key(studio, "M01-1"))
    found = asked(studio, "SR-3")
    assert found.identical == 18
    assert differing(found) == {"Lemon oil": ["again-other-lot", "again-unsmelled"], "Ambroxide": ["again-strong"]}
    (lemon,) = [line for line in found.lines if line.verdict == "another lot"]
    assert lemon.findings[0].data == {"name": "Lemon oil", "code": "M01-2", "was": "M01-1", "is_newer": True}
    assert asked(studio, "SR-4").identical == 20, "weighed from M01-2"


def hung(book: Book, code: str, bottle: str, at: datetime, *intensities: float, sitting: int | None = None) -> Strip:
    strip = book.put(Strip(code, key(book, bottle), at, sitting=sitting, strength=1.0, reading_times=(120.0, 3600.0)))[0]
    read(book, strip, at, *intensities)
    return strip


def read(book: Book, strip: Strip, at: datetime, *intensities: float) -> None:
    for due, intensity in zip(strip.reading_times, intensities, strict=False):
        book.put(Reading(strip.key, at + timedelta(seconds=due), due_s=due, intensity=intensity))


def test_lots_smelled_beside_each_other(studio: Book, clock) -> None:
    studio.bottles.discard(key(studio, "M01-1"))
    at = clock.at - timedelta(days=5)
    hung(studio, "P90", "M01-1", at, 5.0, 3.5)
    hung(studio, "P91", "M01-2", at + timedelta(minutes=3), 5.0, 2.5)
    hung(studio, "P92", "M01-2", at + timedelta(days=3), 1.0, 1.0)
    line = asked(studio, "SR-3").lines[0]
    assert [one.code for one in line.findings] == ["again-other-lot", "again-smelled-apart"]
    assert (line.beside.difference, line.beside.due_s, line.beside.is_beyond) == (-1.0, 3600.0, True), "own noise is 0.69"
    assert line.findings[1].data["on"] == date(2025, 4, 5)


def test_what_hangs_in_a_sealed_sitting_is_not_told(studio: Book, clock) -> None:
    studio.bottles.discard(key(studio, "M01-1"))
    sitting = studio.sittings.begin()
    one = hung(studio, "P90", "M01-1", clock.at, sitting=sitting.key)
    other = hung(studio, "P91", "M01-2", clock.at, sitting=sitting.key)
    studio.sittings.seal(sitting.key, shuffled=False, rng=Random(1))
    read(studio, one, clock.at, 5.0, 3.5)
    read(studio, other, clock.at, 5.0, 2.5)
    assert differing(asked(studio, "SR-3"))["Lemon oil"] == ["again-other-lot", "again-unsmelled"]
    studio.sittings.reveal(sitting.key)
    assert differing(asked(studio, "SR-3"))["Lemon oil"] == ["again-other-lot", "again-smelled-apart"]


def test_a_dilution_made_anew_of_the_same_lot_is_as_before_of_another_it_is_not(studio: Book) -> None:
    ambroxide, ethanol = studio.get(Bottle, "M19-1"), key(studio, "S01-1")
    (fresh,) = studio.put(replace(ambroxide, key=None, code="M19-2", lot="L2504-099"))
    studio.bottles.reweigh(fresh.key, 10.0)
    studio.put(replace(studio.bottles.states(ambroxide.key)[-1], bottle=fresh.key, key=None))
    stock = replace(studio.get(Bottle, "K19"), key=None, code="K30", retest_on=None)
    for code in ("K19", "K19B"):
        studio.bottles.discard(key(studio, code))

    def line() -> tuple[str, str]:
        one = next(one for one in asked(studio, "SR-4").lines if one.name == "Ambroxide")
        return one.today.code, one.verdict

    studio.bottles.make("dilution", stock, [Poured(ambroxide.key, 2.0), Poured(ethanol, 18.0)])
    assert line() == ("K30", "same lot") and asked(studio, "SR-4").identical == 21
    studio.bottles.discard(key(studio, "K30"))
    studio.bottles.make("dilution", replace(stock, code="K31"), [Poured(fresh.key, 2.0), Poured(ethanol, 18.0)])
    assert line() == ("K31", "another lot")


# which trial ----------------------------------------------------------------------------------------------------------------


def test_a_trial_that_was_given_up_or_not_weighed_is_none(studio: Book) -> None:
    version = studio.get(Version, "SR-4")
    line = next(line for line in version.lines if line.material)
    bottle = next(one for one in studio.all(Bottle, material=line.material) if one.gone_on is None)
    vial, plan = Bottle("V90", "trial", version=version.key), [Planned(0.4, line.key, bottle.key)]
    begun = studio.weighings.begin("trial", vial, plan, code="T-090", version=version.key)
    studio.weighings.accept(begun.key, bottle.key, 0.4, line=line.key)
    assert asked(studio, "SR-4").trial.code == "T-027", "not finished"
    studio.weighings.abandon(begun.key)
    studio.start_trial(version.key, 5.0)
    assert asked(studio, "SR-4").trial.code == "T-027"
    assert [one.code for one in studio.weighings.done((version.key,))[version.key]] == ["T-027"]
    assert [vial.bottle.code for vial in asked(studio, "SR-4").vials] == ["V027"]


def test_the_vial_of_a_trial_made_without_weighing_is_kept_where_no_other_is(studio: Book) -> None:
    for _ in range(2):
        made, vial = studio.start_trial(studio.get(Version, "SR-5").key, 5.0)
    found = asked(studio, "SR-5")
    assert found.trial is None and [one.code for one in found.findings] == ["again-never-weighed"]
    newest, _ = found.vials
    assert (newest.trial.code, newest.bottle.code, newest.left_g) == (made.code, vial.code, None)


def test_a_remake_is_what_is_compared_with_and_the_old_vial_is_kept(studio: Book, clock) -> None:
    found = asked(studio, "SR-2")
    assert [(vial.trial.code, vial.left_g) for vial in found.vials] == [
        ("T-028", pytest.approx(3.993)), ("T-022", pytest.approx(4.002)),
    ]  # fmt: skip
    studio.bottles.discard(key(studio, "V028"))
    found = asked(studio, "SR-2")
    assert found.trial.code == "T-028" and [vial.bottle.code for vial in found.vials] == ["V022"]


def test_a_version_that_is_not_there_and_an_amount_that_cannot_be(studio: Book) -> None:
    for key_of, amount in ((99999, None), (studio.get(Version, "SR-4").key, -1.0)):
        with pytest.raises(Refused):
            studio.again_today(key_of, amount)


def test_the_questions_do_not_grow_with_the_lines(studio: Book) -> None:
    parent, oils = studio.get(Version, "SR-4"), [one for one in studio.all(Material) if not one.is_carrier]
    counts = []
    for number, code in ((3, "SR-90"), (len(oils), "SR-91")):
        lines = tuple(Line(10.0, one.key) for one in oils[:number])
        (version,) = studio.put(Version(parent.project, code, lines, total=10.0 * number))
        studio.again_today(version.key)
        asked_sql: list[str] = []
        studio._file.raw.set_trace_callback(asked_sql.append)
        studio.again_today(version.key)
        studio._file.raw.set_trace_callback(None)
        counts.append(len(asked_sql))
    # one more asks for the carriers of what was bought diluted
    assert counts[1] <= counts[0] + 1 <= 15 and len(oils) > 20
