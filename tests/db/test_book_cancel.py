# SPDX-License-Identifier: MIT
"""What takes long tells how far it is, and is stopped at any point with nothing half done left: no file, no lock, no change."""

import shutil
import sqlite3
from pathlib import Path

import pytest

from db import Book, Cancelled, file
from db.file import stoppable
from perfumery import Material, Note, Project

STEP1 = Path(__file__).parent / "fixtures" / "step1.stillroom"


@pytest.fixture
def big(book):
    """Enough pages for several slices, and for SQLite to be asked in the middle of a statement."""
    (project,) = book.put(Project("P"))
    book.put(*(Note(f"note {number} " + "so long " * 300, project=project.key) for number in range(1500)))
    return book


class Until:
    """Goes on a number of times, then stops; keeps what it was told."""

    def __init__(self, times: int) -> None:
        self.times, self.told = times, []

    def __call__(self, done: int, of: int) -> bool:
        self.told.append((done, of))
        return len(self.told) <= self.times


CALLS = {
    "copy": lambda book, folder, progress: book.backup(folder / "copy.stillroom", progress),
    "backup": lambda book, folder, progress: book.backup_if_due(progress),
    "export": lambda book, folder, progress: book.export(folder / "out", None, progress),
    "export with more": lambda book, folder, progress: book.export(folder / "out", lambda *_: None, progress),
    "check": lambda book, folder, progress: book.check(progress),
    "quick check": lambda book, folder, progress: book.quick_check(progress),
}


@pytest.mark.parametrize("name", CALLS)
def test_stopped_at_any_point_nothing_is_left(big, tmp_path, name, monkeypatch):
    monkeypatch.setattr(file, "_STEPS", 2000)
    folder = tmp_path / "to"
    folder.mkdir()
    watched = Until(10**9)
    CALLS[name](big, folder, watched)
    asked = len(watched.told)
    assert asked > 3
    shutil.rmtree(folder)
    folder.mkdir()
    for backup in Book.backups_of(big.path):
        backup.path.unlink()
    for times in sorted({0, 1, asked // 2, asked - 2}):
        with pytest.raises(Cancelled) as raised:
            CALLS[name](big, folder, Until(times))
        assert raised.value.path.name
        assert list(folder.iterdir()) == [] and Book.backups_of(big.path) == ()
        assert not any(left.is_file() for left in Book.backup_folder(big.path).glob(".*"))
    # the book goes on as if nothing had been
    big.put(Material("afterwards"))
    assert big.check() == ()


def test_how_far_it_is_only_grows_to_the_whole(big, tmp_path, monkeypatch):
    # so that SQLite asks in the middle of its statements too
    monkeypatch.setattr(file, "_STEPS", 2000)
    for name in ("copy", "export", "export with more"):
        watched = Until(10**9)
        CALLS[name](big, tmp_path / name, watched) if name != "copy" else big.backup(tmp_path / "copy.stillroom", watched)
        figures = [done / of for done, of in watched.told if of]
        assert figures == sorted(figures) and figures[-1] <= 1
    assert figures[-1] >= 0.5


def test_stopping_the_backup_before_a_step_leaves_the_book_at_its_step(tmp_path, clock):
    path = tmp_path / "old.stillroom"
    shutil.copyfile(STEP1, path)
    before = path.read_bytes()
    with pytest.raises(Cancelled):
        Book.open(path, clock, progress=lambda done, of: False)
    assert path.read_bytes() == before
    assert not path.with_name(path.name + ".lock").exists()
    Book.open(path, clock).close()


def test_other_faults_of_a_statement_are_not_taken_for_stopping():
    raw = sqlite3.connect(":memory:")
    with pytest.raises(sqlite3.OperationalError), stoppable(raw, Path("x"), lambda done, of: True):
        raw.execute("SELECT nonsense")
    raw.close()


def test_an_export_is_stopped_between_its_rows(big, tmp_path):
    (tmp_path / "to").mkdir()
    told = []

    def progress(done: int, of: int) -> bool:
        told.append(done)
        return not done

    with pytest.raises(Cancelled):
        big.export(tmp_path / "to" / "out", None, progress)
    assert 0 < told[-1] < 1000 and list((tmp_path / "to").iterdir()) == []
