# SPDX-License-Identifier: MIT
"""The ladder of the file: a new book is the ladder climbed from zero, what the program sees is what the file is, and a book
of every released step opens for ever.

`fixtures/step1.stillroom` was made by the program that step 1 was released with, and is never made again:

    from datetime import datetime, timedelta, timezone
    from db import Book
    from perfumery import Bottle, Line, Material, Note, Project, Reading, Strip, Version

    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))
    with Book.create("tests/db/fixtures/step1.stillroom", "Step 1", clock=clock) as book:
        ethanol, linalool = book.put(Material("Ethanol", is_carrier=True), Material("Linalool", cas="78-70-6", words=("floral",)))
        (project,) = book.put(Project("ONE", "First", strength=0.12, carrier=ethanol.key))
        lines = (Line(100.0, linalool.key, strength=0.1, carrier=ethanol.key), Line(900.0, ethanol.key))
        (accord,) = book.put(Version(project.key, "ONE-1", lines, name="Inside"))
        (version,) = book.put(Version(project.key, "ONE-2", (Line(10.0, accord=accord.key), Line(5.0, linalool.key))))
        making, vial = book.start_trial(version.key, 5.0)
        (strip,) = book.put(Strip("S1", vial.key, clock()))
        (reading,) = book.put(Reading(strip.key, clock() + timedelta(minutes=5), 300.0, 3.5, words={"floral": 2}, note="crème"))
        book.correct(reading.key, intensity=4.0)
        book.put(Note("Fixture of step one", version=version.key), Bottle("B1", material=linalool.key, price_per_g=0.08))
"""

import shutil
import sqlite3
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from db import Book, steps
from db import tables as t
from perfumery import Bottle, Material, Note, Project, Reading, Strip, Version

STEP1 = Path(__file__).parent / "fixtures" / "step1.stillroom"
AT = datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))


@pytest.fixture
def raw(tmp_path):
    """A file that the ladder has just been climbed in."""
    raw = sqlite3.connect(tmp_path / "ladder.stillroom", isolation_level=None)
    steps.climb(raw, 0)
    yield raw
    raw.close()


def _tables(raw):
    """{table: its row of PRAGMA table_list} of everything but the text index and SQLite's own."""
    rows = [row for row in raw.execute("PRAGMA table_list") if row[0] == "main"]
    return {row[1]: row for row in rows if not row[1].startswith(("sqlite_", "note_text"))}


def test_tables_of_the_program_are_those_of_the_file(tmp_path, raw):
    engine = create_engine(f"sqlite:///{tmp_path / 'ladder.stillroom'}")
    found = inspect(engine)
    assert _tables(raw).keys() == t.METADATA.tables.keys()
    for table in t.METADATA.tables.values():
        columns = [
            (column["name"], str(column["type"]), column["nullable"], bool(column["primary_key"]))
            for column in found.get_columns(table.name)
        ]
        # a single integer key is never NULL in SQLite although its declaration does not say so
        expected = [(c.name, str(c.type), c.nullable or c.primary_key, c.primary_key) for c in table.columns]
        shown = [(name, kind, nullable or key, key) for name, kind, nullable, key in columns]
        assert shown == expected, table.name
        key = found.get_pk_constraint(table.name)["constrained_columns"]
        assert key == table.primary_key.columns.keys()
    engine.dispose()


def test_every_table_is_strict(raw):
    tables = _tables(raw)
    assert tables and [name for name, row in tables.items() if not row[5]] == []


def test_every_reference_names_a_table_and_is_checked_at_commit(raw):
    for name in _tables(raw):
        (sql,) = raw.execute("SELECT sql FROM sqlite_schema WHERE type = 'table' AND name = ?", (name,)).fetchone()
        references = raw.execute(f"PRAGMA foreign_key_list({name})").fetchall()
        assert {row[2] for row in references} <= t.METADATA.tables.keys()
        assert sql.count("DEFERRABLE INITIALLY DEFERRED") == len(references)


def test_step_is_known_by_its_number():
    """A tripwire: whoever adds a step adds its fixture book here, and never changes an old step."""
    assert steps.KNOWN == len(steps.STEPS) == 1
    assert sorted(path.name for path in STEP1.parent.iterdir()) == [f"step{n + 1}.stillroom" for n in range(steps.KNOWN)]


def test_header_tells_program_and_step(raw):
    assert raw.execute("PRAGMA application_id").fetchone() == (int.from_bytes(b"Stil"),)
    assert raw.execute("PRAGMA user_version").fetchone() == (steps.KNOWN,)


