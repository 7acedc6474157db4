# SPDX-License-Identifier: MIT
"""Backups are there when they are needed: made hourly after changes, sound, thinned slowly, and looked at without a risk.

A backup that is torn, that crowds out an older one, or that can be written into by mistake would be found out only on the
day when nothing else is left.
"""

import errno
import hashlib
import os
import shutil
import signal
import sqlite3
import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from db import Book, BookExists, DamagedBook, LockedBook, NotABook, OnlyALook, ReadOnlyBook, backups, file, steps
from perfumery import Line, Material, Note, Project, Version
from perfumery.findings import Refused

NAME = "kept.stillroom"


@pytest.fixture
def path(tmp_path):
    folder = tmp_path / "studio"
    folder.mkdir()
    return folder / NAME


@pytest.fixture
def book(path, clock):
    with Book.create(path, "Kept", clock=clock) as made:
        yield made


def _names(folder):
    return sorted(entry.name for entry in folder.iterdir())


def _folder(path):
    return path.parent / "kept backups"


# when ---------------------------------------------------------------------------------------------------------------------


def test_nothing_to_back_up_makes_no_folder(book, path):
    assert book.backup_if_due() is None
    assert _names(path.parent) == [NAME, NAME + ".lock"]
    assert Book.backups_of(path) == ()


def test_hourly_and_only_when_changed(book, path, clock):
    book.put(Material("one"))
    first = book.backup_if_due()
    assert first == _folder(path) / "2025-04-10 12.00.00.stillroom"
    book.put(Material("two"))
    clock.tick(minutes=59, seconds=59)
    assert book.backup_if_due() is None
    clock.tick(seconds=1)
    second = book.backup_if_due()
    assert second.name == "2025-04-10 13.00.00.stillroom"
    clock.tick(days=1)
    assert book.backup_if_due() is None
    book.put(Material("three"))
    third = book.backup_if_due()
    expected = [(clock.at.replace(tzinfo=None), third), (datetime(2025, 4, 10, 13), second), (datetime(2025, 4, 10, 12), first)]
    assert [(at, made) for at, made, _ in Book.backups_of(path)] == expected
    assert all(size == made.stat().st_size > 0 for _, made, size in Book.backups_of(path))


def test_one_that_is_asked_for_comes_at_once_but_not_for_nothing(book, path, clock):
    assert book.backup_now() is None
    book.put(Material("one"))
    first = book.backup_if_due()
    assert book.backup_now() is None
    clock.tick(minutes=5)
    book.put(Material("two"))
    assert book.backup_if_due() is None
    second = book.backup_now()
    assert second == _folder(path) / "2025-04-10 12.05.00.stillroom"
    assert [one.path for one in Book.backups_of(path)] == [second, first]
    with Book.look(second, clock) as look:
        assert look.backup_now() is None


def test_a_backup_tells_what_it_was_made_for_and_how_far_the_book_had_come(book, path, tmp_path, clock):
    folder = Book.backup_folder(path)
    assert folder == _folder(path) and not folder.exists()
    book.put(Material("one"))
    book.backup_if_due()
    book.put(Material("two"))
    book.undo()
    clock.tick(minutes=1)
    backups.before_steps(clock.at)(book._file, 3)
    updated, hourly = Book.backups_of(path)
    assert (updated.step, hourly.step) == (3, None)
    assert Book.head_of(updated.path) == book.head == (book.uid, 3)
    assert Book.head_of(hourly.path) == (book.uid, 1)
    (folder / "2025-04-09 10.00.00.stillroom").write_text("no book")
    assert Book.head_of(folder / "2025-04-09 10.00.00.stillroom") is None
    assert Book.head_of(tmp_path / "nothing.stillroom") is None
    assert not (tmp_path / "nothing.stillroom").exists()


def test_a_backup_is_known_by_where_it_lies_and_its_name(book, path):
    book.put(Material("one"))
    backup = book.backup_if_due()
    assert Book.backed_up_by(backup) == path
    assert Book.backed_up_by(str(backup.with_name("2025-04-10 12.00.00 step 4.stillroom"))) == path
    for other in (path, backup.with_name("mine.stillroom"), path.with_name(backup.name), Path("2025-04-10 12.00.00.stillroom")):
        assert Book.backed_up_by(other) is None


