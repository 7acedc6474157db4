# SPDX-License-Identifier: MIT
"""Every way in which a file or its surroundings fail is told apart by its own error, and a refused file is left as it was.

The errors carry facts, not sentences, because what to do about each differs: free some room, ask who has it open, get a later
program. Nothing may be lost by the fault itself, and nothing be left lying beside the book.
"""

import errno
import hashlib
import json
import os
import resource
import shutil
import socket
import sqlite3
import subprocess
import sys
import traceback
from datetime import UTC, datetime, timedelta, timezone

import pytest

from db import (
    AlteredBook,
    Book,
    BookError,
    BookExists,
    DamagedBook,
    DiskFull,
    LockedBook,
    MissingBook,
    NewerBook,
    NotABook,
    ReadOnlyBook,
    steps,
)
from db.errors import fault_of, told_apart
from db.file import BookLock, _journal_of, _take_over_journal
from perfumery import Material, Note, Project

NAME = "fault.stillroom"
forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="the fault is put on a forked process")


@pytest.fixture
def path(tmp_path, clock):
    """A closed book of two edits in a folder of its own."""
    folder = tmp_path / "book"
    folder.mkdir()
    with Book.create(folder / NAME, "Faults", clock=clock) as book:
        (project,) = book.put(Project("P"))
        book.put(*(Note(f"note {number} " + "so long " * 100, project=project.key) for number in range(200)))
    return folder / NAME


def _digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _names(folder):
    return sorted(entry.name for entry in folder.iterdir())


def _in_child(work):
    """Runs a function in a forked child and fails with what it said; limits and rights put on it end with it."""
    out, into = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.close(out)
            work()
            code = 0
        except BaseException:
            os.write(into, traceback.format_exc()[-4000:].encode())
        finally:
            os._exit(code)
    os.close(into)
    said = b""
    while part := os.read(out, 4096):
        said += part
    os.close(out)
    _, status = os.waitpid(pid, 0)
    assert status == 0, said.decode()


def _refused(path, error, call=Book.open):
    """The error of opening, and the file and its folder just as they were."""
    before, names = (_digest(path) if path.is_file() else None), _names(path.parent)
    with pytest.raises(BookError) as raised:
        call(path)
    assert type(raised.value) is error
    assert raised.value.path == path
    assert _names(path.parent) == names
    if before is not None:
        assert _digest(path) == before
    return raised.value


# no room ------------------------------------------------------------------------------------------------------------------


@forks
def test_full_disk_refuses_the_edit_and_loses_nothing(path, clock):
    def work():
        with Book.open(path, clock) as book:
            project = book.get(Project, "P")
            soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
            resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 40_000, hard))
            kept, refused = 0, None
            while refused is None and kept < 1000:
                try:
                    book.put(Note(f"kept {kept} " + "so long " * 200, project=project.key))
                    kept += 1
                except DiskFull as error:
                    refused = error
            assert refused is not None and refused.path == path
            assert kept > 0
            told = []
            book.on_change(told.append)
            with pytest.raises(DiskFull):
                book.put(*(Material("x" * 5000) for _ in range(20)))
            assert told == [] and not book._file.raw.in_transaction
            # what was kept is still there, read from the file as well as from the program's own memory
            assert sum(1 for note in book.all(Note) if note.text.startswith("kept")) == kept
            assert book.check() == ()
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
            (made,) = book.put(Material("after room was freed"))
            assert [change.pairs for change in told] == [((None, made),)]
        with Book.open(path, clock) as book:
            assert sum(1 for note in book.all(Note) if note.text.startswith("kept")) == kept
            assert book.get(Material, "after room was freed") == made
            assert book.check() == ()

    _in_child(work)
    assert _names(path.parent) == [NAME]


@forks
def test_no_room_for_a_new_book_a_backup_or_an_export_leaves_nothing(path, tmp_path, clock):
    other = tmp_path / "other"
    other.mkdir()

    def work():
        with Book.open(path, clock) as book:
            _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
            resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
            for call in (
                lambda: book.backup(other / "copy.stillroom"),
                lambda: book.export(other / "export"),
                lambda: Book.create(other / "new.stillroom", "New"),
            ):
                with pytest.raises(DiskFull):
                    call()
                assert _names(other) == []
            assert len(list(book.all(Note))) == 200

    _in_child(work)


