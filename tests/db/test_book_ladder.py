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

`fixtures/step2.stillroom` likewise, by the program of step 2:

    from dataclasses import replace
    from datetime import datetime, timedelta, timezone
    from itertools import count
    from db import Book
    from db.makings import Arrival, Poured
    from perfumery import Balance, Bottle, Material

    hours = count()
    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))
    at = lambda: clock() + timedelta(hours=next(hours))
    with Book.create("tests/db/fixtures/step2.stillroom", "Step 2", clock=clock) as book:
        do = book.bottles
        ethanol, linalool = book.put(Material("Ethanol", form="solvent", is_carrier=True), Material("Linalool"))
        (balance,) = book.put(Balance("B1", d_g=0.001, s_g=0.0008))
        arrived = Bottle("L1", material=linalool.key, tare_g=36.5, tare_inferred=True, volume_ml=30.0, price_per_g=0.08)
        neat, thinner = do.receive(Arrival(arrived, 10.0, read_g=46.5),
                                   Arrival(Bottle("E1", material=ethanol.key), 79.0, estimated=True), at=at())
        label = Bottle("D1", kind="dilution", material=linalool.key, strength=0.1, carrier=ethanol.key, tare_g=36.0,
                       ready_on="2025-04-11", dropper_on="2025-04-10")
        poured = (Poured(neat.key, 2.0, target_g=2.0), Poured(thinner.key, 18.0))
        made = do.make("dilution", label, poured, balance=balance, target_g=20.0, at=at())
        do.draw(made.key, "used", 6.4, remark="a trial elsewhere", at=at())
        do.reweigh(made.key, 12.95, read_g=48.95, balance=balance, at=at())
        risen = do.relabel(made.key)
        do.make("top-up", replace(risen, strength=0.1), (Poured(thinner.key, 0.65),), balance=balance, at=at())
        wrong = do.draw(thinner.key, "spill", 7.0, estimated=True, at=at())
        book.correct(wrong.key, mass_g=5.0)
        do.correct_mass(neat.key, 0.5, "the supplier filled in more than was said")
        do.keep_habit("drift tolerance", 0.08)

`fixtures/step3.stillroom` likewise, by the program of step 3:

    from datetime import datetime, timedelta, timezone
    from db import Arrival, Book
    from perfumery import Balance, BenchCheck, Bottle, Line, Material, Planned, Project, Version

    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))
    with Book.create("tests/db/fixtures/step3.stillroom", "Step 3", clock=clock) as book:
        linalool, cedar = book.put(Material("Linalool"), Material("Cedarwood oil"))
        (balance,) = book.put(Balance("B1", d_g=0.001, s_g=0.0008, max_g=200.0))
        readings = (20.0011, 20.0, 19.9997, 19.9996, 19.9998, 19.999, 19.9989, 20.0013, 20.0, 20.0006)
        book.put(BenchCheck(balance.key, clock(), 20.0, readings, level_ok=True, warm_up_min=35.0))
        first, second = book.bottles.receive(Arrival(Bottle("L1", material=linalool.key), 50.0),
                                             Arrival(Bottle("C1", material=cedar.key), 25.0))
        (project,) = book.put(Project("ONE"))
        lines = (Line(600.0, linalool.key), Line(400.0, cedar.key))
        (version,) = book.put(Version(project.key, "ONE-1", lines))
        plan = [Planned(3.0, version.lines[0].key, first.key), Planned(2.0, version.lines[1].key, second.key)]
        for code, masses in (("T-001", (3.001, 2.002)), ("T-002", (3.1,))):
            vial = Bottle(code.replace("T-", "V"), kind="trial", version=version.key, tare_g=12.3)
            making = book.weighings.begin("trial", vial, plan, balance=balance.key, code=code, version=version.key, target_g=5.0)
            for planned, mass in zip(plan, masses):
                book.weighings.accept(making.key, planned.bottle, mass, line=planned.line, target_g=planned.target_g)
            if len(masses) == 2:
                book.weighings.finish(making.key)

