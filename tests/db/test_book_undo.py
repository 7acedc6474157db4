# SPDX-License-Identifier: MIT
"""Undo all is the start, redo all is the end, whatever was edited; records stay; a write that fails moves nothing."""

import sqlite3
from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from db import Book, DiskFull, Refused
from db.kinds import KINDS
from db.undo import DEPTH
from perfumery import Balance, Bottle, Line, Material, Note, Project, Reading, Strip, Version, Word

EDITABLE = [kind for kind in KINDS.values() if kind.editable]
RECORDS = [kind for kind in KINDS.values() if not kind.editable]


def all_of(book, kinds):
    return {kind.value: list(book._store.select(kind)) for kind in kinds}


def undo_all(book):
    done = []
    while (what := book.undo()) is not None:
        done.append(what)
    return done


def redo_all(book):
    done = []
    while (what := book.redo()) is not None:
        done.append(what)
    return done


# programs of edits ----------------------------------------------------------------------------------------------------

NAMES = st.sampled_from(["a", "b", "c"])


class Program:
    """Edits drawn at random, put through the door; refused ones leave no trace."""

    def __init__(self, book, data):
        self.book, self.draw = book, data.draw
        self.steps = []

    def some(self, kind):
        found = list(self.book.all(kind))
        return self.draw(st.sampled_from(found)) if found else None

    def edits(self):
        made = self.draw(st.integers(0, 5))
        text = self.draw(NAMES)
        project, material, version = self.some(Project), self.some(Material), self.some(Version)
        if made == 0 or project is None or material is None:
            return [Project(code=self.book.next_code(Project, "X"), name=text), Material(text)]
        if made == 1:
            return [replace(material, bench_name=text), Word(self.book.next_code(Word, "w"), text)]
        if made == 2:
            return [replace(project, name=text, price_ceiling=self.draw(st.none() | st.floats(0, 9)))]
        if made == 3 or version is None:
            return [Version(project.key, self.book.next_code(Version, "V-"), self.lines(material, version))]
        if made == 4:
            return [Balance(text, 0.1), Bottle(self.book.next_code(Bottle, "B"), material=material.key)]
        return [replace(version, lines=self.lines(material, version, version.lines), name=text)]

    def lines(self, material, version, held=()):
        kept = list(self.draw(st.permutations(held)))[: self.draw(st.integers(0, 4))]
        fresh = self.draw(st.lists(st.floats(0, 100), max_size=2))
        kept += [Line(parts, material.key) for parts in fresh]
        if version is not None and self.draw(st.booleans()):
            kept.append(Line(1, accord=version.key))
        return tuple(kept)

    def step(self):
        before = all_of(self.book, EDITABLE)
        try:
            self.book.put(*self.edits(), what=f"step {len(self.steps)}")
        except Refused:
            assert all_of(self.book, EDITABLE) == before
            return
        if all_of(self.book, EDITABLE) != before:
            self.steps.append(f"step {len(self.steps)}")


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    with Book.create(tmp_path_factory.mktemp("undo") / "undo.stillroom", "Undo") as book:
        yield book


@settings(max_examples=40)
@given(data=st.data())
def test_undo_all_is_the_start_and_redo_all_the_end(drawn, data):
    book = drawn
    undo_all(book)  # an example may have been given up on the way
    start = all_of(book, EDITABLE)
    program = Program(book, data)
    for _ in range(data.draw(st.integers(1, 12))):
        program.step()
    end = all_of(book, EDITABLE)
    assert undo_all(book) == program.steps[::-1]
    assert all_of(book, EDITABLE) == start
    assert redo_all(book) == program.steps
    assert all_of(book, EDITABLE) == end
    # and from any point between
    back = data.draw(st.integers(0, len(program.steps)))
    for _ in range(back):
        book.undo()
    between = all_of(book, EDITABLE)
    redo_all(book)
    assert all_of(book, EDITABLE) == end
    for _ in range(back):
        book.undo()
    assert all_of(book, EDITABLE) == between
    undo_all(book)
    assert all_of(book, EDITABLE) == start