@pytest.mark.skipif(sys.platform != "linux" or os.geteuid() != 0, reason="a small disk is mounted by root")
def test_full_disk_itself(tmp_path, clock):
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "small", str(disk)], capture_output=True).returncode:
        pytest.skip("no file system may be mounted here")
    try:
        filler = disk / "filler"
        with Book.create(disk / NAME, "Small", clock=clock) as book:
            (project,) = book.put(Project("P"))
            with filler.open("wb", buffering=0) as file, pytest.raises(OSError) as full:
                while True:
                    file.write(bytes(4096))
            assert full.value.errno == errno.ENOSPC
            before = list(book.all(Note))
            with pytest.raises(DiskFull):
                book.put(*(Note("n" * 3000, project=project.key) for _ in range(50)))
            assert list(book.all(Note)) == before
            assert book.check() == ()
            filler.unlink()
            book.put(Note("there is room", project=project.key))
        with Book.open(disk / NAME, clock) as book:
            assert [note.text for note in book.all(Note)] == ["there is room"]
            assert book.check() == ()
        assert _names(disk) == [NAME]
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_every_way_of_having_no_room_is_one_error(path, number):
    with pytest.raises(DiskFull), told_apart(path):
        raise OSError(number, os.strerror(number))


def test_what_is_not_about_the_file_passes_through(path):
    with pytest.raises(sqlite3.OperationalError), told_apart(path):
        sqlite3.connect(":memory:").execute("SELECT nonsense")
    assert fault_of(path, ValueError()) is None


# no right -----------------------------------------------------------------------------------------------------------------


def _as_nobody(work):
    """Runs a function in a child that is not root, whose rights the file system does ask for."""

    def plain():
        if os.geteuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        work()

    _in_child(plain)


@pytest.fixture
def reachable(path, tmp_path, monkeypatch):
    """The folders above the book can be passed by anybody; their modes are given back for the cleaning up."""
    ours = [folder for folder in tmp_path.parents if folder.stat().st_uid == os.getuid() and not folder.stat().st_mode & 0o001]
    modes = [(folder, folder.stat().st_mode) for folder in (tmp_path, *ours)]
    for folder, mode in modes:
        folder.chmod(mode | 0o055)
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    scratch.chmod(0o777)
    monkeypatch.setattr("tempfile.tempdir", str(scratch))
    path.chmod(0o666)
    path.parent.chmod(0o777)
    yield path
    path.parent.chmod(0o755)
    for folder, mode in modes:
        folder.chmod(mode)


@forks
def test_folder_that_cannot_be_written(reachable, clock):
    reachable.parent.chmod(0o555)

    def work():
        _refused(reachable, ReadOnlyBook)
        with pytest.raises(ReadOnlyBook):
            Book.create(reachable.parent / "new.stillroom", "New")
        # it can still be looked at
        with Book.look(reachable, clock) as look:
            assert len(list(look.all(Note))) == 200

    _as_nobody(work)
    assert _names(reachable.parent) == [NAME]


@forks
def test_file_that_cannot_be_written(reachable):
    reachable.chmod(0o444)
    _as_nobody(lambda: _refused(reachable, ReadOnlyBook))
    assert _names(reachable.parent) == [NAME]


@forks
def test_file_that_cannot_be_read(reachable):
    reachable.chmod(0o000)

    def work():
        with pytest.raises(ReadOnlyBook):
            Book.open(reachable)

    _as_nobody(work)
    assert _names(reachable.parent) == [NAME]


def test_write_protected_file(path, monkeypatch):
    """Root may write everything, so that the system's answer is given here."""
    monkeypatch.setattr("db.file.os.access", lambda *_: False)
    assert _refused(path, ReadOnlyBook).detail == "the file is write-protected"


# not there, moved ---------------------------------------------------------------------------------------------------------


def test_missing_file_and_folder(tmp_path):
    _refused(tmp_path / "none.stillroom", MissingBook)
    for call in (Book.open, Book.look, lambda path: Book.create(path, "New")):
        with pytest.raises(MissingBook):
            call(tmp_path / "no folder" / "none.stillroom")
    assert _names(tmp_path) == []


