# SPDX-License-Identifier: MIT
"""What is weighed besides trials: top-ups, dilutions, more into a closed vial, and pours that the nose leads."""

from dataclasses import replace

import pytest

from db import Arrival, Book
from db.makings import Poured
from perfumery import Balance, Bottle, Contents, Line, Making, Material, Planned, Project, Refused, Version, compose


def code(refused) -> str:
    return refused.value.findings[0].code


class Bench:
    """Ambroxide neat and in ethanol, lemon oil, a balance, a project."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.ambroxide, self.ethanol, self.lemon = book.put(
            Material("Ambroxide"), Material("Ethanol 96 %", is_carrier=True), Material("Lemon oil")
        )
        (self.balance,) = book.put(Balance("B1", d_g=0.001, s_g=0.0008))
        (self.project,) = book.put(Project("ONE"))
        self.neat, self.carrier, self.oil = book.bottles.receive(
            Arrival(Bottle("M1", material=self.ambroxide.key), 50.0),
            Arrival(Bottle("E1", material=self.ethanol.key), 500.0),
            Arrival(Bottle("L1", material=self.lemon.key), 100.0),
        )
        self.ten = self.dilution("K1", 2.0, 18.0)

    def dilution(self, name: str, neat_g: float, carrier_g: float) -> Bottle:
        into = Bottle(name, kind="dilution", material=self.ambroxide.key, strength=0.1, carrier=self.ethanol.key)
        poured = (Poured(self.neat.key, neat_g), Poured(self.carrier.key, carrier_g))
        return self.book.bottles.make("dilution", into, poured, balance=self.balance)

    def top_up(self, grams: float, **more) -> Making:
        return self.book.weighings.begin("top-up", self.ten, [Planned(grams, bottle=self.carrier.key)], **more)

    def free(self, name: str = "V1") -> Making:
        vial = Bottle(name, kind="trial", label="free pour")
        plan = [Planned(0.0, bottle=self.oil.key)]
        return self.book.weighings.begin("trial", vial, plan, balance=self.balance.key, code=f"T-{name}")


@pytest.fixture
def bench(book: Book) -> Bench:
    return Bench(book)


def test_a_dilution_weighed_line_by_line_is_the_one_booked_at_once(bench: Bench) -> None:
    into = Bottle("K2", kind="dilution", material=bench.ambroxide.key, strength=0.1, carrier=bench.ethanol.key)
    plan = [Planned(2.0, bottle=bench.neat.key), Planned(18.0, bottle=bench.carrier.key)]
    making = bench.book.weighings.begin("dilution", into, plan, balance=bench.balance.key)
    for planned in plan:
        bench.book.weighings.accept(making.key, planned.bottle, planned.target_g, target_g=planned.target_g)
    made = bench.book.weighings.finish(making.key)
    assert bench.book.contents(made.key) == pytest.approx(bench.book.contents(bench.ten.key))
    assert bench.book.bottles.uncertainty(made.key) == pytest.approx(bench.book.bottles.uncertainty(bench.ten.key))
    assert (made.kind, made.strength) == ("dilution", 0.1) and bench.book.left(made.key)[made.key] == pytest.approx(20.0)


def test_a_source_that_the_book_did_not_have_comes_with_the_weighing(bench: Bench) -> None:
    book = bench.book
    fresh = Bottle("M1-2", material=bench.ambroxide.key, key=book.new_key())
    held = Contents(bottle=fresh.key, at=book.now(), shares={bench.ambroxide.key: 1.0}, reason="bought")
    into = Bottle("K3", kind="dilution", material=bench.ambroxide.key, strength=0.1, carrier=bench.ethanol.key)
    plan = [Planned(1.0, bottle=fresh.key), Planned(9.0, bottle=bench.carrier.key)]
    making = book.weighings.begin("dilution", into, plan, also=(fresh, held))
    book.weighings.accept(making.key, fresh.key, 1.0)
    book.weighings.accept(making.key, bench.carrier.key, 9.0)
    assert book.contents(book.weighings.finish(making.key).key)[bench.ambroxide.key] == pytest.approx(0.1)


@pytest.mark.parametrize("settle", [True, False])
def test_a_top_up_weighed_line_by_line_is_the_one_booked_at_once(bench: Bench, clock, settle: bool) -> None:
    book, twin = bench.book, bench.dilution("K2", 2.0, 18.0)
    clock.tick(days=30)
    for bottle in (bench.ten, twin):
        book.bottles.reweigh(bottle.key, 19.0)
    clock.tick(minutes=5)
    making = bench.top_up(1.0, settle=settle)
    clock.tick(minutes=5)
    book.weighings.accept(making.key, bench.carrier.key, 1.1)
    book.weighings.finish(making.key)
    book.bottles.make("top-up", twin, (Poured(bench.carrier.key, 1.1),), settle=settle)
    assert book.contents(bench.ten.key) == pytest.approx(book.contents(twin.key))
    assert book.left(bench.ten.key)[bench.ten.key] == pytest.approx(20.1) == book.left(twin.key)[twin.key]
    assert book.bottles.states(bench.ten.key)[-1].reason == "topped up" and book.weighings.unfinished() == ()


def test_a_top_up_that_is_given_up_keeps_its_bottle(bench: Bench) -> None:
    book = bench.book
    book.weighings.abandon(bench.top_up(5.0).key)
    assert book.get(Bottle, "K1").gone_on is None and book.weighings.unfinished() == ()
    assert book.contents(bench.ten.key)[bench.ambroxide.key] == pytest.approx(0.1)
    half = bench.top_up(5.0)
    book.weighings.accept(half.key, bench.carrier.key, 2.0)
    book.weighings.abandon(half.key, "enough")
    assert book.get(Bottle, "K1").gone_on is None and book.get(Making, half.key).remark == "enough"
    assert book.contents(bench.ten.key)[bench.ambroxide.key] == pytest.approx(2.0 / 22.0)


def test_a_top_up_of_an_amount_nobody_knows_is_refused_at_its_beginning(bench: Bench) -> None:
    (unknown,) = bench.book.put(Bottle("M9", material=bench.ambroxide.key))
    with pytest.raises(Refused) as refused:
        bench.book.weighings.begin("top-up", unknown, [Planned(1.0, bottle=bench.carrier.key)])
    assert code(refused) == "contents-unknown" and bench.book.weighings.unfinished() == ()


def test_a_free_pour_becomes_a_trial_and_a_version_when_asked(bench: Bench) -> None:
    book = bench.book
    making = bench.free()
    book.weighings.accept(making.key, bench.oil.key, 3.0)
    book.weighings.pour_from(making.key, bench.ten.key)
    book.weighings.accept(making.key, bench.ten.key, 0.5)
    book.weighings.pour_from(making.key, bench.oil.key)
    book.weighings.accept(making.key, bench.oil.key, 1.5)
    assert [planned.target_g for planned in book.get(Making, making.key).plan] == [0.0, 0.0, 0.0]
    vial = book.weighings.finish(making.key)
    assert vial.version is None and book.as_weighed(vial.key)[bench.lemon.key] == pytest.approx(900.0)
    version = book.weighings.keep_as_version(making.key, bench.project.key, "ONE-1", name="Found", reason="by nose")
    assert version.is_frozen and (version.name, version.reason) == ("Found", "by nose")
    assert [(line.material, line.strength, line.carrier, line.parts) for line in version.lines] == [
        (bench.lemon.key, 1.0, None, 900.0), (bench.ambroxide.key, 0.1, bench.ethanol.key, 100.0),
    ]  # fmt: skip
    assert book.get(Bottle, vial.key).version == version.key and book.get(Making, making.key).version == version.key
    assert [trial.key for trial in book.trials(bench.project.key)] == [making.key]
    with pytest.raises(Refused) as refused:
        book.weighings.keep_as_version(making.key, bench.project.key, "ONE-2")
    assert code(refused) == "record"
    with pytest.raises(Refused) as refused:
        book.put(replace(book.get(Making, making.key), version=None))
    assert code(refused) == "record"


def test_nothing_poured_is_no_version(bench: Bench) -> None:
    for act in (
        lambda: bench.book.weighings.keep_as_version(bench.free().key, bench.project.key, "ONE-1"),
        lambda: bench.book.weighings.keep_as_version(999_999, bench.project.key, "ONE-1"),
        lambda: bench.book.weighings.add_to(999_999, Bottle("V9", kind="trial")),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) in ("no-lines", "reference-missing")
    assert list(bench.book.all(Version)) == []


def test_more_into_a_closed_vial_is_a_trial_whose_first_line_is_the_old_one(bench: Bench) -> None:
    book = bench.book
    making = bench.free()
    book.weighings.accept(making.key, bench.oil.key, 3.0)
    old = book.weighings.finish(making.key)
    before = book.contents(old.key)
    book.bottles.draw(old.key, "strip", 0.2)
    again = book.weighings.add_to(old.key, Bottle("V2", kind="trial"), balance=bench.balance.key, code="T-2")
    assert again.plan == (Planned(2.8, bottle=old.key),) and book.get(Bottle, old.key).gone_on == book.now().date()
    (first,) = book.weighings.poured(again.key)
    assert first.estimated and first.mass_g == pytest.approx(2.8)
    book.weighings.pour_from(again.key, bench.ten.key)
    book.weighings.accept(again.key, bench.ten.key, 1.2)
    book.weighings.finish(again.key)
    assert book.as_weighed(again.key)[bench.lemon.key] == pytest.approx(700.0)
    # what was smelled before is what it was
    assert book.contents(old.key) == before and book.as_weighed(old.key) == {bench.lemon.key: 1000.0}
    version = book.weighings.keep_as_version(again.key, bench.project.key, "ONE-1")
    assert [line.parts for line in version.lines] == [700.0, 300.0]
    with pytest.raises(Refused) as refused:
        book.weighings.add_to(old.key, Bottle("V3", kind="trial"))
    assert code(refused) == "gone"


def test_an_empty_vial_cannot_be_added_to(bench: Bench) -> None:
    (bottle,) = bench.book.put(Bottle("V8", kind="trial"))
    with pytest.raises(Refused) as refused:
        bench.book.weighings.add_to(bottle.key, Bottle("V9", kind="trial"))
    assert code(refused) == "left-unknown"


def test_a_version_of_pours_opens_vials_and_keeps_accords(bench: Bench) -> None:
    book = bench.book
    lines = (Line(3.0, bench.lemon.key), Line(1.0, bench.ambroxide.key, strength=0.1, carrier=bench.ethanol.key))
    (inner,) = book.put(Version(bench.project.key, "ONE-A", lines))
    accord = book.bottles.make(
        "accord", Bottle("A1", kind="accord", version=inner.key), (Poured(bench.oil.key, 3.0), Poured(bench.ten.key, 1.0)),
        version=inner.key,
    )  # fmt: skip
    _, unweighed = book.start_trial(inner.key, 5.0)
    (unknown,) = book.put(Bottle("X1", kind="benchmark"))
    # a trial made without weighing is its version; its mass was never seen, so it is found first
    book.bottles.reweigh(unweighed.key, 5.0)
    making = bench.free()
    for bottle, grams in ((accord.key, 2.0), (unweighed.key, 4.0)):
        book.weighings.pour_from(making.key, bottle)
        book.weighings.accept(making.key, bottle, grams)
    book.weighings.finish(making.key)
    version = book.weighings.keep_as_version(making.key, bench.project.key, "ONE-1")
    assert [(line.accord, line.material, round(line.parts, 1)) for line in version.lines] == [
        (inner.key, None, 333.3), (None, bench.lemon.key, 500.0), (None, bench.ambroxide.key, 166.7),
    ]  # fmt: skip
    composed = compose(version, book.shelf(version))
    assert composed.expanded[bench.lemon.key] == pytest.approx(750.0, abs=0.01)
    strange = bench.free("V7")
    book.put(Contents(bottle=unknown.key, at=book.now(), shares={bench.lemon.key: 1.0}, reason="correction"))
    book.weighings.accept(strange.key, unknown.key, 1.0)
    with pytest.raises(Refused) as refused:
        book.weighings.keep_as_version(strange.key, bench.project.key, "ONE-2")
    assert code(refused) == "contents-unknown"


def test_what_is_spilled_behind_the_last_figure_of_a_top_up_takes_of_all_alike(bench: Bench, clock) -> None:
    book = bench.book
    making = bench.top_up(20.0)
    clock.tick(minutes=1)
    book.weighings.accept(making.key, bench.carrier.key, 20.0)
    clock.tick(minutes=1)
    book.bottles.draw(bench.ten.key, "spill", 10.0)
    clock.tick(minutes=1)
    book.weighings.finish(making.key)
    assert book.left(bench.ten.key)[bench.ten.key] == pytest.approx(30.0)
    assert book.contents(bench.ten.key)[bench.ambroxide.key] == pytest.approx(2.0 / 40.0)


def test_a_version_of_a_free_pour_is_what_is_in_the_vial_and_not_what_was_spilled(bench: Bench, clock) -> None:
    book, making = bench.book, bench.free()
    book.weighings.accept(making.key, bench.oil.key, 2.0)
    clock.tick(minutes=1)
    book.bottles.draw(making.into_bottle, "spill", 1.0)
    clock.tick(minutes=1)
    book.weighings.pour_from(making.key, bench.ten.key)
    book.weighings.accept(making.key, bench.ten.key, 1.0)
    book.weighings.finish(making.key)
    kept = book.weighings.keep_as_version(making.key, bench.project.key, "ONE-1")
    assert [line.parts for line in kept.lines] == pytest.approx([500.0, 500.0])


def test_a_figure_put_right_after_the_weighing_tells_anew_what_the_vessel_holds(bench: Bench, clock) -> None:
    book, ten = bench.book, bench.ten
    clock.tick(days=1)
    figure = next(move for move in book.bottles.moves(ten.key) if move.from_bottle == bench.neat.key)
    drawn = book.bottles.draw(ten.key, "used", 1.0)
    right = book.correct(figure.key, mass_g=4.5, read_g=4.5)
    assert book.contents(ten.key)[bench.ambroxide.key] == pytest.approx(0.2)
    first, second = book.bottles.states(ten.key)
    assert second.at == first.at and second.reason == "made" and book.bottles.moves(ten.key)[-1].contents == drawn.contents
    making = book.get(Making, figure.making)
    assert book.as_weighed(making.key)[bench.ambroxide.key] == pytest.approx(200.0)
    assert book.bottles.uncertainty(ten.key)[bench.ambroxide.key] > 0
    book.correct(right.key, kind="withdrawn")
    assert bench.ambroxide.key not in book.contents(ten.key)
    # nothing is told of what is told otherwise since, is still open, or loses its last figure
    book.correct(book.bottles.states(ten.key)[-1].key, shares={bench.ambroxide.key: 0.1, bench.ethanol.key: 0.9})
    other = next(move for move in book.bottles.moves(ten.key) if move.from_bottle == bench.carrier.key)
    book.correct(other.key, mass_g=17.0)
    assert book.contents(ten.key)[bench.ambroxide.key] == pytest.approx(0.1)
    made = bench.free()
    only = book.weighings.accept(made.key, bench.oil.key, 2.0)
    only = book.correct(only.key, mass_g=2.5)
    assert not book.bottles.states(made.into_bottle)
    book.weighings.finish(made.key)
    book.correct(only.key, kind="withdrawn")
    assert len(book.bottles.states(made.into_bottle)) == 1
