# SPDX-License-Identifier: MIT
"""Weighings through the door: nothing moves before the first figure, every figure stands at once, and what is in the vessel is
told by the true contents of each bottle at that hour."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from db import Arrival, Book
from db.makings import Poured
from perfumery import Balance, BenchCheck, Bottle, Line, Making, Material, Move, Planned, Project, Refused, Version

# per thousand, expanded with the true contents of the bottles used, as worked out beside the invented studio
T024 = {
    "Methyl dihydrojasmonate": 129.44, "Bergamot oil, treated": 104.71, "Grapefruit oil": 90.148, "Lemon oil": 84.763,
    "OTNE (woody ketone)": 72.7, "Ethylene brassylate": 59.832, "Cedarwood oil, Virginia": 59.832, "Ethanol 96 %": 52.209,
    "Pine needle oil": 40.088, "Linalyl acetate": 39.888, "Petitgrain oil": 34.902, "Linalool": 29.916,
    "Dihydromyrcenol": 29.916, "Isobornyl acetate": 29.916, "Dipropylene glycol": 29.912, "Vetiver oil": 23.562,
    "Hexamethylindanopyran": 19.944, "Isopropyl myristate": 19.944, "Juniper berry oil": 19.944, "Rosemary oil": 14.958,
    "Triethyl citrate": 4.7818, "Ambroxide": 3.8918, "Labdanum absolute": 1.997, "Moss ester": 1.7119,
    "Seaweed absolute": 0.55969, "cis-3-Hexenol": 0.41989, "Methylbenzodioxepinone": 0.11225, "2,6-Nonadienal": 0.0048438,
    "Geosmin": 0.00042034,
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


def test_a_figure_is_told_with_the_decimals_it_was_read_with(scale: Scale) -> None:
    heard: list = []
    scale.book.on_change(heard.append)
    making = scale.begin()
    for mass in (0.78, 2.0, 0.00012):
        scale.accept(making, 0, mass)
    assert [change.what for change in heard[1:]] == ["L1 0.780 g into V1", "L1 2.000 g into V1", "L1 0.00012 g into V1"]


def test_the_first_figure_freezes_the_accords_inside_too(scale: Scale) -> None:
    book = scale.book
    (inner,) = book.put(Version(scale.project.key, "ONE-I", (Line(1.0, accord=scale.version.key),)))
    (outer,) = book.put(Version(scale.project.key, "ONE-O", (Line(1.0, accord=inner.key), Line(9.0, scale.cedar.key))))
    heard: list = []
    book.on_change(heard.append)
    making = scale.begin(version=outer.key)
    assert not any(version.is_frozen for version in book.all(Version))
    book.weighings.accept(making.key, scale.second.key, 2.0, line=outer.lines[1].key)
    assert all(version.frozen_at == book.now() for version in book.all(Version))
    assert {new.code for _, new in heard[-1].pairs if isinstance(new, Version)} == {"ONE-1", "ONE-I", "ONE-O"}
    with pytest.raises(Refused) as refused:
        book.put(replace(scale.version, total=999.0))
    assert code(refused) == "frozen"


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
    assert code(refused) == "reason-missing" and not list(scale.book.all(Making))
    (said,) = scale.book.put(replace(child, reason="more cedar"))
    making = scale.begin(version=said.key)
    scale.book.put(replace(said, reason=" "))
    with pytest.raises(Refused) as refused:
        scale.book.weighings.accept(making.key, scale.first.key, 3.0)
    assert code(refused) == "reason-missing" and not scale.book.get(Version, child.key).is_frozen
    assert scale.book.weighings.poured(making.key) == ()


def test_a_plan_of_nothing_or_of_what_is_no_mass_is_refused(scale: Scale) -> None:
    making = scale.begin()
    for plan, why in (
        ((), "no-lines"), ((Planned(float("nan")),), "mass-not-positive"), ((Planned(float("inf")),), "mass-not-positive"),
        ((Planned(-1.0),), "mass-not-positive"),
    ):  # fmt: skip
        for act in (
            lambda plan=plan: scale.book.weighings.replan(making.key, plan),
            lambda plan=plan: scale.book.weighings.begin("trial", Bottle("V9", kind="trial"), plan),
        ):
            with pytest.raises(Refused) as refused:
                act()
            assert code(refused) == why
    # it can still be taken up again
    assert scale.book.weighings.unfinished() == (making,) and scale.book.get(Bottle, "V9") is None


def test_what_nobody_knows_the_contents_of_cannot_be_finished(scale: Scale) -> None:
    (unknown,) = scale.book.put(Bottle("X1"))
    making = scale.begin()
    scale.book.weighings.accept(making.key, unknown.key, 1.0)
    for act in (lambda: scale.book.weighings.finish(making.key), lambda: scale.book.as_weighed(making.key)):
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == "contents-unknown" and refused.value.findings[0].data["code"] == "X1"


def test_another_order_and_a_corrected_figure(scale: Scale, clock) -> None:
    making = scale.begin()
    turned = scale.book.weighings.replan(making.key, scale.plan[::-1], "running total")
    assert turned.plan == tuple(scale.plan[::-1]) and turned.mode == "running total"
    move = scale.accept(making, 1, 2.2)
    clock.tick(seconds=40)
    scale.accept(making, 0, 3.0)
    scale.book.correct(move.key, mass_g=2.0, read_g=2.0)
    assert scale.book.left(scale.second.key)[scale.second.key] == 23.0
    scale.book.weighings.finish(making.key)
    assert scale.book.as_weighed(making.code) == pytest.approx({scale.linalool.key: 600.0, scale.cedar.key: 400.0})
    assert [scale.book.history(m.key) for m in scale.book.weighings.poured(making.key)] == [(move,), ()]


def test_a_figure_corrected_after_the_end_counts_too(scale: Scale) -> None:
    making = scale.begin()
    scale.accept(making, 0, 3.0)
    move = scale.accept(making, 1, 2.2)
    vial = scale.book.weighings.finish(making.key)
    scale.book.correct(move.key, mass_g=2.0, read_g=2.0)
    assert scale.book.as_weighed(vial.key) == pytest.approx({scale.linalool.key: 600.0, scale.cedar.key: 400.0})
    assert scale.book.book_mass(vial.key) == 5.0 and scale.book.left(scale.second.key) == {scale.second.key: 23.0}
    (now,) = scale.book.all(Move, line=scale.plan[1].line)
    assert (now.read_g, now.target_g, now.making, now.at) == (2.0, 2.0, making.key, move.at)


def test_the_order_last_weighed_in_is_remembered(scale: Scale, clock) -> None:
    book = scale.book
    lines = [line.key for line in scale.version.lines]
    assert book.weighings.remembered(scale.version.key) == () and book.weighings.remembered(999_999) == ()
    firsts = []
    for order in ((1, 0), (0, 1)):
        making = scale.begin()
        moves = []
        for place in (*order, order[0]):  # the first one is poured into once more
            clock.tick(minutes=1)
            moves.append(scale.accept(making, place, 1.0))
        firsts.append(moves[0])
        assert book.weighings.remembered(scale.version.key) == tuple(lines[place] for place in order)
    clock.tick(minutes=1)
    # a slip put right is no weighing, and keeps the hour of what it puts right
    for move in reversed(firsts):
        book.correct(move.key, mass_g=1.1, read_g=1.1)
    assert book.weighings.remembered(scale.version.key) == tuple(lines)
    for move in book.weighings.poured(making.key):
        book.correct(move.key, kind="withdrawn")
    assert book.weighings.remembered(scale.version.key) == (lines[1], lines[0])


def test_a_weighing_cut_off_at_its_first_line_does_not_take_the_order_away(scale: Scale, clock) -> None:
    lines = [line.key for line in scale.version.lines]
    for order in ((1, 0), (1,)):
        making = scale.begin()
        for place in order:
            clock.tick(minutes=1)
            scale.accept(making, place, 1.0)
    assert scale.book.weighings.remembered(scale.version.key) == (lines[1], lines[0])


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


def test_a_vial_topped_up_later_is_still_the_trial_it_was_weighed_as(scale: Scale, clock) -> None:
    making = scale.begin()
    scale.accept(making, 0, 3.0)
    scale.accept(making, 1, 2.0)
    clock.tick(minutes=1)
    vial = scale.book.weighings.finish(making.key)
    clock.tick(minutes=1)
    scale.book.bottles.make("top-up", vial, (Poured(scale.second.key, 1.0),))
    assert scale.book.as_weighed(vial.key) == scale.book.as_weighed(making.key)
    assert scale.book.contents(vial.key)[scale.cedar.key] == pytest.approx(0.5)


def test_a_balance_check_is_a_record(scale: Scale) -> None:
    book = scale.book
    (check,) = book.put(BenchCheck(scale.balance.key, book.now(), 20.0, (20.01,), level_ok=False))
    right = book.correct(check.key, readings=(20.001,), level_ok=True)
    assert list(book.all(BenchCheck, balance=scale.balance.key)) == [right] and book.history(right.key) == (check,)
    for act in (lambda: book.correct(check.key, remark="again"), lambda: book.put(replace(right, weight_g=50.0))):
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == "record"
    with pytest.raises(Refused) as refused:
        book.put(BenchCheck(999_999, book.now(), 20.0, (20.0,)))
    assert code(refused) == "reference-missing"


# two weighings of the most that is drawn here stay within what the smaller bottle holds
MASSES = st.lists(st.tuples(st.integers(0, 1), st.integers(1, 1500).map(lambda mg: mg / 1000)), min_size=1, max_size=8)


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


@given(MASSES, st.data())
def test_given_up_at_any_line_the_figures_stay_and_the_mass_is_waste(tmp_path_factory, masses, data) -> None:
    with Book.create(tmp_path_factory.mktemp("scale") / "b.stillroom", "B") as book:
        scale = Scale(book)
        making = scale.begin()
        moves = [scale.accept(making, place, mass) for place, mass in masses]
        slips = data.draw(st.sets(st.sampled_from(range(len(moves)))))
        for place in slips:
            book.correct(moves[place].key, mass_g=masses[place][1] / 2, read_g=masses[place][1] / 2)
        figures = [mass / 2 if place in slips else mass for place, (_, mass) in enumerate(masses)]
        before = book.weighings.poured(making.key)
        drunk = data.draw(st.floats(0, 1)) * book.book_mass(making.into_bottle)
        if drunk > 0:
            book.bottles.draw(making.into_bottle, "spill", drunk)
        book.weighings.abandon(making.key, "given up")
        assert book.weighings.poured(making.key) == before and book.weighings.unfinished() == ()
        assert sorted(move.read_g for move in before) == sorted(figures)
        wasted = sum(move.mass_g for move in book.all(Move, from_bottle=making.into_bottle))
        drawn = 75.0 - sum(book.left(scale.first.key, scale.second.key).values())
        assert drawn == pytest.approx(sum(figures)) == pytest.approx(book.book_mass(making.into_bottle) + wasted)
        assert book.book_mass(making.into_bottle) == pytest.approx(0.0, abs=1e-9)
        assert sum(book.as_weighed(making.key).values()) == pytest.approx(1000.0)


# the invented studio ----------------------------------------------------------------------------------------------------


def _again(studio: Book, clock) -> tuple[Making, tuple[Move, ...]]:
    """T-024 begun once more, after everything the studio did, and the figures it was weighed with."""
    clock.tick(days=400)
    old = studio.get(Making, "T-024")
    moves = studio.weighings.poured(old.key)
    assert len(moves) == 20
    plan = [Planned(move.target_g, move.line, move.from_bottle) for move in moves]
    vial = Bottle("V099", kind="trial", version=old.version)
    begun = studio.weighings.begin("trial", vial, plan, balance=old.balance, code="T-099", version=old.version)
    return begun, moves


def _accept(book: Book, making: Making, move: Move) -> None:
    book.weighings.accept(making.key, move.from_bottle, move.read_g, line=move.line, target_g=move.target_g)


def test_t024_as_weighed(studio: Book) -> None:
    short = {row.key: row.short for row in studio.material_rows()}
    old = studio.get(Making, "T-024")
    for sought in (old.key, "T-024", old.into_bottle):
        found = {short[key]: parts for key, parts in studio.as_weighed(sought).items()}
        assert found.keys() == T024.keys()
        for name, known in T024.items():
            assert found[name] == pytest.approx(known, rel=5e-5), name
        assert sum(found.values()) == pytest.approx(1000, abs=5e-4)
    last = [m for m in studio.all(Making, version=old.version, kind="trial") if studio.weighings.poured(m.key)][-1]
    order = tuple(move.line for move in studio.weighings.poured(last.key))
    assert len(order) == 20 and studio.weighings.remembered(old.version) == order


def test_t024_weighed_again_is_the_same(studio: Book, clock) -> None:
    making, moves = _again(studio, clock)
    for move in moves:
        _accept(studio, making, move)
    vial = studio.weighings.finish(making.key)
    assert studio.as_weighed("T-099") == pytest.approx(studio.as_weighed("T-024"), rel=1e-9)
    held = {key: share * 1000 for key, share in studio.contents(vial.key).items()}
    assert held == pytest.approx(studio.as_weighed("T-024"), rel=1e-9)


def test_cut_off_at_line_11_of_20_it_is_taken_up_where_it_stood(studio: Book, studio_path: Path, clock, tmp_path: Path) -> None:
    making, moves = _again(studio, clock)
    for move in moves[:10]:
        _accept(studio, making, move)
    cut_off = tmp_path / "cut off.stillroom"
    cut_off.write_bytes(studio_path.read_bytes())  # as a program that is killed leaves it
    with Book.open(cut_off, clock) as again:
        (open_,) = again.weighings.unfinished()
        assert open_ == making and len(open_.plan) == 20
        assert [move.read_g for move in again.weighings.poured(open_.key)] == [move.read_g for move in moves[:10]]
        for planned, move in zip(open_.plan[10:], moves[10:], strict=True):
            assert (planned.bottle, planned.line, planned.target_g) == (move.from_bottle, move.line, move.target_g)
            _accept(again, open_, move)
        again.weighings.finish(open_.key)
        assert again.as_weighed("T-099") == pytest.approx(again.as_weighed("T-024"), rel=1e-9) and again.check() == ()
    assert studio.weighings.unfinished() == (making,)


# what does not reach the vessel, or leaves it --------------------------------------------------------------------------------


def test_counted_drops_are_an_estimate_and_no_figure_of_the_balance(scale: Scale) -> None:
    making = scale.begin()
    move = scale.book.weighings.accept(making.key, scale.first.key, 0.05, line=scale.plan[0].line, estimated=True)
    assert move.estimated and move.read_g is None and move.u_g is None and move.mass_g == 0.05
    assert scale.book.left(scale.first.key)[scale.first.key] == pytest.approx(49.95)
    assert not scale.accept(making, 1, 0.05).estimated


def test_spilled_on_the_way_it_left_the_bottle_and_is_no_part_of_the_trial(scale: Scale) -> None:
    making = scale.begin()
    scale.book.bottles.draw(scale.first.key, "spill", 0.5)
    scale.accept(making, 0, 3.0)
    scale.accept(making, 1, 2.0)
    assert scale.book.left(scale.first.key)[scale.first.key] == pytest.approx(46.5)
    assert scale.book.as_weighed(making.key)[scale.linalool.key] == pytest.approx(600.0)
    assert sum(scale.book.weighings.inside(making.key).values()) == pytest.approx(5.0)


def test_spilled_out_of_the_vessel_it_was_a_share_of_all_that_was_in(scale: Scale, clock) -> None:
    """1 g of the 3 g that are in: 2 g of the first stay, and the second comes whole on top."""
    making = scale.begin()
    assert scale.book.weighings.inside(making.key) == {}
    first = scale.accept(making, 0, 3.0)
    clock.tick(minutes=1)
    scale.book.bottles.draw(making.into_bottle, "spill", 1.0, remark="out of the vessel")
    clock.tick(minutes=1)
    second = scale.accept(making, 1, 2.0)
    assert scale.book.weighings.inside(making.key) == pytest.approx({first.key: 2.0, second.key: 2.0})
    assert scale.book.as_weighed(making.key) == pytest.approx({scale.linalool.key: 500.0, scale.cedar.key: 500.0})
    vial = scale.book.weighings.finish(making.key)
    assert scale.book.contents(vial.key) == pytest.approx({scale.linalool.key: 0.5, scale.cedar.key: 0.5})
    assert scale.book.book_mass(vial.key) == pytest.approx(4.0)
    scale.book.bottles.discard(vial.key)  # what leaves when all is in changes no share
    assert scale.book.as_weighed(making.key) == pytest.approx({scale.linalool.key: 500.0, scale.cedar.key: 500.0})
    assert sum(scale.book.weighings.inside(making.key).values()) == pytest.approx(0.0)


def test_spilled_to_the_last_drop_nothing_of_it_counts(scale: Scale) -> None:
    making = scale.begin()
    scale.accept(making, 0, 3.0)
    scale.book.bottles.draw(making.into_bottle, "spill", 3.0)
    scale.accept(making, 1, 2.0)
    assert scale.book.as_weighed(making.key) == pytest.approx({scale.cedar.key: 1000.0})


@given(
    st.lists(st.tuples(st.integers(0, 1), st.floats(0.05, 2.0), st.floats(0.0, 0.3), st.floats(0.0, 0.9)), min_size=1, max_size=6)
)
def test_what_left_the_bottles_is_in_the_vessel_or_was_spilled(tmp_path_factory, acts) -> None:
    """Each act: which bottle, the figure, g spilled on the way, the share of the vessel's contents spilled after it."""
    with Book.create(tmp_path_factory.mktemp("spill") / "book.stillroom", "Spilled") as book:
        scale = Scale(book)
        making = scale.begin()
        on_the_way = out = 0.0
        held = [0.0, 0.0]
        for place, mass, way, share in acts:
            if way > 0.001:
                book.bottles.draw(scale.plan[place].bottle, "spill", way)
                on_the_way += way
            scale.accept(making, place, mass)
            held[place] += mass
            spilled = round(sum(held) * share, 9)
            if share > 0.01:
                book.bottles.draw(making.into_bottle, "spill", spilled)
                out += spilled
                held = [mass * (1 - spilled / sum(held)) for mass in held]
        drawn = 75.0 - sum(book.left(scale.first.key, scale.second.key).values())
        inside = book.left(making.into_bottle)[making.into_bottle]
        assert drawn == pytest.approx(inside + on_the_way + out, abs=1e-6)
        assert sum(book.weighings.inside(making.key).values()) == pytest.approx(inside, abs=1e-6) == sum(held)
        shares = book.as_weighed(making.key)
        assert shares.get(scale.linalool.key, 0.0) == pytest.approx(1000 * held[0] / sum(held), abs=1e-4)