def test_a_backup_becomes_a_book_beside_the_present_one(book, path, tmp_path, clock):
    book.put(Material("one"))
    backup = book.backup_if_due()
    book.put(Material("two"))
    before = backup.read_bytes()
    first, second = Book.restore(path, backup), Book.restore(path, backup)
    assert [first.name, second.name] == ["kept as of 2025-04-10 12.00.stillroom", "kept as of 2025-04-10 12.00, 2.stillroom"]
    assert first.parent == second.parent == path.parent
    assert [material.name for material in book.all(Material)] == ["one", "two"] and book.check() == ()
    with Book.open(first, clock) as restored:
        assert [material.name for material in restored.all(Material)] == ["one"]
        restored.put(Material("another way"))
        assert restored.check() == ()
    assert backup.read_bytes() == before
    copy = tmp_path / "mine.stillroom"
    book.backup(copy)
    assert Book.restore(path, copy).name == "kept from mine.stillroom"
    made = [first.name, second.name, "kept from mine.stillroom"]
    # nothing is left over; lock and journal are those of the book that is open
    assert _names(path.parent) == sorted([NAME, NAME + ".lock", NAME + "-journal", "kept backups", *made])


def test_what_is_no_backup_makes_no_book(book, path, tmp_path):
    torn = tmp_path / "torn.stillroom"
    torn.write_text("no book")
    with pytest.raises(NotABook):
        Book.restore(path, torn)
    assert _names(path.parent) == [NAME, NAME + ".lock"]


def test_what_is_not_a_backup_is_neither_listed_nor_taken_away(book, path, clock):
    folder = _folder(path)
    folder.mkdir()
    strangers = ["notes.txt", "2025-04-01.stillroom", "2025-02-31 10.00.00.stillroom", ".2025-04-01 10.00.00.stillroom.part-1"]
    for name in strangers:
        (folder / name).write_text("mine")
    (folder / "2025-04-01 10.00.00 step 1.stillroom").write_text("not even a book")
    book.put(Material("one"))
    made = book.backup_if_due()
    assert _names(folder) == sorted([*strangers, made.name, "2025-04-01 10.00.00 step 1.stillroom"])
    assert [entry[1].name for entry in Book.backups_of(path)] == [made.name, "2025-04-01 10.00.00 step 1.stillroom"]


def test_clock_set_back_makes_no_storm_and_no_gap(book, path, clock):
    """A clock that was a year ahead for a while: backups go on at their hourly pace and nothing newer is overwritten."""
    clock.tick(days=365)
    book.put(Material("from the future"))
    ahead = book.backup_if_due()
    clock.tick(days=-365)
    assert book.backup_if_due() is None
    made = []
    for number in range(12):
        book.put(Material(f"edit {number}"))
        made.append(book.backup_if_due())
        clock.tick(minutes=20)
    assert [number for number, backup in enumerate(made) if backup] == [0, 3, 6, 9]
    assert {entry[1] for entry in Book.backups_of(path)} == {ahead, *filter(None, made)}
    assert all(backup.exists() for backup in made if backup)


def test_backup_of_the_same_second_replaces_no_other(book, path, clock):
    book.put(Material("one"))
    first = book.backup_if_due()
    before = first.read_bytes()
    clock.tick(seconds=-1)
    book.put(Material("two"))
    clock.tick(seconds=1)
    again = backups.before_steps(clock.at)
    again(book._file, 1)
    again(book._file, 1)
    stems = ["2025-04-10 12.00.00 step 1", "2025-04-10 12.00.00", "2025-04-10 12.00.01 step 1"]
    assert _names(_folder(path)) == sorted(f"{stem}.stillroom" for stem in stems)
    assert first.read_bytes() == before


def test_wrong_clock_empties_no_folder(book, path, clock):
    """A clock that is years ahead makes all backups old at once; only a few go at one time."""
    for hour in range(12):
        book.put(Material(f"edit {hour}"))
        assert book.backup_if_due()
        clock.tick(hours=1)
    clock.tick(days=365)
    book.put(Material("years later"))
    made = book.backup_if_due()
    left = _names(_folder(path))
    assert made.name in left
    # the oldest go first
    assert left == [f"2025-04-10 {hour}.00.00.stillroom" for hour in range(16, 24)] + [made.name]


