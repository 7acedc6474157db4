# SPDX-License-Identifier: MIT
"""Nobody is locked in: an exported folder holds everything, reads back equal, is safe to open in a spreadsheet, and a folder
that is not whole makes no book at all.
"""

import csv
import errno
import hashlib
import json
import os
import shutil
import sqlite3
import threading
from datetime import timedelta
from pathlib import Path

import pytest

from db import Book, BookExists, Cancelled, DamagedBook, DiskFull, MissingBook, NewerBook, ReadOnlyBook, steps
from db import tables as t
from db.kinds import KINDS
from perfumery import (
    Balance,
    BenchCheck,
    Bottle,
    Contents,
    Habit,
    Line,
    Material,
    Note,
    Planned,
    Project,
    Reading,
    Strip,
    Version,
)


def _names(folder):
    return sorted(entry.name for entry in folder.iterdir())


def _beside(book):
    """What lies in the folder of an open book besides itself, its lock and its journal."""
    return [name for name in _names(book.path.parent) if not name.startswith(book.path.name)]


def _rows(book):
    """Every row of every table as it lies in the file."""
    return {name: book._file.raw.execute(f'SELECT * FROM "{name}" ORDER BY 1, 2').fetchall() for name in t.METADATA.tables}


@pytest.fixture
def exported(studio, tmp_path, clock):
    """The demo studio's export, with records that were corrected and contents that were measured again."""
    reading = next(studio.all(Reading))
    clock.tick(days=400)
    for liking in (1, 2):
        reading = studio.correct(reading.key, liking=liking)
    studio.correct(next(studio.all(Note)).key, text="Zweites Wort über Moos")
    studio.correct(next(studio.all(Contents)).key)
    studio.put(Habit("drift tolerance", 0.1))
    balance = next(studio.all(Balance))
    studio.put(BenchCheck(balance.key, studio.now(), 20.0, (20.001,), level_ok=True, warm_up_min=30.0))
    line = next(studio.all(Version)).lines[0]
    studio.weighings.begin("trial", Bottle("V099", kind="trial"), [Planned(0.5, line.key)], code="T-099")
    studio.export(tmp_path / "export")
    return tmp_path / "export"


# there and back -----------------------------------------------------------------------------------------------------------


def test_everything_reads_back_equal(studio, exported, tmp_path, clock):
    with Book.read_export(exported, tmp_path / "back.stillroom", clock) as back:
        for kind in KINDS:
            values = list(studio.all(kind))
            assert values and list(back.all(kind)) == values, kind
        assert _rows(back) == _rows(studio)
        assert (back.uid, back.name, back.currency) == (studio.uid, studio.name, studio.currency)
        corrected = next(reading for reading in studio.all(Reading) if len(studio.history(reading.key)) == 2)
        assert back.history(corrected.key) == studio.history(corrected.key)
        for text in ("Moos", "moos", "zweites", "lemon", "smoke"):
            assert back.search(text) == studio.search(text)
        assert back.search("zweites")
        assert back.check() == ()
        # the counter goes on where it stood, and what was frozen is frozen
        assert back.new_key() == studio.new_key()
        frozen = next(version for version in back.all(Version) if version.frozen_at)
        with pytest.raises(Exception, match="frozen"):
            back._file.raw.execute("UPDATE line SET parts = 1 WHERE version = ?", (frozen.key,))
    assert _beside(studio) == ["back.stillroom", "export"]


def test_export_of_the_copy_is_the_same_export(exported, tmp_path, clock):
    with Book.read_export(exported, tmp_path / "back.stillroom", clock) as back:
        back.export(tmp_path / "again")
    assert _names(tmp_path / "again") == _names(exported)
    for entry in exported.iterdir():
        assert (tmp_path / "again" / entry.name).read_bytes() == entry.read_bytes(), entry.name


def test_accord_frozen_later_than_what_holds_it_by_another_trial(bench, tmp_path, clock):
    """Instants of freezing come back to the millisecond, each its own, whichever order they were written in."""
    book = bench.book
    book.start_trial(bench.accord.key, 5.0)
    clock.tick(days=-2)
    book.start_trial(bench.version.key, 5.0)
    accord, version = book.get(Version, bench.accord.key), book.get(Version, bench.version.key)
    assert version.frozen_at == accord.frozen_at - timedelta(days=2)
    book.export(tmp_path / "export")
    with Book.read_export(tmp_path / "export", tmp_path / "back.stillroom", clock) as back:
        assert back.get(Version, accord.key) == accord
        assert back.get(Version, version.key) == version


