# SPDX-License-Identifier: MIT
"""Weighings through the door: nothing moves before the first figure, every figure stands at once, and what is in the vessel is
told by the true contents of each bottle at that hour."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from db import Arrival, Book, make_demo
from perfumery import Balance, Bottle, Line, Making, Material, Move, Planned, Project, Refused, Version

# per thousand, expanded with the true contents of the bottles used, as worked out beside the invented studio
T024 = {
    "Methyl dihydrojasmonate": 129.44, "Bergamot oil, treated": 104.71, "Grapefruit oil": 90.148, "Lemon oil": 84.763,
    "OTNE (woody ketone)": 72.7, "Ethanol 96 %": 52.209, "Pine needle oil": 40.088, "Dipropylene glycol": 29.912,
    "Vetiver oil": 23.562, "Triethyl citrate": 4.7818, "Ambroxide": 3.8918, "Moss ester": 1.7119, "cis-3-Hexenol": 0.41989,
    "2,6-Nonadienal": 0.0048438, "Geosmin": 0.00042034,
}  # fmt: skip


def code(refused) -> str:
    return refused.value.findings[0].code


class Scale:
    """A book with two neat bottles, a balance, and a version of two lines."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.linalool, self.cedar = book.put(Material("Linalool"), Material("Cedarwood oil"))
        (self.balance,) = book.put(Balance("B1", d_g=0.001, s_g=0.0008))
        self.first, self.second = book.bottles.receive(
            Arrival(Bottle("L1", material=self.linalool.key), 50.0), Arrival(Bottle("C1", material=self.cedar.key), 25.0)
        )
        (self.project,) = book.put(Project("ONE"))
        lines = (Line(600.0, self.linalool.key), Line(400.0, self.cedar.key))
        (self.version,) = book.put(Version(self.project.key, "ONE-1", lines))
        self.plan = [
            Planned(3.0, self.version.lines[0].key, self.first.key), Planned(2.0, self.version.lines[1].key, self.second.key),
        ]  # fmt: skip
        self.count = 0

    def begin(self, **more) -> Making:
        self.count += 1
        vial = Bottle(f"V{self.count}", kind="trial", version=self.version.key, tare_g=12.3)
        given = {"balance": self.balance.key, "code": f"T-{self.count}", "version": self.version.key, "target_g": 5.0} | more
        return self.book.weighings.begin("trial", vial, self.plan, **given)

    def accept(self, making: Making, place: int, mass: float) -> Move:
        planned = self.plan[place]
        return self.book.weighings.accept(making.key, planned.bottle, mass, line=planned.line, target_g=planned.target_g)


@pytest.fixture
def scale(book: Book) -> Scale:
    return Scale(book)


def test_begun_it_freezes_nothing_and_draws_nothing(scale: Scale) -> None:
    making = scale.begin()
    book = scale.book
    assert not book.get(Version, "ONE-1").is_frozen and book.left(scale.first.key)[scale.first.key] == 50
    assert book.weighings.unfinished() == (making,) and book.as_weighed(making.key) == {}
    assert making.plan == tuple(scale.plan) and book.weighings.poured(making.key) == ()


def test_every_figure_stands_on_disk_at_once_and_the_first_one_freezes(scale: Scale, path: Path, clock, tmp_path: Path) -> None:
    making = scale.begin()
    for place, mass in ((0, 3.001), (1, 2.002)):
        scale.accept(making, place, mass)
        cut_off = tmp_path / f"cut off {place}.stillroom"
        cut_off.write_bytes(path.read_bytes())  # as a program that is killed leaves it
        with Book.open(cut_off, clock) as again:
            (open_,) = again.weighings.unfinished()
            assert [move.mass_g for move in again.weighings.poured(open_.key)] == [3.001, 2.002][: place + 1]
            assert open_.plan == making.plan and again.get(Version, "ONE-1").is_frozen
    first, second = scale.book.weighings.poured(making.key)
    assert first.u_g == 0.0008 and (first.target_g, first.read_g, first.line) == (3.0, 3.001, scale.plan[0].line)
    assert scale.book.left(scale.second.key)[scale.second.key] == pytest.approx(22.998) and second.kind == "pour"


