# SPDX-License-Identifier: MIT
"""A book outlives the sudden death of the program: 200 processes killed while they write, and not one edit lost.

Most die at a random moment; every fourth dies inside a transaction that has already written to the file. What the child
reported as done stands in the book afterwards, the file is sound, its lock is free and nothing lies beside it.
"""

import os
import random
import select
import signal
import struct
import sys
import time

import pytest

from db import Book
from db.store import Store
from perfumery import Note, Project

KILLS = 200
EVERY_INSIDE = 4
REPORT = struct.Struct("<qq")
INSIDE = -1

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is forked after the imports to be killed cheaply")


def _edit_for_ever(path, clock, project, pipe, inside):
    """In the child: a note and a new name of the project in one put, reported when it is done."""
    sys.settrace(None)  # no measuring of lines here: it would only be slow
    with Book.open(path, clock) as book:
        counter = int(book.get(Project, project).name)
        done = 0

        def pausing(store, pairs, plain=Store.apply):
            plain(store, pairs)
            if inside and done > 2:
                os.write(pipe, REPORT.pack(INSIDE, INSIDE))
                time.sleep(60)

        Store.apply = pausing
        if inside:
            # so small a cache is written out in the middle of the transaction: the file itself is half changed then
            book._file.raw.execute("PRAGMA cache_size = 1")
        while True:
            counter += 1
            notes = [Note(f"edit {counter} " + "of some length " * 40, project=project) for _ in range(12 if inside else 1)]
            *made, _ = book.put(*notes, Project("P", str(counter), key=project))
            os.write(pipe, REPORT.pack(made[-1].key, counter))
            done += 1


def _killed_at(path, clock, project, delay, inside):
    """Forks, kills and returns the reports of one child."""
    out, into = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(out)
            _edit_for_ever(path, clock, project, into, inside)
        finally:
            # never back into the parent's tests
            os._exit(3)
    os.close(into)
    try:
        if inside:
            reports = b""
            while not reports.endswith(REPORT.pack(INSIDE, INSIDE)):
                part = os.read(out, 4096)
                assert part, "the child ended by itself"
                reports += part
        else:
            assert select.select([out], [], [], 20)[0], "no edit at all"
            reports = b""
            time.sleep(delay)
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        assert os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL, "the child ended by itself"
        while part := os.read(out, 65536):
            reports += part
    finally:
        os.close(out)
    return [report for report in REPORT.iter_unpack(reports) if report[0] != INSIDE]


def test_two_hundred_kills_lose_no_edit(tmp_path, clock):
    path = tmp_path / "killed.stillroom"
    delays = random.Random(20250410)
    with Book.create(path, "Killed", clock=clock) as book:
        (project,) = book.put(Project("P", "0"))
    acknowledged, torn = {}, 0
    for number in range(KILLS):
        inside = number % EVERY_INSIDE == 0
        reports = _killed_at(path, clock, project.key, delays.uniform(0, 0.02), inside)
        assert reports
        torn += (tmp_path / "killed.stillroom-journal").exists() and inside
        with Book.open(path, clock) as book:
            # the last one may have been committed and killed before it was reported; an edit is whole or not there
            counter = int(book.get(Project, project.key).name)
            last = reports[-1][1]
            assert counter == last if inside else counter in (last, last + 1), number
            assert all(book.get(Note, key).text.startswith(f"edit {count} ") for key, count in reports), number
            if number % 20 == 0 or number == KILLS - 1:
                assert book.check() == ()
            else:
                assert book.quick_check() == ()
        acknowledged.update(reports)
        assert [file.name for file in tmp_path.iterdir()] == ["killed.stillroom"], number
    assert torn == KILLS // EVERY_INSIDE, "no child died while the file itself was half changed"
    with Book.open(path, clock) as book:
        texts = {note.key: note.text for note in book.all(Note)}
    assert len(acknowledged) >= KILLS
    assert all(texts[key].startswith(f"edit {count} ") for key, count in acknowledged.items())