def test_empty_book_and_empty_texts(book, tmp_path, clock):
    book.export(tmp_path / "empty")
    with Book.read_export(tmp_path / "empty", tmp_path / "back.stillroom", clock) as back:
        assert back.name == book.name and _rows(back) == _rows(book)
        assert back.check() == ()
    (tmp_path / "back.stillroom").unlink()
    (material,) = book.put(Material("m"))
    (bottle,) = book.put(Bottle("B", material=material.key))
    (strip,) = book.put(Strip("S", bottle.key, clock()))
    book.put(Reading(strip.key, clock()))
    book.export(tmp_path / "silent")
    with Book.read_export(tmp_path / "silent", tmp_path / "back.stillroom", clock) as back:
        assert list(back.all(Reading)) == list(book.all(Reading))


# for eyes and spreadsheets ------------------------------------------------------------------------------------------------


def test_files_say_what_they_are(studio, exported):
    assert _names(exported) == sorted(["README.txt", "book.json", *(f"{name}.csv" for name in t.METADATA.tables)])
    readme = (exported / "README.txt").read_text(encoding="utf-8")
    assert studio.name in readme and "2026-05-15" in readme
    for table in t.METADATA.tables.values():
        with (exported / f"{table.name}.csv").open(encoding="utf-8", newline="") as file:
            head, *rows = csv.reader(file)
        assert head == [column.name for column in table.columns]
        assert len(rows) == len(_rows(studio)[table.name])