def test_the_same_edit_to_and_fro_is_undone_in_its_order(bench):
    book = bench.book
    other = replace(bench.lemon, bench_name="L")
    told = []
    book.on_change(told.append)
    for value in (other, bench.lemon, other, bench.lemon, other):
        book.put(value, what="to and fro")
    for expected in (bench.lemon, other, bench.lemon, other, bench.lemon):
        assert book.undo() == "to and fro"
        assert book.get(Material, other.key) == expected
        assert told[-1].pairs[0][1] == expected
    for expected in (other, bench.lemon, other, bench.lemon, other):
        assert book.redo() == "to and fro"
        assert book.get(Material, other.key) == expected


# records --------------------------------------------------------------------------------------------------------------


def test_undo_never_takes_a_record_back(bench, vial, clock):
    book = bench.book
    (strip,) = book.put(Strip("P01", vial.key, clock()))
    (reading,) = book.put(Reading(strip.key, clock(), intensity=3))
    book.correct(reading.key, intensity=4)
    (material,) = book.put(Material("Noted"), what="noted")
    book.put(Note("kept", material=material.key))
    records = all_of(book, RECORDS)
    with pytest.raises(Refused) as refused:
        book.undo()
    assert [f.code for f in refused.value.findings] == ["undo-held"]
    assert refused.value.findings[0].data == {"what": "noted"}
    while book.can_undo:
        with suppress(Refused):
            book.undo()
    assert all_of(book, RECORDS) == records
    assert book.get(Material, material.key) == material
    assert book.undo() is None
    redo_all(book)
    assert all_of(book, RECORDS) == records and book.check() == ()


def test_a_step_that_is_held_is_let_go_and_the_one_before_it_comes_up(bench, clock):
    book = bench.book
    book.put(replace(bench.lemon, bench_name="L"), what="before")
    (material,) = book.put(Material("Noted"), what="held")
    book.put(Note("kept", material=material.key))
    with pytest.raises(Refused):
        book.undo()
    assert (book.can_undo, book.can_redo) == ("before", None)
    assert book.undo() == "before" and book.redo() == "before"


def test_what_was_put_together_with_a_record_is_not_led_back_across(bench, clock):
    """An edit that undo does not know must not be lost by undoing an older one."""
    book = bench.book
    first, other = book.put(replace(bench.lemon, bench_name="one"), replace(bench.ambroxide, bench_name="A"), what="one")
    book.put(replace(other, bench_name="A2"), what="other")
    book.put(replace(bench.ethanol, bench_name="E"), what="free")
    book.put(replace(first, bench_name="two"), Note("why", material=first.key), what="mixed")
    assert [book.undo(), book.undo()] == ["free", "other"]
    assert book.get(Material, other.key).bench_name == "A"
    assert undo_all(book) == ["edit", "edit"]
    assert book.get(Material, bench.lemon.key).bench_name == "two"


def test_redo_is_gone_after_a_new_edit(bench):
    book = bench.book
    book.put(replace(bench.lemon, bench_name="L"), what="first")
    book.undo()
    assert book.can_redo == "first"
    book.put(replace(bench.lemon, bench_name="M"), what="second")
    assert (book.can_undo, book.can_redo) == ("second", None)
    assert book.redo() is None


def test_a_redo_that_can_no_longer_be_is_let_go(bench, clock):
    book = bench.book
    book.put(Bottle("V001"), what="bottle")
    book.undo()
    book.start_trial(bench.version.key, 5)
    with pytest.raises(Refused) as refused:
        book.redo()
    assert [f.code for f in refused.value.findings] == ["code-taken"]
    assert book.can_redo is None


# failure and depth ----------------------------------------------------------------------------------------------------


