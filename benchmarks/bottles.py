# SPDX-License-Identifier: MIT
"""The rows of 2,000 bottles with 40,000 moves, beside a bare scan of the ledger: python -m benchmarks bottles

What a draw costs to write is left out: the second figure is only how long the list takes to know of it.
"""

from __future__ import annotations

import random
import sqlite3
import tempfile
from collections.abc import Callable
from itertools import cycle
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

from benchmarks.timing import bare_table, milliseconds
from db import Book

WIDTH, HEIGHT = 1216, 740
BOTTLES, MOVES, STATES, MATERIALS = 2_000, 40_000, 2, 400
START_MS, HOUR_MS = 1_700_000_000_000, 3_600_000
# one bottle in so many was re-weighed, one move in so many was corrected later
REWEIGHED, CORRECTED = 3, 50


def make(path: Path) -> Path:
    """A book whose bottles each came full, were drawn from in small masses, and some re-weighed. All of it is invented."""
    Book.create(path, "Bottles").close()
    random.seed(8)
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("BEGIN")
    raw.executemany(
        "INSERT INTO material VALUES (?, ?, '', 'liquid', ?, '', '', '', '[]', '[\"resin\"]', '[]', 24, '', NULL)",
        ((key, f"Invented material {key}", int(key == 1)) for key in range(1, MATERIALS + 1)),
    )
    bottles = range(MATERIALS + 1, MATERIALS + 1 + BOTTLES)
    raw.executemany(
        "INSERT INTO bottle (key, code, kind, label, material, carrier, strength, lot, supplier, supplier_no, opened_on,"
        " container, liner, place, remark, tare_inferred) VALUES (?, ?, 'dilution', '', ?, 1, 0.1, '', '', '', '2024-01-01',"
        " 'amber glass bottle 30 ml', '', ?, '', 0)",
        ((key, f"K{key}", 2 + key % (MATERIALS - 1), f"A-{key % 40}") for key in bottles),
    )
    key = bottles.stop
    states, shares = [], []
    for bottle in bottles:
        for state in range(STATES):
            states.append((key, bottle, START_MS + state * 50 * HOUR_MS, 60, "topped up" if state else "made"))
            shares += [(key, 1, 0.9), (key, 2 + bottle % (MATERIALS - 1), 0.1)]
            key += 1
    raw.executemany("INSERT INTO contents VALUES (?, ?, ?, ?, ?)", states)
    raw.executemany("INSERT INTO content_share VALUES (?, ?, ?)", shares)
    moves = []
    for number in range(MOVES):
        bottle = bottles[number % BOTTLES]
        at = START_MS + number // BOTTLES * HOUR_MS * 5
        turn, replaces = number // BOTTLES, None
        kind, mass = ("received", 30.0) if turn == 0 else ("used", random.randrange(10, 900) / 1000)
        if turn == 14 and bottle % REWEIGHED == 0:
            kind, mass = "found", 20.0
        elif turn > 1 and turn % 2 and number % CORRECTED == 0:
            replaces = moves[number - BOTTLES][0]
        ends = (None, bottle) if kind in ("received", "found") else (bottle, None)
        moves.append((key, at, 60, kind, mass, *ends, replaces))
        key += 1
    raw.executemany(
        "INSERT INTO move (key, at, off, kind, mass_g, from_bottle, to_bottle, replaces, remark, estimated)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, '', 0)",
        moves,
    )
    raw.execute("UPDATE book SET next_key = ?, changes = 1", (key,))
    raw.execute("COMMIT")
    raw.close()
    return path


def main() -> None:
    """Prints the medians of all rows read anew and of those re-read after one draw, as ratios to the bare scan."""
    with tempfile.TemporaryDirectory() as folder, Book.open(make(Path(folder) / "bottles.stillroom")) as book:
        raw = book._file.raw
        assert len(book.bottles.rows()) == BOTTLES

        def floor() -> None:
            raw.execute("SELECT count(*), sum(mass_g) FROM move").fetchone()

        def anew() -> None:
            book._queries._bottles[False]._rows = None
            book.bottles.rows()

        again = []
        for row in book.bottles.rows()[:40]:
            book.bottles.draw(row.key, "used", 0.001)
            start = perf_counter()
            book.bottles.rows()
            again.append(perf_counter() - start)
        under, whole, part = milliseconds(floor), milliseconds(anew, rounds=20), median(again) * 1000
        print(f"rows of {BOTTLES} bottles with {MOVES} moves: {whole:.1f} ms, again after one draw: {part:.2f} ms")
        print(f"bare scan of the moves: {under:.2f} ms, ratios {whole / under:.1f} and {part / under:.2f}")
        show(book)


def show(book: Book) -> None:
    """Prints how long the page takes to open on these bottles, and its scroll step beside a bare table's."""
    import os

    from PySide6.QtWidgets import QApplication

    from desktop.pages.shelf.page import ShelfPage
    from desktop.session import Session
    from desktop.settings import Settings
    from desktop.theme import Theme

    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder
        qt = QApplication.instance() or QApplication([])
        qt.setStyle("Fusion")  # type: ignore[attr-defined]
        session = Session(book, Theme(qt, "light"), Settings(Path(folder) / "bottles.ini"))  # type: ignore[arg-type]
        book.bottles.rows()
        start = perf_counter()
        page = ShelfPage(session)
        page.resize(WIDTH, HEIGHT)
        page.show()
        qt.processEvents()
        opened = (perf_counter() - start) * 1000
        grid = page.list.grid
        shown = len(grid.shown_columns())
        bare = bare_table(BOTTLES, shown, grid.width(), grid.height(), grid.rowHeight(0))
        qt.processEvents()

        def scroll(view: Any) -> Callable[[], None]:
            bar = view.verticalScrollBar()

            def step() -> None:
                bar.setValue(0 if bar.value() >= bar.maximum() - 3 else bar.value() + 3)
                qt.processEvents()

            return step

        floor, took = milliseconds(scroll(bare), 100), milliseconds(scroll(grid), 100)
        print(f"page opened on rows that were read: {opened:.0f} ms")
        print(f"scroll step in {shown} columns: {took:.1f} ms, bare {floor:.1f} ms, ratio {took / floor:.2f}")
        typed = cycle(("inv", "invented 4", "A-2", "≥ 5"))
        keystroke = milliseconds(lambda: (page.list.search.setText(next(typed)), qt.processEvents()), 40)
        print(f"keystroke in the search: {keystroke:.1f} ms")
        page.close()


if __name__ == "__main__":
    main()