@pytest.mark.parametrize(
    "name, cell",
    [
        ("=1+1", "'=1+1"),
        ("+49 1", "'+49 1"),
        ("-2", "'-2"),
        ("@SUM(A1)", "'@SUM(A1)"),
        (" =1+1", "' =1+1"),
        ("\t=1", "'\t=1"),
        ("\r\n=1", "'\r\n=1"),
        ("1=1", "1=1"),
        ("a, \"b\"\nc", "a, \"b\"\nc"),
        ("Ethyl maltol", "Ethyl maltol"),
        ("δ-Damascone", "δ-Damascone"),
    ],
)  # fmt: skip
def test_no_cell_is_taken_for_a_formula(book, tmp_path, clock, name, cell):
    book.put(Project("P", name=name, price_ceiling=0.5))
    book.export(tmp_path / "export")
    with (tmp_path / "export" / "project.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["name"], row["price_ceiling"]) == (cell, "0.5")
    # the file that is read back holds the plain text
    with Book.read_export(tmp_path / "export", tmp_path / "back.stillroom", clock) as back:
        assert back.get(Project, "P").name == name


# where it may not go ------------------------------------------------------------------------------------------------------


def test_export_takes_an_empty_folder_but_no_other(book, tmp_path):
    book.put(Material("m"))
    (tmp_path / "empty").mkdir()
    book.export(tmp_path / "empty")
    before = {entry.name: entry.read_bytes() for entry in (tmp_path / "empty").iterdir()}
    (tmp_path / "file").write_text("mine")
    for taken in (tmp_path / "empty", tmp_path / "file"):
        with pytest.raises(BookExists):
            book.export(taken)
    assert {entry.name: entry.read_bytes() for entry in (tmp_path / "empty").iterdir()} == before
    assert (tmp_path / "file").read_text() == "mine"
    assert _beside(book) == ["empty", "file"]


def test_export_makes_the_folders_above(book, tmp_path):
    book.export(tmp_path / "a" / "b" / "export")
    assert _names(tmp_path / "a" / "b") == ["export"]


@pytest.mark.parametrize("number, error", [(errno.EACCES, ReadOnlyBook), (errno.EROFS, ReadOnlyBook), (errno.ENOSPC, DiskFull)])
def test_export_that_cannot_be_written_leaves_nothing(book, tmp_path, monkeypatch, number, error):
    plain = Path.write_text

    def write_text(self, text, **how):
        if self.name == "README.txt":
            raise OSError(number, os.strerror(number))
        return plain(self, text, **how)

    monkeypatch.setattr(Path, "write_text", write_text)
    with pytest.raises(error) as raised:
        book.export(tmp_path / "export")
    assert raised.value.path == tmp_path / "export"
    assert _beside(book) == []


def test_export_below_a_file_is_told(book, tmp_path):
    (tmp_path / "file").write_text("mine")
    with pytest.raises(ReadOnlyBook):
        book.export(tmp_path / "file" / "export")


def test_reading_back_takes_no_taken_place(exported, studio_path, tmp_path):
    other = tmp_path / "other.stillroom"
    other.write_text("mine")
    before = hashlib.sha256(studio_path.read_bytes()).hexdigest()
    for taken in (other, studio_path, exported):
        with pytest.raises(BookExists):
            Book.read_export(exported, taken)
    assert other.read_text() == "mine"
    assert hashlib.sha256(studio_path.read_bytes()).hexdigest() == before
    with pytest.raises(MissingBook):
        Book.read_export(exported, tmp_path / "no folder" / "back.stillroom")


def test_export_in_a_worker_while_edits_go_on(bench, tmp_path, clock):
    book, ended, raised = bench.book, threading.Event(), []

    def work():
        try:
            for number in range(3):
                book.export(tmp_path / f"export {number}")
        except BaseException as error:
            raised.append(error)
        finally:
            ended.set()

    worker = threading.Thread(target=work)
    worker.start()
    written = 0
    while not ended.is_set() or written == 0:
        book.put(Material(f"twin {written}"), Note(f"twin {written}", project=bench.project.key))
        written += 1
    worker.join()
    assert raised == []
    with Book.read_export(tmp_path / "export 2", tmp_path / "back.stillroom", clock) as back:
        assert back.check() == ()
        twins = [material.name for material in back.all(Material) if material.name.startswith("twin")]
        assert [note.text for note in back.all(Note)] == twins


# of other steps ----------------------------------------------------------------------------------------------------------

FIXTURES = Path(__file__).parent / "fixtures"


@pytest.mark.parametrize("step", [1, 2])
def test_export_of_an_earlier_step_is_the_book_of_that_step_climbed(tmp_path, clock, step):
    """Made from the fixture books by the programs of their steps, which did not say their step."""
    folder = FIXTURES / f"export-step{step}"
    assert "step" not in json.loads((folder / "book.json").read_text(encoding="utf-8"))
    shutil.copy(FIXTURES / f"step{step}.stillroom", tmp_path / "climbed.stillroom")
    with (
        Book.open(tmp_path / "climbed.stillroom", clock) as climbed,
        Book.read_export(folder, tmp_path / "back.stillroom", clock) as back,
    ):
        assert _rows(back) == _rows(climbed) and back.check() == ()
        assert back.uid == climbed.uid and back.new_key() == climbed.new_key()
        assert [r.bottle.code for r in back.bottles.rows()] == [r.bottle.code for r in climbed.bottles.rows()]


def test_export_of_step_3_did_not_say_its_step_either(tmp_path, clock):
    folder = tmp_path / "export"
    folder.mkdir()
    raw = sqlite3.connect(FIXTURES / "step3.stillroom")
    tables = {}
    for name in (name for name in t.METADATA.tables if name in steps.expected(3)):
        found = raw.execute(f"SELECT * FROM {name}")
        tables[name] = {"columns": [column[0] for column in found.description], "rows": [list(row) for row in found]}
    raw.close()
    (folder / "book.json").write_text(json.dumps({"format": 1, "tables": tables}), encoding="utf-8")
    shutil.copy(FIXTURES / "step3.stillroom", tmp_path / "climbed.stillroom")
    with (
        Book.open(tmp_path / "climbed.stillroom", clock) as climbed,
        Book.read_export(folder, tmp_path / "back.stillroom", clock) as back,
    ):
        assert _rows(back) == _rows(climbed) and back.check() == ()


def test_export_of_a_later_step_is_told_as_newer(exported, tmp_path):
    _changed(exported, lambda whole: whole.update(step=steps.KNOWN + 1))
    before = _names(tmp_path)
    with pytest.raises(NewerBook) as raised:
        Book.read_export(exported, tmp_path / "back.stillroom")
    assert (raised.value.path, raised.value.found, raised.value.known) == (exported, steps.KNOWN + 1, steps.KNOWN)
    assert _names(tmp_path) == before


def _changed(folder, change):
    file = folder / "book.json"
    whole = json.loads(file.read_text(encoding="utf-8"))
    change(whole)
    file.write_text(json.dumps(whole), encoding="utf-8")


@pytest.mark.parametrize(
    "change",
    [
        lambda whole: whole.update(step=0), lambda whole: whole.update(step=-1), lambda whole: whole.update(step="2"),
        lambda whole: whole.update(step=2.5), lambda whole: whole.update(step=2), lambda whole: whole["tables"].pop("word"),
        lambda whole: whole["tables"].update(habit={"columns": [], "rows": []}),
        lambda whole: whole["tables"]["word"]["columns"].pop(),
        lambda whole: whole["tables"]["word"].update(columns=["key", "text", "group", "same_as", 'x") --']),
        lambda whole: whole["tables"]["bottle"]["rows"].append([]),
        lambda whole: whole["tables"]["bottle"]["rows"].append(whole["tables"]["bottle"]["rows"][0]),
        lambda whole: whole["tables"]["bottle"]["rows"][0].__setitem__(4, {"a": 1}),
        lambda whole: whole["tables"]["bottle"]["rows"][0].__setitem__(0, 10**30),
    ],
)  # fmt: skip
def test_export_of_an_earlier_step_that_is_not_whole_makes_no_book(tmp_path, change):
    shutil.copytree(FIXTURES / "export-step1", folder := tmp_path / "export")
    _changed(folder, change)
    with pytest.raises(DamagedBook) as raised:
        Book.read_export(folder, tmp_path / "back.stillroom")
    assert raised.value.path == folder and _names(tmp_path) == ["export"]


# what is not whole --------------------------------------------------------------------------------------------------------


def _first(tables, name):
    table = tables[name]
    return dict(zip(table["columns"], range(len(table["columns"])), strict=True)), table["rows"]


def _set(name, column, value, row=0):
    def change(whole):
        places, rows = _first(whole["tables"], name)
        rows[row][places[column]] = value

    return change


def _double(whole):
    whole["tables"]["word"]["rows"].append(whole["tables"]["word"]["rows"][0])


def _loop(whole):
    places, rows = _first(whole["tables"], "line")
    versions, _ = _first(whole["tables"], "version")
    frozen = [row for row in whole["tables"]["version"]["rows"] if row[versions["frozen_at"]] is not None]
    key = frozen[0][versions["key"]]
    line = next(row for row in rows if row[places["version"]] == key)
    line[places["material"]], line[places["accord"]] = None, key
    line[places["strength"]], line[places["carrier"]] = 1.0, None


def _unknown_column(whole):
    table = whole["tables"]["word"]
    table["columns"].append("more")
    for row in table["rows"]:
        row.append(1)


BROKEN = {
    "other format": lambda whole: whole.update(format=2),
    "no format": lambda whole: whole.pop("format"),
    "no tables": lambda whole: whole.pop("tables"),
    "tables a list": lambda whole: whole.update(tables=[]),
    "a table less": lambda whole: whole["tables"].pop("note"),
    "a table more": lambda whole: whole["tables"].update(more={"columns": [], "rows": []}),
    "a table is a text": lambda whole: whole["tables"].update(word="none"),
    "no head": lambda whole: whole["tables"]["book"].update(rows=[]),
    "two heads": lambda whole: whole["tables"]["book"]["rows"].append(whole["tables"]["book"]["rows"][0]),
    "head without name": lambda whole: whole["tables"]["book"].update(columns=["only_row"], rows=[[1]]),
    "head is a text": lambda whole: whole["tables"]["book"].update(rows=["row"]),
    "a cell less": lambda whole: whole["tables"]["material"]["rows"][3].pop(),
    "a column less": lambda whole: whole["tables"]["material"]["columns"].pop(),
    "a column more": _unknown_column,
    "a row is a number": lambda whole: whole["tables"]["material"]["rows"].insert(0, 5),
    "a row twice": _double,
    "a text for a number": _set("bottle", "strength", "strong"),
    "a number out of range": _set("bottle", "strength", 1.5),
    "a number too great": _set("bottle", "price_per_g", 10**400),
    "an instant too great": _set("note", "at", 2**70),
    "an instant out of the calendar": _set("note", "at", 2**60),
    "a key too great": _set("word", "key", 2**40),
    "a key that is a list": _set("word", "key", [1]),
    "a reference to nothing": _set("bottle", "material", 99_999_999),
    "a counter that was set back": _set("book", "next_key", 3),
    "a counter that is a text": _set("book", "next_key", "many"),
    "a day that is none": _set("bottle", "received_on", "2025-02-30"),
    "a list that is no JSON": _set("material", "synonyms", "[1,"),
    "words that are no JSON": _set("reading", "words", "{"),
    "words that are a list": _set("reading", "words", '["smoke"]'),
    "words that are too deep": _set("reading", "words", "[" * 100_000),
    "reasons that are a list": _set("decision", "rejected", "[1]"),
    "a datum that is a number": _set("material", "properties", "[1]"),
    "a datum with a field more": _set("material", "properties", '[{"kind": "note", "more": 1}]'),
    "a kind that is none": _set("bottle", "kind", "jar"),
    "a nested cell": _set("word", "text", {"a": 1}),
    "half a letter": _set("word", "text", "\ud800"),
    "a needed cell that is empty": _set("note", "text", None),
    "a code twice": _set("bottle", "code", "same", 0),
    "an accord inside itself": _loop,
    "a list": None,
}


@pytest.mark.parametrize("case", BROKEN)
def test_folder_that_is_not_whole_makes_no_book(exported, tmp_path, case):
    file = exported / "book.json"
    whole = json.loads(file.read_text(encoding="utf-8"))
    if BROKEN[case] is None:
        whole = [whole]
    else:
        BROKEN[case](whole)
    if case == "a code twice":
        _set("bottle", "code", "same", 1)(whole)
    file.write_text(json.dumps(whole), encoding="utf-8")
    before = _names(tmp_path)
    with pytest.raises(DamagedBook) as raised:
        Book.read_export(exported, tmp_path / "back.stillroom")
    assert raised.value.path == exported
    assert _names(tmp_path) == before


@pytest.mark.parametrize("content", [b"", b"{", b"null", b"7", b'"text"', b"\xff\xfe{}", b"[" * 100_000, None])
def test_file_that_is_no_json_makes_no_book(exported, tmp_path, content):
    file = exported / "book.json"
    if content is None:
        file.unlink()
    else:
        file.write_bytes(content)
    before = _names(tmp_path)
    with pytest.raises(DamagedBook):
        Book.read_export(exported, tmp_path / "back.stillroom")
    assert _names(tmp_path) == before


def test_folder_that_is_missing_or_a_file_makes_no_book(tmp_path):
    (tmp_path / "file").write_text("mine")
    for folder in (tmp_path / "none", tmp_path / "file"):
        with pytest.raises(DamagedBook):
            Book.read_export(folder, tmp_path / "back.stillroom")
    assert _names(tmp_path) == ["file"]


def test_draft_that_is_not_frozen_stays_a_draft(bench, tmp_path, clock):
    bench.book.export(tmp_path / "export")
    with Book.read_export(tmp_path / "export", tmp_path / "back.stillroom", clock) as back:
        version = back.get(Version, bench.version.key)
        assert version == bench.version and version.frozen_at is None
        (changed,) = back.put(Version(version.project, version.code, (Line(1.0, bench.lemon.key),), key=version.key))
        assert back.get(Version, version.key) == changed


def test_what_is_added_to_an_export_stands_in_it_and_sees_the_same_book(studio, tmp_path):
    def also(folder, look, _):
        studio.put(Material("come meanwhile"))
        assert look.read_only and (folder / "book.json").is_file()
        names = sorted(material.name for material in look.all(Material))
        (folder / "names.txt").write_text("\n".join(names), encoding="utf-8")

    studio.export(tmp_path / "export", also)
    told = (tmp_path / "export" / "names.txt").read_text(encoding="utf-8").splitlines()
    assert "come meanwhile" not in told and len(told) + 1 == len(list(studio.all(Material)))
    assert not list((tmp_path / "export").glob(".*"))


def test_export_whose_addition_fails_leaves_nothing(book, tmp_path):
    def also(folder, look, _):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(DiskFull):
        book.export(tmp_path / "export", also)
    assert _beside(book) == []


def test_reading_back_tells_how_far_it_is_and_leaves_nothing_where_it_is_cancelled(exported, tmp_path):
    told = []

    def watched(done, of):
        told.append((done, of))
        return True

    Book.read_export(exported, tmp_path / "whole.stillroom", progress=watched).close()
    assert told == sorted(told) and len({of for _, of in told}) == 1 and 0.7 < told[-1][0] / told[-1][1] <= 1
    for stop in (told[0][0], told[-1][0] - 1):
        with pytest.raises(Cancelled):
            Book.read_export(exported, tmp_path / "half.stillroom", progress=lambda done, of, stop=stop: done < stop)
        assert [file.name for file in tmp_path.glob("*half*")] == []