def test_file_taken_away_while_open(path, clock):
    with Book.open(path, clock) as book:
        notes = list(book.all(Note))
        path.unlink()
        with pytest.raises(MissingBook):
            book.put(Material("too late"))
        assert list(book.all(Note)) == notes
        assert book.get(Material, "too late") is None
        # what is in memory can still be brought to safety
        book.backup(path.parent / "saved.stillroom")
    with Book.open(path.parent / "saved.stillroom", clock) as book:
        assert list(book.all(Note)) == notes
    assert _names(path.parent) == ["saved.stillroom"]


def test_file_replaced_while_open(path, clock):
    other = path.with_name("other")
    shutil.copyfile(path, other)
    before = _digest(other)
    with Book.open(path, clock) as book:
        other.replace(path)
        with pytest.raises(MissingBook):
            book.put(Material("into the wrong file"))
    assert _digest(path) == before
    assert _names(path.parent) == [NAME]


# locked -------------------------------------------------------------------------------------------------------------------

HOLD = """
import sys
from db import Book
with Book.open(sys.argv[1]):
    print("open", flush=True)
    sys.stdin.read()
"""


def test_open_in_another_process(path, clock):
    root = os.path.dirname(os.path.dirname(os.path.abspath(sys.modules["db"].__file__)))
    before = _digest(path)
    start = datetime.now(UTC).replace(microsecond=0)
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, path], cwd=root, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        try:
            assert other.stdout.readline() == "open\n"
            for call in (Book.open, Book.look, lambda it: Book.open(it, break_lock=True)):
                with pytest.raises(LockedBook) as raised:
                    call(path)
                locked = raised.value
                assert locked.who == f"{socket.gethostname()} ({other.pid})"
                assert start <= locked.since <= datetime.now(UTC)
                assert not locked.elsewhere
            other.stdin.close()
        finally:
            other.wait(20)
    assert other.returncode == 0
    assert _digest(path) == before
    assert _names(path.parent) == [NAME]
    Book.open(path, clock).close()


def test_open_twice_in_one_process(path, clock):
    with Book.open(path, clock) as book:
        for call in (Book.open, Book.look):
            with pytest.raises(LockedBook) as raised:
                call(path)
            assert f"({os.getpid()})" in raised.value.who
            assert raised.value.since == clock.at
        # the first one still has SQLite's own lock, which any closed handle of this process would have dropped
        probe = "import sqlite3, sys; sqlite3.connect(sys.argv[1], timeout=0).execute('SELECT * FROM book')"
        said = subprocess.run([sys.executable, "-c", probe, path], capture_output=True, text=True)
        assert "database is locked" in said.stderr
        book.put(Material("still writing"))
        assert book.check() == ()
    with Book.open(path, clock) as book:
        assert book.get(Material, "still writing") is not None


def test_open_by_a_link_is_the_same_book(path, clock):
    link = path.parent / "link.stillroom"
    link.symlink_to(path)
    with Book.open(path, clock), pytest.raises(LockedBook):
        Book.open(link, clock)
    with Book.open(link, clock) as book, pytest.raises(LockedBook):
        Book.open(path, clock)
    assert book.path == link
    assert _names(path.parent) == [NAME, "link.stillroom"]


def _lock_note(path, **changed):
    note = {"host": "elsewhere", "pid": 77, "since": "2025-04-09T08:00:00+02:00"} | changed
    beside = path.with_name(path.name + ".lock")
    beside.write_bytes(b"\0" + json.dumps(note).encode())
    return beside


def test_note_of_another_machine_is_believed_until_a_person_breaks_it(path, clock):
    beside = _lock_note(path)
    note = beside.read_bytes()
    locked = _refused(path, LockedBook)
    assert (locked.who, locked.elsewhere) == ("elsewhere (77)", True)
    assert locked.since == datetime(2025, 4, 9, 8, tzinfo=timezone(timedelta(hours=2)))
    assert _refused(path, LockedBook, Book.look).elsewhere
    assert beside.read_bytes() == note
    with Book.open(path, clock, break_lock=True) as book:
        book.put(Material("broken in"))
    assert _names(path.parent) == [NAME]


def test_note_of_a_dead_process_of_this_machine_is_no_lock(path, clock):
    _lock_note(path, host=socket.gethostname())
    with Book.open(path, clock) as book:
        book.put(Material("m"))
    assert _names(path.parent) == [NAME]


