# SPDX-License-Identifier: MIT
"""What was weighed stands for ever: the version, every accord inside it, and every record; held by the file itself."""

import sqlite3
from dataclasses import replace

import pytest

from db import Change, Refused, rules
from perfumery import Bottle, Line, Making, Move, Note, Project, Reading, Strip, Version


@pytest.fixture
def nested(bench):
    """(outer, middle, inner): the bench's version holds its accord, which holds another."""
    (inner,) = bench.book.put(Version(bench.project.key, "A-0", (Line(1, bench.lemon.key),)))
    (middle,) = bench.book.put(replace(bench.accord, lines=(*bench.accord.lines, Line(5, accord=inner.key))))
    return bench.version, middle, inner


@pytest.fixture
def weighing(bench, nested, clock):
    """A making in a vial that waits for its first figure."""
    vial, source = bench.book.put(Bottle("V001", "trial", version=bench.version.key), Bottle("M-1"))
    (making,) = bench.book.put(Making("trial", vial.key, clock(), version=bench.version.key, mode="running total"))
    return making, vial, source


def state(book, *versions):
    return [book.get(Version, version.key).frozen_at for version in versions]


def test_the_first_figure_freezes_the_version_and_all_inside_it(bench, nested, weighing, clock):
    book, (making, vial, source) = bench.book, weighing
    assert state(book, *nested) == [None] * 3
    told = []
    book.on_change(told.append)
    at = clock.tick(minutes=5)
    book.put(Move(at, "pour", 0.5, source.key, vial.key, making=making.key))
    assert state(book, *nested) == [at] * 3
    (change,) = told
    frozen = {new.key: (old, new) for old, new in change.pairs if isinstance(new, Version)}
    assert frozen == {v.key: (v, replace(v, frozen_at=at)) for v in nested}
    clock.tick(minutes=5)
    book.put(Move(clock(), "pour", 0.5, source.key, vial.key, making=making.key))
    assert state(book, *nested) == [at] * 3
    assert book.check() == ()


def test_masses_that_are_no_figure_of_a_trial_freeze_nothing(bench, nested, weighing, clock):
    book, (making, vial, source) = bench.book, weighing
    book.put(
        Move(clock(), "pour", 0.5, source.key, vial.key),
        Move(clock(), "spill", 0.5, source.key, making=making.key),
        Making("dilution", source.key, clock()),
    )
    (dilution,) = book.put(Making("dilution", source.key, clock(), mode="tare each"))
    book.put(Move(clock(), "pour", 0.5, vial.key, source.key, making=dilution.key))
    assert state(book, *nested) == [None] * 3


def test_a_trial_without_weighing_freezes_at_once(bench, nested, clock):
    making, _ = bench.book.start_trial(bench.version.key, 5)
    assert state(bench.book, *nested) == [making.started_at] * 3


def test_an_accord_frozen_earlier_keeps_its_hour(bench, nested, clock):
    inner = nested[2]
    bench.book.start_trial(inner.key, 5)
    early = clock()
    clock.tick(days=1)
    bench.book.start_trial(bench.version.key, 5)
    assert state(bench.book, *nested) == [clock(), clock(), early]


def test_a_version_made_and_weighed_in_one_put_comes_back_frozen(bench, clock):
    book, key = bench.book, bench.book.new_key()
    (vial,) = book.put(Bottle("V"))
    told = []
    book.on_change(told.append)
    version, _ = book.put(
        Version(bench.project.key, "SR-5", (Line(1, bench.lemon.key),), key=key),
        Making("trial", vial.key, clock(), version=key),
    )
    assert version.frozen_at == clock() and book.get(Version, key) == version
    assert [(old, new) for old, new in told[0].pairs if isinstance(new, Version)] == [(None, version)]


def test_a_frozen_version_keeps_its_lines_but_not_its_name(bench, vial):
    book, frozen = bench.book, bench.book.get(Version, bench.version.key)
    first, second = frozen.lines
    for changed in (
        replace(frozen, lines=(replace(first, parts=120), second)),
        replace(frozen, lines=(second, first)),
        replace(frozen, lines=(first,)),
        replace(frozen, lines=(*frozen.lines, Line(1, bench.lemon.key))),
        replace(frozen, lines=(replace(first, strength=0.5, carrier=bench.ethanol.key), second)),
        replace(frozen, lines=(replace(first, key=None), second)),
        replace(frozen, total=900.0),
        replace(frozen, frozen_at=None),
        bench.version,
    ):
        with pytest.raises(Refused) as refused:
            book.put(changed, what="too late")
        assert [f.code for f in refused.value.findings] == ["frozen"]
        assert refused.value.findings[0].data == {"code": "SR-1"}
    (named,) = book.put(replace(frozen, name="Named", starred=True, reason="since"), what="named")
    assert book.get(Version, frozen.key) == named
    assert book.undo() == "named"
    assert book.get(Version, frozen.key) == frozen