def test_finished_the_vial_holds_what_was_read(scale: Scale, clock) -> None:
    making = scale.begin()
    scale.accept(making, 0, 3.001)
    scale.accept(making, 1, 2.002)
    clock.tick(minutes=20)
    vial = scale.book.weighings.finish(making.key, remark="a little over")
    assert scale.book.contents(vial.key) == pytest.approx({scale.linalool.key: 3.001 / 5.003, scale.cedar.key: 2.002 / 5.003})
    closed = scale.book.get(Making, making.key)
    assert (closed.finished_at, closed.remark) == (clock(), "a little over") and scale.book.weighings.unfinished() == ()
    for act in (
        lambda: scale.book.weighings.finish(making.key), lambda: scale.accept(making, 0, 1.0),
        lambda: scale.book.weighings.replan(making.key, ()),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == "record"
    for sought in (making.key, making.code, vial.key):
        assert scale.book.as_weighed(sought)[scale.cedar.key] == pytest.approx(2002 / 5.003)


def test_what_cannot_be_is_refused_and_changes_nothing(scale: Scale) -> None:
    making = scale.begin()
    book = scale.book
    for bottle, mass, why in (
        (scale.first.key, 0.0, "mass-not-positive"), (scale.first.key, -1.0, "mass-not-positive"),
        (scale.first.key, float("nan"), "mass-not-positive"), (making.into_bottle, 1.0, "source-itself"),
        (scale.first.key, 51.0, "beyond-left"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            book.weighings.accept(making.key, bottle, mass)
        assert code(refused) == why
    with pytest.raises(Refused) as refused:
        book.weighings.finish(making.key)
    assert code(refused) == "mass-not-positive"
    for act, why in (
        (lambda: book.weighings.begin("trial", Bottle("V9"), ()), "no-lines"),
        (lambda: book.as_weighed(999_999), "reference-missing"), (lambda: book.as_weighed("T-99"), "reference-missing"),
        (lambda: book.weighings.finish(999_999), "reference-missing"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == why
    assert book.weighings.poured(making.key) == () and not book.get(Version, "ONE-1").is_frozen


def test_a_child_without_its_reason_is_not_weighed(scale: Scale) -> None:
    (child,) = scale.book.put(Version(scale.project.key, "ONE-2", scale.version.lines[:0], parent=scale.version.key))
    with pytest.raises(Refused) as refused:
        scale.begin(version=child.key)
    assert code(refused) == "reason-missing"


def test_what_nobody_knows_the_contents_of_cannot_be_finished(scale: Scale) -> None:
    (unknown,) = scale.book.put(Bottle("X1"))
    making = scale.begin()
    scale.book.weighings.accept(making.key, unknown.key, 1.0)
    for act in (lambda: scale.book.weighings.finish(making.key), lambda: scale.book.as_weighed(making.key)):
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == "contents-unknown" and refused.value.findings[0].data["code"] == "X1"


def test_another_order_and_a_corrected_figure(scale: Scale) -> None:
    making = scale.begin()
    turned = scale.book.weighings.replan(making.key, scale.plan[::-1], "running total")
    assert turned.plan == tuple(scale.plan[::-1]) and turned.mode == "running total"
    move = scale.accept(making, 1, 2.2)
    scale.accept(making, 0, 3.0)
    scale.book.correct(move.key, mass_g=2.0, read_g=2.0)
    assert scale.book.left(scale.second.key)[scale.second.key] == 23.0
    scale.book.weighings.finish(making.key)
    assert scale.book.as_weighed(making.code) == pytest.approx({scale.linalool.key: 600.0, scale.cedar.key: 400.0})
    # a correction keeps the hour of what it corrects, so the order of the hand is remembered
    assert set(scale.book.weighings.remembered(scale.version.key)) == {line.key for line in scale.version.lines}
    assert scale.book.weighings.remembered(999_999) == ()


def test_given_up_it_stays_in_the_book_as_waste(scale: Scale, clock) -> None:
    making = scale.begin()
    scale.accept(making, 0, 3.0)
    scale.book.weighings.abandon(making.key, "the wrong bottle")
    vial = scale.book.get(Bottle, making.into_bottle)
    assert vial.gone_on == clock().date() and scale.book.weighings.unfinished() == ()
    (waste,) = scale.book.all(Move, from_bottle=vial.key)
    assert (waste.kind, waste.mass_g, waste.remark) == ("discard", 3.0, "the wrong bottle")
    assert len(scale.book.weighings.poured(making.key)) == 1
    empty = scale.begin()
    scale.book.weighings.abandon(empty.key)
    assert not list(scale.book.all(Move, from_bottle=empty.into_bottle))


def test_a_trial_made_without_weighing_is_what_was_meant(scale: Scale) -> None:
    making, _ = scale.book.start_trial(scale.version.key, 5.0)
    assert scale.book.as_weighed(making.code) == pytest.approx({scale.linalool.key: 600.0, scale.cedar.key: 400.0})


MASSES = st.lists(st.tuples(st.integers(0, 1), st.integers(1, 3000).map(lambda mg: mg / 1000)), min_size=1, max_size=8)


@given(MASSES)
def test_tared_or_running_on_the_record_is_the_same_and_nothing_is_lost(tmp_path_factory, masses) -> None:
    with Book.create(tmp_path_factory.mktemp("scale") / "b.stillroom", "B") as book:
        scale = Scale(book)
        tared, running = scale.begin(mode="tare each"), scale.begin(mode="running total")
        total = 0.0
        for place, mass in masses:
            scale.accept(tared, place, mass)
            shown = round(total + mass, 9)
            scale.accept(running, place, round(shown - total, 9))
            total = shown
        vials = [book.weighings.finish(making.key) for making in (tared, running)]
        assert book.as_weighed(tared.key) == pytest.approx(book.as_weighed(running.key), rel=1e-9)
        left = book.left(scale.first.key, scale.second.key)
        drawn = 75.0 - sum(left.values())
        assert drawn == pytest.approx(sum(book.book_mass(vial.key) for vial in vials)) == pytest.approx(2 * total)
        book.bottles.discard(vials[0].key)
        assert book.book_mass(vials[0].key) == 0


# the invented studio ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    book = make_demo(tmp_path_factory.mktemp("weighed") / "demo.stillroom")
    yield book
    book.close()


def test_t024_as_weighed(studio: Book) -> None:
    found = {row.short: studio.as_weighed("T-024").get(row.key) for row in studio.material_rows()}
    for name, known in T024.items():
        assert found[name] == pytest.approx(known, rel=5e-5), name
    assert sum(studio.as_weighed("T-024").values()) == pytest.approx(1000)
    version = studio.get(Version, "SR-3")
    remembered = studio.weighings.remembered(version.key)
    assert len(remembered) == 20 and next(line for line in version.lines if line.key == remembered[0]).material is not None


def test_t024_weighed_again_is_the_same(studio: Book) -> None:
    old = studio.get(Making, "T-024")
    moves = studio.weighings.poured(old.key)
    plan = [Planned(move.target_g, move.line, move.from_bottle) for move in moves]
    vial = Bottle("V099", kind="trial", version=old.version)
    making = studio.weighings.begin("trial", vial, plan, balance=old.balance, code="T-099", version=old.version)
    for move in moves:
        studio.weighings.accept(making.key, move.from_bottle, move.mass_g, line=move.line, target_g=move.target_g)
    studio.weighings.finish(making.key)
    assert studio.as_weighed("T-099") == pytest.approx(studio.as_weighed("T-024"), rel=1e-9)