def test_backup_that_is_in_use_is_left(book, path, clock, monkeypatch):
    for hour in range(3):
        book.put(Material(f"edit {hour}"))
        book.backup_if_due()
        clock.tick(hours=1)

    def unlink(self, missing_ok=False):
        raise PermissionError(errno.EACCES, "in use")

    clock.tick(days=365)
    book.put(Material("later"))
    monkeypatch.setattr(file, "_remove", lambda database: None)
    monkeypatch.setattr(Path, "unlink", unlink)
    made = book.backup_if_due()
    monkeypatch.undo()
    assert len(_names(_folder(path))) == 4 and made.exists()


def test_file_where_the_folder_goes_is_told(book, path):
    book.put(Material("one"))
    _folder(path).write_text("mine")
    with pytest.raises(ReadOnlyBook):
        book.backup_if_due()
    assert _folder(path).read_text() == "mine"


def test_unreadable_newest_backup_does_not_stop_the_next(book, path, clock):
    book.put(Material("one"))
    book.backup_if_due().write_text("broken since")
    clock.tick(hours=2)
    assert book.backup_if_due() is not None


# which stay ---------------------------------------------------------------------------------------------------------------

NOW = datetime(2025, 4, 10, 12)
KEEPING = {
    "everything of two days": ([timedelta(hours=h) for h in range(49)], range(49)),
    "one a day, the newest": ([timedelta(days=2, hours=h) for h in (1, 2, 11, 13, 14, 37)], [0, 3, 5]),
    "a clock set back": ([-timedelta(days=40), -timedelta(days=39, hours=23), timedelta(0)], range(3)),
    "one a day for a month": ([timedelta(days=d) for d in range(3, 31)], range(28)),
    # from Thursday 6 March 2025 back over Sunday the 2nd
    "one a week": ([timedelta(days=d) for d in (35, 36, 37, 38, 39, 45)], [0, 4]),
    "one a month": ([timedelta(days=d) for d in (190, 191, 192, 222, 223, 400)], [0, 2, 3, 5]),
    "the newest, however old": ([timedelta(days=4000)], [0]),
}


def _backups(ages, size=1, suffix=""):
    return [(NOW - age, Path(f"{NOW - age:%Y-%m-%d %H.%M.%S}{suffix}.stillroom"), size) for age in ages]


@pytest.mark.parametrize("case", KEEPING)
def test_thinned(case):
    ages, kept = KEEPING[case]
    standing = _backups(ages)
    gone = backups.thinned(standing, NOW)
    assert [number for number, entry in enumerate(standing) if entry[1] not in gone] == list(kept)
    # the order in which a folder lists its files is any
    assert backups.thinned(reversed(standing), NOW) == gone


def test_thinning_goes_on_from_what_is_left():
    standing = _backups([timedelta(hours=h) for h in range(24 * 400)])
    gone = set(backups.thinned(standing, NOW))
    left = [entry for entry in standing if entry[1] not in gone]
    assert backups.thinned(left, NOW) == ()
    assert 60 < len(left) < 49 + 31 + 24 + 10


def test_cap_lets_the_oldest_go_but_never_the_newest():
    standing = _backups([timedelta(hours=h) for h in range(5)], size=100)
    assert backups.thinned(standing, NOW, cap=300) == tuple(entry[1] for entry in standing[3:])
    assert backups.thinned(standing, NOW, cap=10) == tuple(entry[1] for entry in standing[1:])


def test_backup_before_a_ladder_step_stays():
    old = _backups([timedelta(days=d) for d in (399, 400, 401)], size=100, suffix=" step 1")
    new = _backups([timedelta(hours=1), timedelta(days=402)], size=100)
    assert backups.thinned(old + new, NOW, cap=150) == (new[1][1],)


# made while work goes on --------------------------------------------------------------------------------------------------


def test_copies_made_in_a_worker_while_edits_go_on_are_sound(book, path, clock):
    (project,) = book.put(Project("P"))
    book.put(*(Note(f"filler {number} " + "so long " * 100, project=project.key) for number in range(1500)))
    at_start, ended, raised = [], threading.Event(), []

    def work():
        try:
            for number in range(4):
                at_start.append(book._changes)
                book.backup(path.parent / f"copy {number}.stillroom")
        except BaseException as error:
            raised.append(error)
        finally:
            ended.set()

    worker = threading.Thread(target=work)
    worker.start()
    written = 0
    while not ended.is_set() or written == 0:
        # two values that only ever change together: a torn copy would show one without the other
        book.put(Material(f"twin {written}"), Note(f"twin {written}", project=project.key))
        written += 1
    worker.join()
    assert raised == []
    assert written > 4
    for number, changes in enumerate(at_start):
        with Book.open(path.parent / f"copy {number}.stillroom", clock) as copy:
            assert copy.check() == ()
            twins = [note.text for note in copy.all(Note) if note.text.startswith("twin")]
            assert twins == [material.name for material in copy.all(Material)]
            # everything acknowledged before the copy was begun
            assert copy._changes >= changes and len(twins) == copy._changes - 2
    with Book.look(path.parent / "copy 3.stillroom") as copy:
        assert copy.uid == book.uid
    assert len(list(book.all(Material))) == written
    assert book.check() == ()