def test_nothing_but_weighing_freezes(bench, clock):
    book = bench.book
    with pytest.raises(Refused):
        book.put(replace(bench.version, frozen_at=clock()))
    (fresh,) = book.put(replace(bench.version, key=None, code="SR-7", frozen_at=clock()))
    assert fresh.frozen_at is None and book.get(Version, fresh.key) == fresh


SQL_REFUSED = {
    "frozen": (
        "UPDATE line SET parts = 1 WHERE version = :version",
        "UPDATE line SET strength = 0.5, carrier = :ethanol WHERE version = :version AND accord IS NULL",
        "DELETE FROM line WHERE version = :version",
        "DELETE FROM line WHERE version = :accord",
        "INSERT INTO line SELECT key + 1000, version, 9, parts, material, accord, strength, carrier, fill_up, held, as_carrier,"
        " remark FROM line WHERE version = :version",
        "UPDATE line SET version = :draft WHERE version = :version",
        "UPDATE version SET total = 1 WHERE key = :version",
        "UPDATE version SET frozen_at = NULL, frozen_off = NULL WHERE key = :version",
        "UPDATE version SET frozen_at = frozen_at + 1 WHERE key = :accord",
        "UPDATE version SET frozen_off = 0 WHERE key = :version",
        "UPDATE line SET version = :version WHERE version = :draft",
        "DELETE FROM version WHERE key = :version",
    ),
    "record": tuple(
        f"{verb} WHERE {'contents' if table == 'content_share' else 'key'} > 0"
        for table in ("contents", "content_share", "move", "reading", "note", "decision")
        for verb in (f"DELETE FROM {table}", f"UPDATE {table} SET {'share' if table == 'content_share' else 'key'} = 1")
    ),
}


@pytest.fixture
def full(bench, vial, clock):
    """The bench with one record of each kind, and keys for the statements."""
    book = bench.book
    (draft,) = book.put(book.draft_of(bench.version.key))
    (strip,) = book.put(Strip("P01", vial.key, clock()))
    book.put(
        Move(clock(), "received", 1.0, to_bottle=vial.key), Reading(strip.key, clock()), Note("x", project=bench.project.key)
    )
    book._file.raw.execute(
        "INSERT INTO decision VALUES (9000, ?, '2025-04-10', '[]', '', '{}', '', NULL, '[]', '{}')", (bench.project.key,)
    )
    keys = {"version": bench.version.key, "accord": bench.accord.key, "ethanol": bench.ethanol.key, "draft": draft.key}
    return book._file.raw, keys


@pytest.mark.parametrize("said, statement", [(said, sql) for said, some in SQL_REFUSED.items() for sql in some])
def test_the_file_itself_refuses(full, said, statement):
    raw, keys = full
    wanted = {name: key for name, key in keys.items() if f":{name}" in statement}
    with pytest.raises(sqlite3.IntegrityError, match=f"^{said}$"):
        raw.execute(statement, wanted)


def test_steps_older_than_the_freeze_are_forgotten(bench, clock):
    book = bench.book
    book.put(replace(bench.lemon, bench_name="Lemon"), what="lemon named")
    (version,) = book.put(replace(bench.version, name="Named"), what="version named")
    book.put(replace(version, lines=version.lines[:1]), what="line gone")
    book.undo()
    assert book.can_redo == "line gone"
    book.start_trial(bench.version.key, 5)
    assert (book.can_undo, book.can_redo) == ("lemon named", None)
    assert book.undo() == "lemon named"


def test_a_draft_is_a_child_with_the_same_lines_and_no_reason(bench, vial, clock):
    book, parent = bench.book, bench.book.get(Version, bench.version.key)
    clock.tick(days=1)
    draft = book.draft_of(parent.key)
    assert (draft.key, draft.code, draft.parent, draft.reason, draft.frozen_at) == (None, "SR-2", parent.key, "", None)
    (put,) = book.put(draft, what="draft")
    assert put.made_at == clock() and not {line.key for line in put.lines} & {line.key for line in parent.lines}
    assert [replace(line, key=None) for line in put.lines] == [replace(line, key=None) for line in parent.lines]
    assert book.undo() == "draft" and book.get(Version, put.key) is None


@pytest.mark.parametrize("said", ["frozen", "record"])
def test_what_the_file_itself_refuses_has_the_same_word(said):
    """The guards of the file are the last ones; whatever meets them first hears what `put` would have said."""
    change = Change("edit", ((None, Project(code="SR")),))
    (finding,) = rules.refusal_of(said, change, undoing=False).findings
    assert finding.code == said and "SR" in finding.data.values()