def test_climbing_rolls_back_whole(tmp_path):
    raw = sqlite3.connect(tmp_path / "back.stillroom", isolation_level=None)
    raw.execute("BEGIN IMMEDIATE")
    steps.climb(raw, 0)
    raw.execute("ROLLBACK")
    assert raw.execute("PRAGMA user_version").fetchone() == (0,)
    assert raw.execute("PRAGMA application_id").fetchone() == (0,)
    assert raw.execute("SELECT count(*) FROM sqlite_schema").fetchone() == (0,)
    raw.close()


def test_nothing_to_climb_changes_nothing(raw):
    before = raw.total_changes, steps.structure(raw)
    steps.climb(raw, steps.KNOWN)
    assert (raw.total_changes, steps.structure(raw)) == before


def test_structure_is_what_is_expected_and_nothing_else(raw):
    assert steps.structure(raw) == steps.expected(steps.KNOWN)
    assert steps.expected(0) == {}
    raw.execute("CREATE INDEX added ON word (text)")
    assert steps.structure(raw).keys() - steps.expected(steps.KNOWN).keys() == {"added"}


def test_text_index_is_left_out_of_comparisons_but_nothing_named_alike(raw):
    assert not any(name.startswith("note_text") for name in steps.structure(raw))
    raw.execute("CREATE VIEW note_text_seen AS SELECT 1")
    raw.execute("CREATE TRIGGER note_text_spy AFTER INSERT ON word BEGIN DELETE FROM word; END")
    assert {"note_text_seen", "note_text_spy"} <= steps.structure(raw).keys()


def test_book_made_without_full_text_search(tmp_path, clock, monkeypatch):
    """Some builds of SQLite have none: the book does without, and opens where there is one."""
    path = tmp_path / "plain.stillroom"
    with monkeypatch.context() as patch:
        patch.setattr(steps, "has_fts5", lambda raw: False)
        with Book.create(path, "Plain", clock=clock) as book:
            (project,) = book.put(Project("P"))
            (note,) = book.put(Note("oakmoss again", project=project.key))
            assert book.search("oakmoss") == (note,)
    with Book.open(path, clock) as book:
        assert book.search("oakmoss") == (note,)
        (later,) = book.put(Note("more oakmoss", project=project.key))
        assert book.search("oakmoss") == (later, note)
        assert book.check() == ()


def test_new_book_is_the_ladder(tmp_path, clock):
    with Book.create(tmp_path / "new.stillroom", "New", "CHF", clock) as book:
        assert steps.structure(book._file.raw) == steps.expected(steps.KNOWN)
        assert (book.name, book.currency, len(book.uid)) == ("New", "CHF", 32)
        assert book.new_key() == 1


def test_book_of_step_1_opens_for_ever(tmp_path, clock):
    path = tmp_path / "step1.stillroom"
    shutil.copyfile(STEP1, path)
    with Book.open(path, clock) as book:
        assert book.check() == ()
        assert (book.name, book.currency) == ("Step 1", "EUR")
        assert [material.name for material in book.all(Material)] == ["Ethanol", "Linalool"]
        ethanol, linalool = book.all(Material)
        assert (linalool.cas, linalool.words, ethanol.is_carrier) == ("78-70-6", ("floral",), True)
        assert book.get(Project, "ONE").strength == 0.12
        accord, version = book.get(Version, "ONE-1"), book.get(Version, "ONE-2")
        assert [(line.parts, line.material, line.strength, line.carrier) for line in accord.lines] == [
            (100.0, linalool.key, 0.1, ethanol.key),
            (900.0, ethanol.key, 1.0, None),
        ]
        assert [line.accord for line in version.lines] == [accord.key, None]
        assert accord.frozen_at == version.frozen_at == AT
        assert book.get(Bottle, "B1").price_per_g == 0.08
        (reading,) = book.all(Reading, strip=book.get(Strip, "S1").key)
        assert (reading.intensity, reading.at, reading.words) == (4.0, AT + timedelta(minutes=5), {"floral": 2})
        assert reading.at.utcoffset() == timedelta(hours=2)
        assert [earlier.intensity for earlier in book.history(reading.key)] == [3.5]
        assert [note.text for note in book.search("fixture")] == ["Fixture of step one"]
        assert reading in book.search("creme")
        book.put(Material("added today"))
    with Book.open(path, clock) as book:
        assert book.check() == ()
        assert book.get(Material, "added today") is not None