def test_copy_replaces_only_an_older_copy_of_this_book(book, path, tmp_path, clock):
    book.put(Material("one"))
    to = tmp_path / "copy.stillroom"
    book.backup(to)
    book.put(Material("two"))
    book.backup(to)
    with Book.look(to) as look:
        assert [material.name for material in look.all(Material)] == ["one", "two"]
    other = tmp_path / "other.stillroom"
    Book.create(other, "Other", clock=clock).close()
    text = tmp_path / "text.stillroom"
    text.write_text("mine")
    folder = tmp_path / "folder.stillroom"
    folder.mkdir()
    before = other.read_bytes()
    for taken in (other, text, folder, path):
        with pytest.raises(BookExists):
            book.backup(taken)
    assert other.read_bytes() == before
    assert text.read_text() == "mine"
    book.put(Material("three"))
    assert book.check() == ()


def test_copy_that_fails_its_check_is_told_of_the_book_and_replaces_nothing(path, tmp_path, clock):
    with Book.create(path, "Kept", clock=clock) as book:
        book.put(*(Material(f"material {number}", storage="x" * 500) for number in range(100)))
        book.backup(tmp_path / "copy.stillroom")
    sound = (tmp_path / "copy.stillroom").read_bytes()
    raw = sqlite3.connect(path)
    (root,) = raw.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'material'").fetchone()
    page = raw.execute("PRAGMA page_size").fetchone()[0]
    raw.close()
    with path.open("r+b") as broken:
        broken.seek((root - 1) * page)
        broken.write(b"\xa5" * page)
    with Book.open(path, clock) as book, pytest.raises(DamagedBook) as raised:
        book.backup(tmp_path / "copy.stillroom")
    assert raised.value.path == path
    assert (tmp_path / "copy.stillroom").read_bytes() == sound
    assert _names(tmp_path) == ["copy.stillroom", "studio"]


def test_copy_with_a_value_that_cannot_be_is_not_kept(path, tmp_path, clock):
    """A file that reads well but was written past its own rules is no sound copy either."""
    with Book.create(path, "Kept", clock=clock) as book:
        book.put(Material("one"))
        book._file.raw.execute("PRAGMA ignore_check_constraints = ON")
        book._file.raw.execute("UPDATE material SET is_carrier = 7")
        with pytest.raises(DamagedBook, match="CHECK") as raised:
            book.backup(tmp_path / "copy.stillroom")
    assert raised.value.path == path
    assert _names(tmp_path) == ["studio"]


def test_backup_before_a_step_is_named_after_the_step_it_was_made_by(path, clock, monkeypatch):
    """A step that is not released yet: the book as it was is kept, the book itself goes up."""
    with Book.create(path, "Kept", clock=clock) as book:
        book.put(Material("one"))

    class Next:
        STATEMENTS = ("CREATE TABLE more (key INTEGER PRIMARY KEY) STRICT",)
        TEXT_INDEX = ()

    monkeypatch.setattr(steps, "STEPS", (*steps.STEPS, Next))
    monkeypatch.setattr(steps, "KNOWN", steps.KNOWN + 1)
    known = steps.KNOWN
    with Book.open(path, clock) as book:
        assert book.get(Material, "one") is not None
        assert book.check() == ()
        assert book._file.raw.execute("PRAGMA user_version").fetchone() == (known,)
    (entry,) = Book.backups_of(path)
    assert entry[1].name == f"2025-04-10 12.00.00 step {known - 1}.stillroom"
    assert file.step_of(entry[1]) == known - 1
    # the second opening has nothing to do
    Book.open(path, clock).close()
    assert len(Book.backups_of(path)) == 1
    # an old backup is looked at in today's shape and stays as it is
    before = hashlib.sha256(entry[1].read_bytes()).hexdigest()
    with Book.look(entry[1]) as look:
        assert look.get(Material, "one") is not None
    assert hashlib.sha256(entry[1].read_bytes()).hexdigest() == before