@pytest.mark.parametrize("content", [b"", b"\0", b"\0{", b"\0[1]", b'\0{"host": "h"}', b"\0\xff\xfe"])
def test_unreadable_note_is_no_lock(path, clock, content):
    path.with_name(path.name + ".lock").write_bytes(content)
    Book.open(path, clock).close()
    assert _names(path.parent) == [NAME]


def test_foreign_file_where_the_lock_goes(path):
    beside = path.with_name(path.name + ".lock")
    beside.write_text("someone's own words")
    assert _refused(path, LockedBook).by_file == NAME + ".lock"
    assert beside.read_text() == "someone's own words"


def test_folder_where_the_lock_goes(path):
    path.with_name(path.name + ".lock").mkdir()
    _refused(path, ReadOnlyBook)


def test_locked_by_another_connection(path):
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    locked = _refused(path, LockedBook)
    assert (locked.who, locked.since) == ("", None)
    other.execute("COMMIT")
    other.close()
    Book.open(path).close()


def test_lock_taken_twice_by_one_lock_is_one(path):
    lock = BookLock(path)
    lock.acquire(break_lock=False)
    lock.acquire(break_lock=False)
    lock.sign(datetime.now(UTC))
    lock.release()
    assert _names(path.parent) == [NAME]
    Book.open(path).close()


def test_system_that_forbids_to_unlink_an_open_file(path, clock, monkeypatch):
    """There the lock is freed first and its file taken away afterwards."""
    beside = path.with_name(path.name + ".lock")
    plain, refusals = type(beside).unlink, []

    def unlink(self, missing_ok=False):
        if self == beside and not refusals:
            refusals.append(self)
            raise PermissionError(errno.EACCES, "in use")
        plain(self, missing_ok=missing_ok)

    monkeypatch.setattr(type(beside), "unlink", unlink)
    Book.open(path, clock).close()
    assert refusals == [beside]
    assert _names(path.parent) == [NAME]
    Book.open(path, clock).close()


# something else -----------------------------------------------------------------------------------------------------------


def _set(path, statement):
    raw = sqlite3.connect(path)
    raw.execute(statement)
    raw.commit()
    raw.close()


@pytest.mark.parametrize("call", [Book.open, Book.look])
def test_book_of_a_later_program(path, call):
    _set(path, f"PRAGMA user_version = {steps.KNOWN + 6}")
    newer = _refused(path, NewerBook, call)
    assert (newer.found, newer.known) == (steps.KNOWN + 6, steps.KNOWN)


def _foreign_database(path):
    _set(path, "CREATE TABLE book (only_row INTEGER)")


FOREIGN = {
    "database": (_foreign_database, "made by another program"),
    "text": (lambda path: path.write_text("Bergamot 100\n"), "not an SQLite file"),
    "empty": (lambda path: path.write_bytes(b""), "not an SQLite file"),
    "folder": (lambda path: path.mkdir(), "a folder"),
    "pipe": (lambda path: os.mkfifo(path), "not a file"),
}


@pytest.mark.parametrize("call", [Book.open, Book.look])
@pytest.mark.parametrize("kind", FOREIGN)
def test_foreign_file_is_refused_untouched(tmp_path, kind, call):
    make, detail = FOREIGN[kind]
    make(tmp_path / NAME)
    assert detail in _refused(tmp_path / NAME, NotABook, call).detail


@pytest.mark.parametrize("call", [Book.open, Book.look])
@pytest.mark.parametrize("size", [20, 99, 4096, 30_000])
def test_truncated_book(path, call, size):
    os.truncate(path, size)
    _refused(path, DamagedBook, call)


@pytest.mark.parametrize(
    "statement, name",
    [
        ("CREATE TRIGGER spy AFTER INSERT ON note BEGIN DELETE FROM word; END", "spy"),
        ("CREATE VIEW seen AS SELECT * FROM note", "seen"),
        ("CREATE TABLE more (x)", "more"),
        ("DROP TRIGGER note_record_update", "note_record_update"),
        ("ALTER TABLE word ADD COLUMN more TEXT", "word"),
    ],
)
def test_altered_structure_is_refused_by_name(path, statement, name):
    _set(path, statement)
    assert _refused(path, AlteredBook).names == (name,)
    assert _refused(path, AlteredBook, Book.look).names == (name,)


def test_book_without_its_head(path):
    _set(path, "DELETE FROM book")
    assert _refused(path, DamagedBook).detail == "its head is missing"


