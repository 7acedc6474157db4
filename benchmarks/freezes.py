# SPDX-License-Identifier: MIT
"""The longest freezes of the window on a full-size book: python -m benchmarks freezes

A timer of 2 ms runs in the program's own event loop; the longest gap between two of its ticks is how long the window answered
nothing. Each round makes a book with its starting materials, opens the full one, shows every page and every view of it for the
first time, changes the look and the size of the text and shows the pages again, does what a hand does most on each page,
understands a table of 5,000 new materials, takes them, takes that back and does it again, and looks up a pasted sheet of 40
unknown names. The floor of the same run is the same 5,000 rows put into a bare table of SQLite in one transaction. Prints medians
in ms and ratios to that floor.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter, sleep
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from desktop.app import App

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

ROUNDS, MATERIALS, PASTED = 3, 5_000, 40
LONGEST_S = 120
# What an act leaves to be read on is over by then.
ACTED_S = 1.0
# After the start a book is looked after in the worker; that is over by then.
SETTLED_S = 8


class Watch:
    """Runs the event loop and tells its longest gap."""

    def __init__(self, qt: Any) -> None:
        from PySide6.QtCore import QTimer

        self._qt = qt
        self._ticks: list[float] = []
        self._timer = QTimer(interval=2)
        self._timer.timeout.connect(lambda: self._ticks.append(perf_counter()))

    def longest(self, call: Callable[[], object], is_done: Callable[[], bool]) -> float:
        """ms of the longest gap from a call until it is done and a tenth of a second has gone by."""
        from PySide6.QtCore import QTimer

        self._ticks.clear()
        self._timer.start()
        self.turn(0.02)
        QTimer.singleShot(0, call)
        started = perf_counter()
        self.turn(0.1)
        while not is_done():
            if perf_counter() - started > LONGEST_S:
                raise RuntimeError("it never came to an end")
            self.turn(0.01)
        self.turn(0.1)
        self._timer.stop()
        return max(after - before for before, after in zip(self._ticks, self._ticks[1:], strict=False)) * 1000

    def turn(self, seconds: float) -> None:
        """Lets the event loop run for a while."""
        until = perf_counter() + seconds
        while perf_counter() < until:
            self._qt.processEvents()
            sleep(0.0005)


def _floor(folder: Path, turn: int) -> float:
    """ms of the bare rows."""
    raw = sqlite3.connect(folder / f"floor{turn}.sqlite", isolation_level=None)
    raw.execute("PRAGMA synchronous = FULL")
    raw.execute("CREATE TABLE bare (key INTEGER PRIMARY KEY, name TEXT UNIQUE, words TEXT, synonyms TEXT)")
    rows = [(at, f"Fresh stuff {at}", '["peel","pine"]', '["other"]') for at in range(MATERIALS)]
    started = perf_counter()
    raw.execute("BEGIN")
    raw.executemany("INSERT INTO bare VALUES (?, ?, ?, ?)", rows)
    raw.execute("COMMIT")
    took = perf_counter() - started
    raw.close()
    return took * 1000


def _round(app: App, watch: Watch, folder: Path, turn: int) -> dict[str, float]:
    from desktop.table_files import TableFile

    book = folder / "full.stillroom"
    app.close_book()
    fresh = folder / f"new {turn}.stillroom"
    is_open: Callable[[], bool] = lambda: app.book is not None
    found = {"making a book": watch.longest(lambda: app.new_book(fresh, "New", "EUR", starters=True), is_open)}
    app.close_book()
    found["opening"] = watch.longest(lambda: app.open_book(book), is_open)
    watch.turn(SETTLED_S)
    found |= _looked_at(app, watch)
    found |= _worked_on(app, watch)
    page = app.window.show_page("import")
    news = ((f"Fresh stuff {turn}.{at}", "other", "peel; pine") for at in range(MATERIALS))
    rows = (("name", "synonyms", "smell words"), *news)
    start: Callable[[], None] = lambda: page.start(Path("fresh.csv"), (TableFile("", rows),))
    found["understanding a table"] = watch.longest(start, lambda: len(page.model.rows) == MATERIALS)
    before = len(app.book.material_rows())
    is_taken: Callable[[], bool] = lambda: len(app.book.material_rows()) == before + MATERIALS
    is_back: Callable[[], bool] = lambda: len(app.book.material_rows()) == before
    found["taking it"] = watch.longest(page.take, is_taken)
    found["taking it back"] = watch.longest(app.session.undo, is_back)
    found["doing it again"] = watch.longest(app.session.redo, is_taken)
    watch.longest(app.session.undo, is_back)
    formula = app.window.show_page("bench").formula
    text = "".join(f"Unknown thing {at} (resin)\t{at + 1}\n" for at in range(PASTED))
    found["looking pasted names up"] = watch.longest(lambda: formula.paste_text(text), lambda: not app.work.what)
    return found


def _looked_at(app: App, watch: Watch) -> dict[str, float]:
    """What every page, every view and a change of the look hold the window up at most."""
    window, theme, found = app.window, app.theme, {}
    pages, views = [], []
    for name in ("shelf", "weigh", "smell", "compare"):
        pages.append(watch.longest(lambda name=name: window.show_page(name), lambda: True))
        page = window.page(name)
        for view in getattr(page, "VIEWS", ()):
            views.append(watch.longest(lambda page=page, view=view: page.show_view(view), lambda: True))
    found["first showing of a page"] = max(pages)
    found["first showing of a view"] = max(views)
    dark, light = (watch.longest(lambda look=look: theme.choose(look), lambda: True) for look in ("dark", "light"))
    large, usual = (watch.longest(lambda size=size: theme.resize_text(size), lambda: True) for size in (1.3, 1.0))
    found["another look"] = max(dark, light)
    found["another size of the text"] = max(large, usual)
    names = ("bench", "shelf", "weigh", "smell", "compare")
    found["a page in another look"] = max(watch.longest(lambda name=name: window.show_page(name), lambda: True) for name in names)
    return found


def _worked_on(app: App, watch: Watch) -> dict[str, float]:
    """What a hand does most holds the window up."""
    from perfumery import Material, Project, Strip

    window, session, book = app.window, app.session, app.book
    acts: list[tuple[str, Callable[[], object]]] = []
    project = next(one for one in book.all(Project) if one.key != session.project_key)
    heads = book.version_heads(project.key)

    def edit() -> None:
        first, *others = session.version.lines
        session.edit("parts", replace(session.version, lines=(replace(first, parts=first.parts + 1), *others)))

    def seek(text: str) -> None:
        window.find.setText(text)
        window.find.textEdited.emit(text)

    bench = window.show_page("bench")
    acts += [
        ("another project", lambda: session.choose_project(project.key)),
        ("another version", lambda: session.choose_version(heads[0].key)),
        ("the newest version", lambda: session.choose_version(heads[-1].key)),
        ("an edit of a line", edit),
        ("its undo", session.undo),
        ("the card of a material in every formula", lambda: bench.drawer.choose(1)),
        ("what can be dipped", bench.strips.dip),
        ("finding what is not there", lambda: seek("nothing such")),
        ("finding a material", lambda: seek("material 7")),
    ]
    shelf, compare, smell = (window.page(name) for name in ("shelf", "compare", "smell"))
    vial, carrier = book.strips(project.key)[0].bottle, book.get(Material, 1)
    acts += [
        ("the shelf", lambda: window.show_page("shelf")),
        ("a bottle drawn from", lambda: book.bottles.draw(shelf.list.row.key, "used", 0.01)),
        ("the vials", lambda: (shelf.list.kinds.choose("trial vials"), shelf.list.refresh())),
        ("the stock again", lambda: (shelf.list.kinds.choose("all"), shelf.list.refresh())),
        ("a delivery sheet", shelf.enter_delivery),
        ("an accord to make up", shelf.make_accord),
        ("where a carrier was used", lambda: (window.show_page("compare"), compare.show_view("where used").go_to(carrier))),
        ("the words", lambda: (smell.show_view("words"), window.show_page("smell"))),
        ("a word of years", lambda: smell.views["words"].sought.setText("pe")),
        ("figures of all papers", lambda: smell.show_view("figures")),
        ("a paper dipped", lambda: book.put(Strip(book.next_code(Strip, "P"), vial, book.now()))),
    ]
    found = {}
    for name, act in acts:
        found[name] = watch.longest(act, lambda: True)
        watch.turn(ACTED_S)
    return found


def main() -> None:
    """Runs the rounds and prints the table."""
    from PySide6.QtWidgets import QApplication

    from benchmarks.fullsize import make
    from desktop.app import App
    from desktop.faults import Faults
    from desktop.settings import Settings

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["XDG_CONFIG_HOME"] = name
        make(folder / "full.stillroom")
        qt = QApplication([])
        app = App(qt, Settings(folder / "bench.ini"), Faults(folder / "log"))
        app.window.resize(1280, 800)
        app.start()
        watch = Watch(qt)
        watch.turn(1.5)
        floors, rounds = [], []
        for turn in range(ROUNDS + 1):
            floor = _floor(folder, turn)
            found = _round(app, watch, folder, turn)
            if turn:  # the first round imports and builds everything once
                floors.append(floor)
                rounds.append(found)
            else:
                first = max(found["making a book"], found["opening"])
                print(f"first book, with its imports: longest freeze {first:.0f} ms, ÷ bare rows {first / floor:.1f}")
        print(f"bare rows, {MATERIALS:,} in one transaction: {median(floors):.0f} ms (median of {ROUNDS})")
        for what in rounds[0]:
            figures = [found[what] for found in rounds]
            ratios = [found[what] / floor for found, floor in zip(rounds, floors, strict=True)]
            print(f"{what}: longest freeze {median(figures):.0f} ms, ÷ bare rows {median(ratios):.1f}")
        app.close_book()
        app.window.close()


if __name__ == "__main__":
    main()