`fixtures/step4.stillroom` likewise, by the program of step 4: a sitting that was revealed, one that is sealed, a test half done.

    from datetime import datetime, timedelta, timezone
    from itertools import count
    from random import Random
    from db import Book
    from perfumery import Bottle, Material, Reading, Strip

    minutes = count()
    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2))) + timedelta(minutes=next(minutes))
    with Book.create("tests/db/fixtures/step4.stillroom", "Step 4", clock=clock) as book:
        lemon, cedar = book.put(Material("Lemon oil"), Material("Cedarwood oil"))
        first, second = book.put(Bottle("L1", material=lemon.key), Bottle("C1", material=cedar.key))
        for purpose, shuffled in (("shuffled", True), ("sealed", False)):
            sitting = book.sittings.begin(purpose=purpose, temp_c=21.0, blind=True)
            for bottle in (first, second):
                book.put(Strip(book.next_code(Strip, "P"), bottle.key, clock(), sitting=sitting.key, strength=1.0))
            book.sittings.seal(sitting.key, shuffled=shuffled, rng=Random(4))
            for strip in book.all(Strip, sitting=sitting.key):
                book.put(Reading(strip.key, clock(), intensity=3.5, words={"lemon peel": 2}))
            if shuffled:
                codes = sorted(strip.blind_code for strip in book.all(Strip, sitting=sitting.key))
                book.sittings.reveal(sitting.key, dict(zip(codes, book.sittings.papers(sitting.key))))
        test = book.tests.plan("triangle", (first.key, second.key), 3, rng=Random(4))
        book.tests.answer(test.key, 0, test.sets[0].split()[1])

`fixtures/step5.stillroom` likewise, by the program of step 5:

    from datetime import datetime, timedelta, timezone
    from db import Book
    from perfumery import Constituent, Decision, Limit, Line, Material, Project, Version

    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))
    with Book.create("tests/db/fixtures/step5.stillroom", "Step 5", clock=clock) as book:
        (rosemary,) = book.put(Material("Rosemary oil", form="essential oil"))
        camphor = Constituent(rosemary.key, "camphor", "76-22-2", 0.05, 0.15, 0.25, source="a certificate")
        book.put(camphor, Limit("Camphor in all", 0.005, "eau de toilette", "76-22-2", budget="ketones", dated_on="2025-02-10"))
        (project,) = book.put(Project("ONE", category="eau de toilette"))
        (version,) = book.put(Version(project.key, "ONE-1", (Line(10.0, rosemary.key),)))
        book.put(Decision(project.key, "2025-04-10", (version.key,), "it is the one", costs={version.key: 0.25}))

`fixtures/step6.stillroom` likewise, by the program of step 6:

    from datetime import datetime, timedelta, timezone
    from db import Book
    from perfumery import Bottle, Line, Material, Project, Version

    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))
    with Book.create("tests/db/fixtures/step6.stillroom", "Step 6", clock=clock) as book:
        ethanol, linalool = book.put(Material("Ethanol", is_carrier=True), Material("Linalool"))
        (project,) = book.put(Project("ONE", carrier=ethanol.key))
        book.put(Version(project.key, "ONE-1", (Line(10.0, linalool.key, strength=0.1, carrier=ethanol.key),)))
        book.put(Bottle("D1", kind="dilution", material=linalool.key, strength=0.1, carrier=ethanol.key))

`fixtures/step7.stillroom` likewise, by the program of step 7:

    from datetime import datetime, timedelta, timezone
    from db import Book
    from perfumery import Limit, Material, Project

    clock = lambda: datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))
    with Book.create("tests/db/fixtures/step7.stillroom", "Step 7", clock=clock) as book:
        ethanol, linalool = book.put(Material("Ethanol", is_carrier=True), Material("Linalool"))
        book.put(Project("ONE", carrier=ethanol.key), Limit("Linalool in all", 0.005, material=linalool.key))