def test_a_failed_write_moves_no_index_and_tells_nobody(bench, monkeypatch):
    book = bench.book
    (value,) = book.put(replace(bench.lemon, bench_name="L"), what="first")
    told = []
    book.on_change(told.append)

    def apply(*_):
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise error

    for call in (book.undo, lambda: book.put(bench.lemon)):
        with monkeypatch.context() as patch:
            patch.setattr(book._store, "apply", apply)
            with pytest.raises(DiskFull):
                call()
        assert (book.can_undo, book.can_redo, told) == ("first", None, [])
        assert book.get(Material, value.key) == value
    book.undo()
    with monkeypatch.context() as patch:
        patch.setattr(book._store, "apply", apply)
        with pytest.raises(DiskFull):
            book.redo()
    assert (book.can_undo, book.can_redo) == ("edit", "first")
    assert book.redo() == "first"


def test_a_listener_that_fails_does_not_part_screen_and_disk(bench):
    """The write stands, so the lists have moved by then."""
    book = bench.book
    book.put(replace(bench.lemon, bench_name="L"), what="first")

    def broken(change):
        raise RuntimeError

    book.on_change(broken)
    for call, expected in ((book.undo, ("edit", "first")), (book.redo, ("first", None))):
        with pytest.raises(RuntimeError):
            call()
        assert (book.can_undo, book.can_redo) == expected


def test_two_hundred_steps_are_kept(bench):
    book = bench.book
    for number in range(DEPTH + 5):
        book.put(replace(bench.lemon, bench_name=str(number)), what=str(number))
    assert undo_all(book) == [str(number) for number in range(DEPTH + 4, 4, -1)]
    assert book.get(Material, bench.lemon.key).bench_name == "4"
    assert DEPTH == 200 and len(redo_all(book)) == 200
    assert book.get(Material, bench.lemon.key).bench_name == str(DEPTH + 4)
    assert book.undo() == str(DEPTH + 4)


def test_steps_do_not_outlive_the_book(bench, path, clock):
    bench.book.close()
    with Book.open(path, clock) as again:
        assert (again.can_undo, again.can_redo, again.undo(), again.redo()) == (None, None, None, None)


def test_no_step_leads_back_across_one_that_was_let_go(bench):
    """Such a step would tell a state that the disk does not hold, and lose lines on the way."""
    book, told = bench.book, []
    other = replace(bench.ambroxide, bench_name="A")
    (version,) = book.put(replace(bench.version, lines=(*bench.version.lines, Line(2, bench.lemon.key))), what="one")
    book.put(other, what="free")
    more = replace(version, lines=(*version.lines, Line(3, bench.lemon.key)))
    material, more = book.put(Material("Noted"), more, what="held")
    book.put(Note("kept", material=material.key))
    book.on_change(told.append)
    with pytest.raises(Refused):
        book.undo()
    assert told == []
    assert book.can_undo == "free"
    while book.can_undo:
        with suppress(Refused):
            book.undo()
    assert "one" not in [change.what for change in told] and "free" in [change.what for change in told]
    assert book.get(Version, version.key) == more


def test_a_redo_let_go_leaves_what_was_done(bench):
    """Only the way forward is blocked: the step before it can still be taken back."""
    book = bench.book
    book.put(replace(bench.lemon, bench_name="one"), what="one")
    book.put(replace(bench.lemon, bench_name="two"), Bottle("V001"), what="two")
    book.put(replace(bench.lemon, bench_name="three"), what="three")
    book.put(replace(bench.ambroxide, bench_name="A"), what="free")
    assert [book.undo() for _ in range(3)] == ["free", "three", "two"]
    book.start_trial(bench.accord.key, 5)  # its vial takes the code
    with pytest.raises(Refused):
        book.redo()
    assert (book.can_undo, book.can_redo) == ("one", "free")
    assert book.redo() == "free" and book.undo() == "free" and book.undo() == "one"
    assert book.get(Material, bench.lemon.key) == bench.lemon
