# SPDX-License-Identifier: MIT
"""Pictures of every page, light and dark, in two sizes: for a look at the whole without a screen, and for the handbook.

They are drawn of a copy, so that a book is never touched, and as at the end of its last sitting, so that two runs agree.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from db import Backup, Book, BookError, Head, LockedBook, make_demo, system_clock
from desktop import wording
from perfumery import Reading, Strip, Version

SIZES = ((1280, 800), (1920, 1080))
THEMES = ("light", "dark")
AFTER_LAST = timedelta(hours=6)
SETTLE_MS = 160
# Two strips put into the copy of the demo studio, so that something is due: dipped so long before now, and read at so many
# minutes with this intensity, distance in cm, liking and words.
_RUNNING = (
    (timedelta(hours=2, minutes=41), ((2, 5, 34, 3, "bitter peel"), (15, 4.5, 29, 3, "wet stone"), (30, 4.5, 26, 3, "pine"),
                                      (60, 4, 22, 2, "wet stone"))),
    (timedelta(hours=7, minutes=48), ((2, 5, 35, 3, "bitter peel"), (15, 4.5, 30, 3, "wet stone"), (30, 4.5, 28, 3, "pine"),
                                      (60, 4, 24, 3, "salty"), (120, 3.5, 18, 3, "woody"), (240, 3.5, 15, 3, "ambery"))),
)  # fmt: skip


def draw(folder: Path, book: Path | None = None) -> int:
    """Writes `page-theme-WxH@scale.png` for every page into a folder, of a book or of a new demo studio; the exit code."""
    if sys.platform.startswith("linux"):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    home = Path(tempfile.mkdtemp(prefix="stillroom-pictures-"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        copy, now = _copied(book, home) if book is not None else _studio(home)
        _draw(folder, copy, now, home)
    except (BookError, OSError) as error:
        sys.stderr.write(wording.fault(error) + "\n")
        return 1
    finally:
        shutil.rmtree(home, ignore_errors=True)
    return 0


def _copied(book: Path, home: Path) -> tuple[Path, datetime]:
    """(a copy of the book, the end of its last sitting)."""
    copy = home / book.name
    with Book.look(book) as look:
        look.backup(copy)
        return copy, _last(look)


def _studio(home: Path) -> tuple[Path, datetime]:
    """(a new demo studio with two strips that are running, now)."""
    path = home / "Demo studio.stillroom"
    with make_demo(path) as book:
        now = _last(book)
        papers = [strip for strip in book.all(Strip) if strip.kind == "paper"]
        origins = book.origins(strip.bottle for strip in papers)
        vials = {version.key: strip for strip in papers if (version := origins[strip.bottle].version) is not None}
        for (before, readings), newest in zip(_RUNNING, sorted(vials, reverse=True), strict=False):
            vial = vials[newest]
            key = book.new_key()
            code = book.next_code(Strip, "P")
            dipped = now - before
            fresh = {"closed_at": None, "reading_times": (), "sitting": None, "blind_code": ""}
            strip = replace(vial, key=key, code=code, dipped_at=dipped, **fresh)
            read = [
                Reading(strip=key, at=dipped + timedelta(minutes=minutes), intensity=intensity, distance_cm=cm, liking=liking,
                        words={word: 2})
                for minutes, intensity, cm, liking, word in readings
            ]  # fmt: skip
            book.put(strip, *read, what=f"strip {code}")
    return path, now


def _last(book: Book) -> datetime:
    """Some hours after the last reading, so that the book looks as it was left; now for a book without strips."""
    newest = sorted(book.all(Strip), key=lambda strip: strip.dipped_at)[-8:]
    read = book.readings(tuple(strip.key for strip in newest if strip.key is not None))
    times = [reading.at for readings in read.values() for reading in readings] + [strip.dipped_at for strip in newest]
    return max(times) + AFTER_LAST if times else system_clock()


def _draw(folder: Path, copy: Path, now: datetime, home: Path) -> None:
    from PySide6.QtWidgets import QApplication

    from desktop.app import App
    from desktop.faults import Faults
    from desktop.settings import Settings

    qt = QApplication.instance() or QApplication(sys.argv[:1])
    app = App(qt, Settings(home / "settings.ini"), Faults(home), clock=lambda: now)  # type: ignore[arg-type]
    app.window.first.keep_in(Path.home() / "Documents")
    app.window.show()
    for theme in THEMES:
        app.theme.choose(theme)
        for width, height in SIZES:
            app.window.setMinimumSize(width, height)
            app.window.resize(width, height)
            for page, show in _pages(app, copy):
                show()
                _settle()
                picture = app.window.grab()
                scale = f"{picture.devicePixelRatio():g}"
                file = folder / f"{page}-{theme}-{width}x{height}@{scale}.png"
                if not picture.save(str(file)):
                    raise OSError(5, "the picture could not be written", str(file))
    app.leave()


def _pages(app, copy: Path) -> Iterator[tuple[str, Callable[[], object]]]:  # type: ignore[no-untyped-def]
    """(name, how to bring it up) of every page."""
    from desktop.models.backups import rows_of

    window = app.window

    def bench(mode: str) -> None:
        app.open_book(copy)
        window.bench.set_mode(mode)
        window.bench.take_focus()
        _draw_charts(window)

    def locked() -> None:
        app.close_book()
        at = app.clock() - timedelta(minutes=23)
        backup = at.replace(tzinfo=None) - timedelta(minutes=35)
        place = app.window.first.folder / "Slate Rain.stillroom"
        window.fault.show_fault(LockedBook(place, "bench-2", at, elsewhere=True), place, (backup, place))
        window.show_fault()

    yield "bench", lambda: bench("composing")
    yield "bench-smelling", lambda: bench("smelling")
    def shelf(delivery: bool = False) -> None:
        page = window.show_page("shelf")
        # the bottle that lost most shows what the card is for
        lost = max(app.book.bottles.rows(), key=lambda row: row.missing_g or 0.0, default=None)
        if delivery:
            page.enter_delivery()
        elif lost is not None:
            page.choose(lost.key)
            page.take_focus()

    def weigh(lines: int = 0) -> None:
        page = window.show_page("weigh")
        page.show_begin()
        if lines:
            open_ = app.book.weighings.unfinished()
            if not open_:
                page.begin.confirm()
                while page.scale.making is not None and page.scale.row is not None and lines:
                    if page.scale.asks_code and page.scale.row.bottle is not None:
                        page.scale.bottle_seen(page.scale.row.bottle.key)
                    page.scale.figure.setText(f"{page.scale.row.planned.target_g:.3f}")
                    page.scale.confirm()
                    lines -= 1
            elif open_[0].key is not None:
                page.weigh(open_[0].key)

    def smell(view: str) -> None:
        page = window.show_page("smell").show_view(view)
        if view == "sittings":
            fullest = max(app.book.sittings.rows(), key=lambda row: row.strips, default=None)
            if fullest is not None:
                page.go_to(fullest.sitting)
        elif view == "words":
            page.sought.setText("wet slate")
        _draw_charts(window)

    def compare(view: str) -> None:
        page = window.show_page("compare")
        page.show_view(view)
        if view == "where used":
            used = app.book.uses.accords()
            if used:
                page.views[view].go_to(app.book.get(Version, used[0].key))
        _draw_charts(window)

    def backups() -> None:
        page, place, now = window.backups, window.first.folder / "Slate Rain backups", app.clock().replace(tzinfo=None)
        files = [(hours, Backup(now - timedelta(hours=hours), place / f"{now - timedelta(hours=hours):%Y-%m-%d %H.%M.%S}"
                                f"{' step 4' if hours == 26 else ''}.stillroom", 431_000 - 900 * hours))
                 for hours in (1, 2, 4, 23, 26, 49, 170, 336)]  # fmt: skip
        heads = {one.path: Head("", 400 - hours) for hours, one in files}
        page.show_book("Slate Rain", place, is_open=True)
        page.show_rows(rows_of([one for _, one in files], app.clock(), heads, Head("", 400)))
        window.show_backups()

    yield "compare", lambda: compare("side by side")
    for view in ("tree", "limits", "where used", "again today", "series"):
        yield f"compare-{view.replace(' ', '-')}", lambda view=view: compare(view)
    yield "smell", lambda: smell("sittings")
    for view in ("figures", "blind tests", "words"):
        yield f"smell-{view.replace(' ', '-')}", lambda view=view: smell(view)
    yield "weigh", weigh
    yield "weigh-line", lambda: weigh(8)
    yield "shelf", shelf
    yield "shelf-delivery", lambda: shelf(delivery=True)
    yield "help", window.commands["help"].trigger
    yield "help-sums", lambda: window.show_help("sums")
    yield "shortcuts", window.commands["keys"].trigger
    yield "about", window.commands["about"].trigger
    yield "backups", backups
    yield "first", app.close_book
    yield "fault", locked


def _draw_charts(window) -> None:  # type: ignore[no-untyped-def]
    """Imports at once what the curves need; a person would see it come a moment after the window."""
    from desktop.chart.curves import CurveCanvas

    for canvas in window.findChildren(CurveCanvas):
        canvas.load()


def _settle() -> None:
    """Lets layouts, queued answers and the chart's own short delay run out."""
    from PySide6.QtCore import QEventLoop, QTimer

    loop = QEventLoop()
    QTimer.singleShot(SETTLE_MS, loop.quit)
    loop.exec()