def test_step_that_fails_leaves_the_book_on_the_step_below(path, clock, monkeypatch):
    with Book.create(path, "Kept", clock=clock) as book:
        book.put(Material("one"))
    before = path.read_bytes()

    class Wrong:
        STATEMENTS = ("CREATE TABLE more (key INTEGER PRIMARY KEY) STRICT", "CREATE nonsense")
        TEXT_INDEX = ()

    with monkeypatch.context() as patch:
        patch.setattr(steps, "STEPS", (*steps.STEPS, Wrong))
        patch.setattr(steps, "KNOWN", steps.KNOWN + 1)
        with pytest.raises(sqlite3.OperationalError):
            Book.open(path, clock)
    assert path.read_bytes()[100:] == before[100:]
    assert file.step_of(path) == steps.KNOWN
    assert _names(path.parent) == ["kept backups", NAME]
    with Book.open(path, clock) as book:
        assert book.check() == ()


# looked at ----------------------------------------------------------------------------------------------------------------


def test_look_is_for_reading_only_and_leaves_nothing(path, tmp_path, clock, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with Book.create(path, "Kept", clock=clock) as book:
        project, material = book.put(Project("P"), Material("one"))
        book.put(Version(project.key, "P-1", (Line(100.0, material.key),)))
        backup = book.backup_if_due()
    for place in (path, backup):
        before = hashlib.sha256(place.read_bytes()).hexdigest()
        with Book.look(place, clock) as look:
            assert look.read_only
            with pytest.raises(OnlyALook):
                look.put(Material("two"))
            with pytest.raises(sqlite3.OperationalError):
                look._file.raw.execute("DELETE FROM material")
            assert look.get(Version, "P-1").lines[0].material == material.key
            assert look.backup_if_due() is None
            assert look.check() == ()
            # a backup is taken back by copying it to another place; the book itself is never in the way
            look.backup(tmp_path / f"restored {place.name}")
        with Book.open(tmp_path / f"restored {place.name}", clock) as restored:
            restored.put(Material("two"))
        assert hashlib.sha256(place.read_bytes()).hexdigest() == before
    assert _names(path.parent) == ["kept backups", NAME]
    assert _names(_folder(path)) == [backup.name]
    assert _names(tmp_path) == sorted(["studio", f"restored {NAME}", f"restored {backup.name}"])


def test_look_at_an_open_book_is_refused(book, path, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with pytest.raises(LockedBook):
        Book.look(path)
    assert _names(tmp_path) == ["studio"]
    book.put(Material("still mine"))


def test_no_book_is_ever_deleted_by_a_restore(book, path):
    """There is no way to restore over a book: neither a new book nor a copy takes its place."""
    for call in (lambda: Book.create(path, "Other"), lambda: book.backup(path), lambda: Book.read_export(path.parent, path)):
        with pytest.raises((BookExists, DamagedBook, Refused)):
            call()
        assert path.exists()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is killed inside a transaction")
def test_look_at_a_book_copied_in_the_middle_of_a_transaction(path, tmp_path, clock):
    """A synchronised folder copies a book and its journal as they lie: the look shows the state before the transaction."""
    with Book.create(path, "Kept", clock=clock) as book:
        book.put(*(Material(f"material {number}", storage="x" * 2000) for number in range(50)))
    out, into = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            raw = file._connect(path)
            raw.execute("PRAGMA cache_size = 1")
            raw.execute("BEGIN IMMEDIATE")
            raw.execute("UPDATE material SET storage = 'torn'")
            os.write(into, b"!")
            time.sleep(60)
        finally:
            os._exit(3)
    os.close(into)
    assert os.read(out, 1) == b"!"
    os.close(out)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    copied = tmp_path / "copied"
    shutil.copytree(path.parent, copied)
    assert _names(copied) == [NAME, NAME + "-journal"]
    before = {entry.name: entry.read_bytes() for entry in copied.iterdir()}
    assert b"torn" in before[NAME]
    with Book.look(copied / NAME, clock) as look:
        assert {material.storage for material in look.all(Material)} == {"x" * 2000}
        assert look.check() == ()
    assert {entry.name: entry.read_bytes() for entry in copied.iterdir()} == before
    with Book.open(copied / NAME, clock) as book:
        assert {material.storage for material in book.all(Material)} == {"x" * 2000}
        assert book.check() == ()
    assert _names(copied) == [NAME]
