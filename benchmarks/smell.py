# SPDX-License-Identifier: MIT
"""The figures of 200 strips of 50 readings and their curves; a word in 500,000 readings: python -m benchmarks smell

The reading is the whole road: typed figures put on disk, the figures of its strip worked out again, table and curve repainted.
"""

from __future__ import annotations

import tempfile
from datetime import timedelta
from itertools import count, cycle
from pathlib import Path
from typing import Any

from benchmarks.timing import bare_table, bench, milliseconds

STRIPS, READINGS, WIDTH, HEIGHT = 200, 50, 1216, 740
FIRST_S, GROWTH = 120.0, 1.2


def smelled(book: Any) -> tuple[int, list[Any]]:
    """(a project, its strips) of 200 strips with 50 readings each, put through the door."""
    from perfumery import Bottle, Project, Reading, Strip, Version

    (project,) = book.put(Project("SM", "smelled"))
    versions = book.put(*(Version(project.key, f"SM-{n}") for n in range(STRIPS // 20)))
    vials = book.put(*(Bottle(f"V{n:03d}", "trial", f"vial {n}", version=version.key) for n, version in enumerate(versions)))
    start = book.now() - timedelta(days=60)
    times = tuple(FIRST_S * GROWTH**n for n in range(READINGS))
    strips = book.put(
        *(
            Strip(f"P{n:03d}", vials[n % len(vials)].key, start + timedelta(minutes=n), reading_times=times[::5])
            for n in range(STRIPS)
        )
    )
    book.put(
        *(
            Reading(strip.key, strip.dipped_at + timedelta(seconds=due), due_s=due, intensity=round(2 * max(5.5 - n / 10, 0)) / 2,
                    words={"wet stone": 2})
            for strip in strips
            for n, due in enumerate(times)
        )
    )  # fmt: skip
    return project.key, list(strips)


def figures_of_many() -> None:
    """Prints what opening, hovering, a reading and a scroll step take."""
    with bench() as (qt, book, session):
        from PySide6.QtCore import QPointF, Qt
        from PySide6.QtGui import QMouseEvent

        from desktop.pages.smell.figures_view import FiguresView
        from perfumery import Reading

        project, strips = smelled(book)
        session.choose_project(project)
        view = FiguresView(session)
        view.resize(WIDTH, HEIGHT)
        view.curves.load()
        view.show()
        qt.processEvents()
        opened = milliseconds(lambda: (view.refresh(), view.grid.viewport().repaint()), 7, 1)
        qt.processEvents()
        places = cycle(range(40, view.curves.width() - 40, 7))

        def hover() -> None:
            at = QPointF(next(places), view.curves.height() / 2)
            none = Qt.MouseButton.NoButton
            event = QMouseEvent(QMouseEvent.Type.MouseMove, at, at, none, none, Qt.KeyboardModifier.NoModifier)
            view.curves.mouseMoveEvent(event)
            qt.processEvents()

        strip = next(one for one in strips if one.key == view.ticked[0])
        later = count(1)

        def reading() -> None:
            due = FIRST_S * GROWTH**READINGS + next(later) * 60
            book.put(Reading(strip.key, strip.dipped_at + timedelta(seconds=due), due_s=due, intensity=0.5))
            qt.processEvents()

        hovered, read = milliseconds(hover, 100), milliseconds(reading, 30)
        columns = len(view.model.columns)
        bare = bare_table(STRIPS, columns, view.grid.width(), view.grid.height(), view.grid.rowHeight(0))
        qt.processEvents()

        def scroll(table: Any) -> Any:
            bar, steps = table.verticalScrollBar(), cycle((1, 1, 1, -1, -1, -1))

            def step() -> None:
                bar.setValue(bar.value() + 5 * next(steps))
                table.viewport().repaint()

            return step

        floor, took = milliseconds(scroll(bare), 100), milliseconds(scroll(view.grid), 100)
        print(f"figures of {STRIPS} × {READINGS}: opened {opened:.0f} ms, a hover {hovered:.1f} ms, a reading {read:.1f} ms;")
        print(f"  scroll step in {columns} columns {took:.1f} ms, bare {floor:.1f} ms, ratio {took / floor:.2f}")


def words_of_years() -> None:
    """Prints what a word takes in a book of full size, beside counting that book's readings once."""
    from benchmarks.fullsize import make

    with tempfile.TemporaryDirectory() as folder:
        path = make(Path(folder) / "full.stillroom")
        from db import Book

        with Book.open(path) as book:
            from sqlalchemy import func, select

            from db import tables as t

            of = book._store.scalar(select(func.count()).select_from(t.READING))
            floor = milliseconds(lambda: book._store.scalar(select(func.count()).where(t.READING.c.intensity > 1)), 5, 1)
            for sought in ("wet stone", "wet st", "nothing such"):
                found = book.words.found(sought)
                took = milliseconds(lambda sought=sought: book.words.found(sought), 5, 1)
                print(f"“{sought}” in {of:,} readings, {found.paper:,} hold it: {took:.0f} ms,", end=" ")
                print(f"one pass over them {floor:.0f} ms, ratio {took / floor:.2f}")


def main() -> None:
    """Both."""
    figures_of_many()
    words_of_years()


if __name__ == "__main__":
    main()