"""

import shutil
import sqlite3
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from db import Book, steps
from db import tables as t
from perfumery import (
    Answer,
    BenchCheck,
    BlindTest,
    Bottle,
    Constituent,
    Contents,
    Habit,
    Limit,
    Making,
    Material,
    Move,
    Note,
    Project,
    Reading,
    Strip,
    Version,
)

STEP1 = Path(__file__).parent / "fixtures" / "step1.stillroom"
STEP2 = STEP1.with_name("step2.stillroom")
STEP3 = STEP1.with_name("step3.stillroom")
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


def test_who_refers_to_a_material_is_found_without_reading_a_table(raw):
    """A material that is taken back is looked for wherever it may be named, of an import thousands of times."""
    for name in _tables(raw):
        firsts = {
            raw.execute(f'PRAGMA index_info("{index[1]}")').fetchone()[2] for index in raw.execute(f"PRAGMA index_list({name})")
        }
        naming = {row[3] for row in raw.execute(f"PRAGMA foreign_key_list({name})") if row[2] == "material"}
        assert naming <= firsts, name


def test_step_is_known_by_its_number():
    """A tripwire: whoever adds a step adds its fixture book here, and never changes an old step."""
    assert steps.KNOWN == len(steps.STEPS) == 7
    books = sorted(path.name for path in STEP1.parent.glob("*.stillroom"))
    assert books == [f"step{n + 1}.stillroom" for n in range(steps.KNOWN)]


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


def _rows(path, table):
    """{column: figure} of every row of a table as it lies in a file, by key."""
    raw = sqlite3.connect(path)
    raw.row_factory = sqlite3.Row
    rows = [dict(row) for row in raw.execute(f"SELECT * FROM {table} ORDER BY key")]
    raw.close()
    return rows


ADDED = (
    # what each step brings to the tables of the one before
    {"move": {"estimated": 0}, "bottle": {"tare_inferred": 0, "volume_ml": None, "ready_on": None}},
    {"making": {"plan": "[]"}},
    {"sitting": {"clock_at": None, "clock_off": None, "shuffled": 0}},
    {"project": {"category": ""}, "decision": {"evidence": "[]", "costs": "{}"}},
)


@pytest.mark.parametrize("step", range(1, steps.KNOWN))
def test_book_of_an_earlier_step_climbs_with_every_row_it_had(tmp_path, clock, step):
    path = tmp_path / f"step{step}.stillroom"
    shutil.copyfile(STEP1.with_name(path.name), path)
    kept = [name for name in steps.expected(step) if name in t.METADATA.tables and name not in ("book", "content_share")]
    before = {name: _rows(path, name) for name in kept}
    with Book.open(path, clock) as book:
        assert steps.structure(book._file.raw) == steps.expected(steps.KNOWN)
        assert bool(list(book.all(BenchCheck))) == bool(book.weighings.unfinished()) == (step == 3)
        assert bool(list(book.all(Habit))) == any(move.estimated for move in book.all(Move)) == (step == 2)
        assert bool(list(book.all(BlindTest))) == bool(list(book.all(Answer))) == (step == 4)
        assert bool(list(book.all(Limit))) == bool(list(book.all(Constituent))) == (step == 5)
        ((_, backup, _),) = Book.backups_of(path)
    for name, rows in before.items():
        new = {column: figure for added in ADDED[step - 1 :] for column, figure in added.get(name, {}).items()}
        assert _rows(path, name) == [row | new for row in rows], name
        assert _rows(backup, name) == rows
    raw = sqlite3.connect(backup)
    assert raw.execute("PRAGMA user_version").fetchone() == (step,) and f"step {step}" in backup.name
    raw.close()


MOVES = (
    # key, at, off, kind, mass, from, to, target, read, u, making, line, contents, replaces, remark
    (20, 1000, 60, "received", 50.0, None, 10, None, 86.5, None, None, None, None, None, "delivery"),
    (21, 2000, 60, "pour", 2.5, 10, 11, 2.4, 2.5, 0.0008, 15, None, 16, None, ""),
    (22, 2000, 120, "pour", 2.05, 10, 11, 2.4, 2.05, 0.0008, 15, None, 16, 21, "slip of the pen"),
    (23, 3000, 60, "spill", 9.0, 10, None, None, None, None, None, None, None, None, "oops"),
    (24, 3000, 60, "withdrawn", 9.0, 10, None, None, None, None, None, None, None, 23, "it was another bottle"),
    (25, 4000, 60, "found", 47.9, None, 10, None, 84.4, None, None, None, None, None, ""),
    (26, 4000, 60, "found", 47.95, None, 10, None, 84.45, None, None, None, None, 25, "read again"),
    (27, 4000, 60, "found", 47.94, None, 10, None, 84.44, None, None, None, None, 26, "read again"),
)


def test_moves_replaced_and_withdrawn_climb_as_they_were(tmp_path, clock):
    path = tmp_path / "old.stillroom"
    raw = sqlite3.connect(path, isolation_level=None)
    steps.climb(raw, 0, 1)
    raw.execute("INSERT INTO book VALUES (1, ?, 'Old', 'EUR', 30, 8)", ("0" * 32,))
    raw.execute("INSERT INTO material VALUES (1, 'Lemon', '', 'liquid', 0, '', '', '', '[]', '[]', '[]', NULL, '', NULL)")
    for key, code, kind in ((10, "M1", "bought"), (11, "D1", "dilution")):
        raw.execute(
            "INSERT INTO bottle (key, code, kind, label, material, strength, lot, supplier, supplier_no, container, liner, place,"
            " remark) VALUES (?, ?, ?, '', 1, 1.0, '', '', '', '', '', '', '')",
            (key, code, kind),
        )
    raw.execute("INSERT INTO contents VALUES (16, 10, 1000, 60, 'bought')")
    raw.execute("INSERT INTO content_share VALUES (16, 1, 1.0)")
    raw.execute("INSERT INTO making VALUES (15, 'dilution', 11, 2000, 60, NULL, NULL, NULL, 'tare each', NULL, 2000, 60, '')")
    raw.executemany(f"INSERT INTO move VALUES ({', '.join('?' * 15)})", MOVES)
    raw.close()
    with Book.open(path, clock) as book:
        sql = book._file.raw
        assert sql.execute("SELECT * FROM move ORDER BY key").fetchall() == [(*move, 0) for move in MOVES]
        assert book.check() == () and sql.execute("PRAGMA foreign_key_check").fetchall() == []
        assert [row[2] for row in sql.execute("PRAGMA foreign_key_list(move)") if row[3] == "replaces"] == ["move"]
        assert {(move.kind, move.mass_g) for move in book.bottles.moves(10)} == {
            ("received", 50.0), ("pour", 2.05), ("found", 47.94),
        }  # fmt: skip
        assert [move.mass_g for move in book.history(27)] == [47.95, 47.9]
        assert (book.book_mass(10), book.left(10), book.book_mass(11)) == (47.95, {10: 47.94}, 2.05)
        # records stay records, a second correction of one is refused, a reference to nothing too
        for statement in ("UPDATE move SET mass_g = 1", "DELETE FROM move", "UPDATE move SET estimated = 1 WHERE key = 20"):
            with pytest.raises(sqlite3.IntegrityError, match="record"):
                sql.execute(statement)
        copied = (
            "INSERT INTO move SELECT 28, at, off, kind, mass_g, {from_bottle}, to_bottle, target_g, read_g, u_g, making, line,"
            " contents, {replaces}, remark, estimated FROM move WHERE key = 22"
        )
        with pytest.raises(sqlite3.IntegrityError, match="UNIQUE"):
            sql.execute(copied.format(from_bottle="from_bottle", replaces="replaces"))
        sql.execute("BEGIN")
        sql.execute(copied.format(from_bottle="999", replaces="NULL"))
        with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
            sql.execute("COMMIT")
        sql.execute("ROLLBACK")
        # what step 1 could not hold
        book.bottles.correct_mass(10, 0.01, "rounded by the supplier")
    with Book.open(path, clock) as book:
        assert book.check() == () and book.left(10) == {10: 47.95}


def test_book_of_step_2_opens_for_ever(tmp_path, clock):
    path = tmp_path / "step2.stillroom"
    shutil.copyfile(STEP2, path)
    with Book.open(path, clock) as book:
        assert book.check() == () and (book.name, book.currency) == ("Step 2", "EUR")
        ethanol, linalool = book.all(Material)
        neat, thinner, made = (book.get(Bottle, code) for code in ("L1", "E1", "D1"))
        assert (neat.tare_g, neat.tare_inferred, neat.volume_ml, neat.price_per_g) == (36.5, True, 30.0, 0.08)
        assert (made.strength, made.carrier, made.tare_inferred) == (0.1, ethanol.key, False)
        assert (made.ready_on.isoformat(), made.dropper_on.isoformat()) == ("2025-04-11", "2025-04-10")
        assert book.left(neat.key, thinner.key, made.key) == pytest.approx(
            {neat.key: 8.5, thinner.key: 79 - 18 - 0.65 - 5, made.key: 13.6}
        )
        moves = book.bottles.moves(made.key)
        assert [(move.kind, move.mass_g) for move in moves] == [
            ("pour", 2.0), ("pour", 18.0), ("used", 6.4), ("lost", pytest.approx(0.65)), ("found", 12.95), ("pour", 0.65),
        ]  # fmt: skip
        assert [round(move.u_g, 6) if move.u_g else None for move in moves] == [0.0008, 0.0008, None, None, 0.001131, 0.0008]
        assert (moves[0].target_g, moves[4].read_g) == (2.0, 48.95)
        states = book.bottles.states(made.key)
        assert [state.reason for state in states] == ["made", "drift", "topped up"]
        assert [round(state.shares[linalool.key], 5) for state in states] == [0.1, 0.10502, 0.1]
        assert [move.contents for move in moves if move.kind == "used"] == [states[0].key]
        assert [state.reason for state in book.all(Contents, bottle=neat.key)] == ["bought"]
        assert [move.estimated for move in book.bottles.moves(thinner.key)] == [True, False, False, True]
        (spilled,) = book.all(Move, kind="spill")
        assert (spilled.mass_g, [earlier.mass_g for earlier in book.history(spilled.key)]) == (5.0, [7.0])
        (named,) = book.all(Move, kind="correction")
        assert (named.mass_g, named.to_bottle) == (0.5, neat.key) and named.remark.startswith("the supplier filled in")
        assert [making.kind for making in book.all(Making)] == ["dilution", "top-up"]
        assert [(habit.name, habit.value) for habit in book.all(Habit)] == [("drift tolerance", 0.08)]
        assert book.bottles.habits()["drift tolerance"] == 0.08
        clock.tick(days=1)
        book.bottles.draw(made.key, "used", 1.0)
    with Book.open(path, clock) as book:
        assert book.check() == () and book.left(made.key)[made.key] == pytest.approx(12.6)


def test_book_of_step_3_opens_for_ever(tmp_path, clock):
    path = tmp_path / "step3.stillroom"
    shutil.copyfile(STEP3, path)
    with Book.open(path, clock) as book:
        assert book.check() == ()
        (check,) = book.all(BenchCheck)
        assert len(check.readings) == 10 and (check.level_ok, check.warm_up_min) == (True, 35.0)
        (cut_off,) = book.weighings.unfinished()
        assert (cut_off.code, len(cut_off.plan), cut_off.mode) == ("T-002", 2, "tare each")
        assert [move.mass_g for move in book.weighings.poured(cut_off.key)] == [3.1]
        linalool, cedar = book.all(Material)
        assert book.as_weighed("T-001") == pytest.approx({linalool.key: 3.001 / 5.003 * 1000, cedar.key: 2.002 / 5.003 * 1000})
        second = cut_off.plan[1]
        book.weighings.accept(cut_off.key, second.bottle, 2.0, line=second.line)
        book.weighings.finish(cut_off.key)
    with Book.open(path, clock) as book:
        assert book.weighings.unfinished() == () and book.check() == ()