def _garbage(path, table):
    """Overwrites every page of a table but its first with noise."""
    raw = sqlite3.connect(path)
    page = raw.execute("PRAGMA page_size").fetchone()[0]
    (root,) = raw.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    raw.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * page)
        file.write(b"\xa5" * page)


def test_page_of_noise_is_found_by_the_check_and_told_by_a_read(path, clock):
    _garbage(path, "note")
    before = _digest(path)
    with Book.open(path, clock) as book:
        for found in (book.check(), book.quick_check()):
            assert [finding.code for finding in found] == ["file-damaged"]
            assert found[0].data["detail"]
        with pytest.raises(DamagedBook) as raised:
            list(book.all(Note))
        assert raised.value.path == path
        # a copy that would not be sound is not made in place of a sound one
        with pytest.raises(DamagedBook):
            book.backup(path.parent / "copy.stillroom")
        # the other tables are still to be had
        assert book.get(Project, "P").code == "P"
    assert _digest(path) == before
    assert _names(path.parent) == [NAME]


def test_page_of_noise_at_the_head(path):
    _garbage(path, "book")
    _refused(path, DamagedBook)


def test_reference_to_nothing_is_found(path, clock):
    _set(path, "INSERT INTO note VALUES (999, 'lost', 0, 0, 998, NULL, NULL, NULL, '', NULL)")
    with Book.open(path, clock) as book:
        (found,) = book.check()
        assert (found.code, found.data["tables"], found.data["count"]) == ("key-broken", ("note",), 1)
        assert book.quick_check() == ()


def test_structure_changed_while_open_is_found(path, clock):
    with Book.open(path, clock) as book:
        book._file.raw.execute("CREATE VIEW seen AS SELECT 1")
        assert [finding.code for finding in book.check()] == ["file-structure"]


@pytest.mark.parametrize("make", [lambda path: path.write_text("mine"), lambda path: path.mkdir()])
def test_new_book_does_not_take_a_taken_place(tmp_path, make):
    path = tmp_path / NAME
    make(path)
    _refused(path, BookExists, lambda place: Book.create(place, "New"))


def test_new_book_does_not_take_a_place_taken_meanwhile(tmp_path, monkeypatch):
    path = tmp_path / NAME
    plain = steps.climb

    def climb(*arguments):
        path.write_text("mine")
        plain(*arguments)

    monkeypatch.setattr(steps, "climb", climb)
    with pytest.raises(BookExists):
        Book.create(path, "New")
    assert path.read_text() == "mine"
    assert _names(tmp_path) == [NAME]


def test_new_book_where_nothing_can_be_linked(tmp_path, monkeypatch, clock):
    """Some file systems know no links: the book is moved there instead."""

    def link(*_):
        raise PermissionError(errno.EPERM, "no links here")

    monkeypatch.setattr("db.file.os.link", link)
    with Book.create(tmp_path / NAME, "New", clock=clock) as book:
        assert book.check() == ()
    assert _names(tmp_path) == [NAME]


# what a crash left --------------------------------------------------------------------------------------------------------


def test_empty_journal_of_a_killed_process_goes(path, clock):
    _journal_of(path).write_bytes(bytes(512))
    with Book.open(path, clock) as book:
        assert book.check() == ()
    assert _names(path.parent) == [NAME]


def test_no_room_to_take_a_journal_over_still_opens(path):
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA query_only = ON")
    _take_over_journal(raw, steps.KNOWN)
    assert not raw.in_transaction
    raw.close()


# the clock ----------------------------------------------------------------------------------------------------------------


def test_clock_set_back_and_other_offset(path, clock):
    with Book.open(path, clock) as book:
        project = book.get(Project, "P")
        (first,) = book.put(Note("first", project=project.key))
        clock.at = (clock.at + timedelta(minutes=10)).astimezone(timezone(timedelta(hours=-5, minutes=-30)))
        (second,) = book.put(Note("second", project=project.key))
        assert second.at - first.at == timedelta(minutes=10)
        clock.tick(days=-400)
        (third,) = book.put(Note("third", project=project.key))
    with Book.open(path, clock) as book:
        read = [book.get(Note, made.key) for made in (first, second, third)]
        assert read == [first, second, third]
        assert read[1].at.utcoffset() == timedelta(hours=-5, minutes=-30)
        assert read[1].at - read[0].at == timedelta(minutes=10)
        assert book.check() == ()
