# SPDX-License-Identifier: MIT
"""Every fault of a book's file, tried in the running window on real files: full disks, files taken away, broken, foreign.

What is asked of each: a sentence that says what happened and what to do, nothing lost that was in the book, and what was being
typed still there.
"""

import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QFileDialog, QLabel, QLineEdit, QPushButton

from db import Book, make_demo, steps
from desktop.app import App
from perfumery import Bottle, Line, Material, Strip, Version

ROOT = Path(__file__).parents[2]
Key = Qt.Key
is_root = pytest.mark.skipif(
    sys.platform != "linux" or os.geteuid() != 0, reason="small disks are mounted, and rights given up, by root"
)


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("faults") / "D.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture
def path(tmp_path: Path, studio_bytes: bytes) -> Path:
    folder = tmp_path / "book"
    folder.mkdir()
    (folder / "D.stillroom").write_bytes(studio_bytes)
    return folder / "D.stillroom"


@contextmanager
def small_disk(at: Path, megabytes: int) -> Iterator[Path]:
    at.mkdir()
    size = f"size={megabytes}m"
    if subprocess.run(["mount", "-t", "tmpfs", "-o", size, "small", str(at)], capture_output=True).returncode:
        pytest.skip("no file system may be mounted here")
    try:
        yield at
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    with small_disk(tmp_path / "disk", 2) as at:
        yield at


def fill(disk: Path, but: int = 0) -> Path:
    """Fills a disk, but for some octets."""
    filler = disk / "filler"
    free = shutil.disk_usage(disk).free - but
    with filler.open("wb", buffering=0) as file:
        try:
            for _ in range(free // 4096):
                file.write(bytes(4096))
        except OSError:
            pass
    return filler


@contextmanager
def nobody(*open_to_all: Path) -> Iterator[None]:
    """This process without root's rights, so that the file system asks."""
    modes = [(folder, folder.stat().st_mode) for path in open_to_all for folder in (path, *path.parents) if folder.is_dir()]
    for folder, mode in modes:
        if folder not in open_to_all and not mode & 0o001:
            folder.chmod(mode | 0o055)
    os.setresgid(65534, 65534, 0)
    os.setresuid(65534, 65534, 0)
    try:
        yield
    finally:
        os.setresuid(0, 0, 0)
        os.setresgid(0, 0, 0)
        for folder, mode in modes:
            folder.chmod(mode)


def words_of_fault(app: App) -> str:
    assert app.window.pages.currentWidget() is app.window.fault
    return "\n".join(one.text() for one in app.window.fault.findChildren(QLabel))


def ways(app: App) -> list[str]:
    return [button.text() for button in app.window.fault.buttons]


def first_line(hand) -> tuple[str, Line]:
    """A line of the formula with parts of its own, and its name on screen; the version is a draft that may be edited."""
    model = hand.app.window.bench.formula.model
    row = next(row for row in model.rows if row.line is not None and row.place is not None and not row.line.fill_up)
    return row.name, row.line


def open_draft(hand, path: Path, clock) -> Version:
    """Opens a book at a draft that was made before: what was written since it was opened would keep its journal open, and the
    first edit is the one that needs room and rights."""
    with Book.open(path, clock) as book:
        frozen = next(version for version in book.all(Version) if version.is_frozen and len(version.lines) > 5)
        (made,) = book.put(book.draft_of(frozen.key), what="draft")
    assert hand.app.open_book(path)
    hand.app.session.choose_version(made.key)
    QApplication.processEvents()
    return made


def type_parts(hand, name: str, text: str) -> None:
    grid = hand.app.window.bench.formula.grid
    grid.setFocus()
    hand.to_cell(name, "parts")
    hand.press(Key.Key_F2)
    QApplication.focusWidget().selectAll()
    hand.type(text)
    hand.press(Key.Key_Return)


def said(hand) -> str:
    return hand.app.window.notice.text


def parts_in(path: Path, version: int, clock) -> list[float]:
    with Book.open(path, clock) as book:
        assert book.check() == ()
        return [line.parts for line in book.get(Version, version).lines]


# the disk is full -------------------------------------------------------------------------------------------------------


@is_root
def test_full_disk_while_typing(hand, disk: Path, studio_bytes: bytes, clock) -> None:
    path = disk / "D.stillroom"
    path.write_bytes(studio_bytes)
    version = open_draft(hand, path, clock)
    name, line = first_line(hand)
    filler = fill(disk)
    type_parts(hand, name, "77.5")
    assert "No room is left" in said(hand) and str(path) in said(hand)
    formula = hand.app.window.bench.formula
    assert "77.5" in formula.wrong.text() and formula.wrong.isVisible()
    assert hand.cell(name, "parts") == "77.5"
    assert line.parts in [one.parts for one in hand.app.book.get(Version, version.key).lines]

    # a new line, typed into the entry row
    hand.press(Key.Key_L, Qt.KeyboardModifier.ControlModifier)
    hand.type("linalool 12")
    hand.press(Key.Key_Return)
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit) and editor.text() == "linalool 12"
    assert len(hand.version.lines) == len(version.lines)

    filler.unlink()
    hand.press(Key.Key_Return)
    hand.qtbot.waitUntil(lambda: len(hand.version.lines) == len(version.lines) + 1)
    hand.press(Key.Key_Escape)
    type_parts(hand, name, "77.5")
    assert hand.cell(name, "parts") == "77.5" and not formula.wrong.isVisible()
    hand.app.close_book()
    kept = parts_in(path, version.key, clock)
    assert 77.5 in kept and 12 in kept and len(kept) == len(version.lines) + 1
    assert [file.name for file in disk.iterdir() if file.is_file()] == ["D.stillroom"]


@is_root
def test_full_disk_for_demo_copy_export_and_backup(hand, tmp_path: Path, disk: Path, path: Path, clock) -> None:
    app = hand.app
    fill(disk, but=60_000)
    names = sorted(file.name for file in disk.iterdir())
    app.window.first.keep_in(disk)
    app.window.first.demo.click()
    assert app.book is None and "No room is left" in app.window.first.wrong.text()
    assert app.window.first.wrong.isVisible()
    app.window.first.make.click()
    assert app.book is None and "No room is left" in app.window.first.wrong.text()
    assert sorted(file.name for file in disk.iterdir()) == names

    assert app.open_book(path)
    for call in (lambda: app.files.save_copy(disk / "copy.stillroom"), lambda: app.files.export(disk / "out")):
        app.window.notice.clear()
        call()
        hand.qtbot.waitUntil(lambda: app.window.notice.text != "", timeout=20_000)
        assert "No room is left" in said(hand) and str(disk) in said(hand), said(hand)
        assert sorted(file.name for file in disk.iterdir()) == names
    assert len(list(app.book.all(Material))) > 10


@is_root
def test_full_disk_for_the_regular_backup(hand, disk: Path, studio_bytes: bytes) -> None:
    path = disk / "D.stillroom"
    path.write_bytes(studio_bytes)
    assert hand.app.open_book(path)
    fill(disk, but=20_000)
    hand.app._look_after(hand.app.book)
    hand.qtbot.waitUntil(lambda: said(hand) != "")
    assert said(hand).startswith("No backup could be made. No room is left")
    assert not Book.backups_of(path)


@is_root
def test_full_disk_for_a_table_and_a_pdf(hand, disk: Path, path: Path, monkeypatch) -> None:
    assert hand.app.open_book(path)
    fill(disk)
    names = sorted(file.name for file in disk.iterdir())
    for ending in (".csv", ".xlsx"):
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, e=ending: (str(disk / f"Materials{e}"), ""))
        hand.app.window.notice.clear()
        hand.app.window.commands["export_materials"].trigger()
        hand.qtbot.waitUntil(lambda: said(hand) != "")
        assert f"Materials{ending}" in said(hand) and "No room is left" in said(hand), said(hand)
        assert sorted(file.name for file in disk.iterdir()) == names
    hand.app.session.choose_version(next(v.key for v in hand.app.book.all(Version) if v.code == "SR-4"))
    side = hand.app.window.show_page("compare").show_view("side by side")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(disk / "Compare.pdf"), ""))
    hand.app.window.notice.clear()
    next(action for action in side.actions() if action.text().startswith("Save the comparison")).trigger()
    hand.qtbot.waitUntil(lambda: said(hand) != "")
    assert "Compare.pdf" in said(hand) and "No room is left" in said(hand), said(hand)
    assert sorted(file.name for file in disk.iterdir()) == names


# no right ---------------------------------------------------------------------------------------------------------------


@is_root
def test_folder_that_becomes_read_only_while_typing(hand, path: Path, clock) -> None:
    version = open_draft(hand, path, clock)
    name, _ = first_line(hand)
    path.parent.chmod(0o555)
    with nobody(path.parent):
        type_parts(hand, name, "66.5")
    path.parent.chmod(0o755)
    assert "cannot be written" in said(hand) and str(path) in said(hand)
    assert hand.cell(name, "parts") == "66.5" and "66.5" in hand.app.window.bench.formula.wrong.text()
    type_parts(hand, name, "66.5")
    hand.app.close_book()
    assert 66.5 in parts_in(path, version.key, clock)


@is_root
@pytest.mark.parametrize("what", ["file", "folder"])
def test_read_only_book_says_so_and_can_be_looked_at(hand, path: Path, tmp_path: Path, what: str, monkeypatch) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir(mode=0o777)
    scratch.chmod(0o777)
    monkeypatch.setattr("tempfile.tempdir", str(scratch))
    path.chmod(0o444)
    path.parent.chmod(0o777 if what == "file" else 0o555)
    before = path.read_bytes()
    with nobody(path.parent, scratch):
        hand.app.window.first.open_wanted.emit(path)
        assert "read-only" in words_of_fault(hand.app) and "copy the book to a folder of your own" in words_of_fault(hand.app)
        look = next(b for b in hand.app.window.fault.buttons if b.text().startswith("Look at it"))
        look.click()
        assert hand.app.book is not None and hand.app.book.read_only
        name, _ = first_line(hand)
    assert name and path.read_bytes() == before and [one.name for one in path.parent.iterdir()] == [path.name]
    path.chmod(0o644)
    path.parent.chmod(0o755)


# gone, replaced ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["removed", "replaced", "folder gone"])
def test_file_taken_away_under_the_open_book(hand, path: Path, tmp_path: Path, clock, how: str) -> None:
    version = open_draft(hand, path, clock)
    name, line = first_line(hand)
    aside, other = tmp_path / "aside", b"something else entirely"
    if how == "removed":
        path.rename(aside)
    elif how == "replaced":
        path.rename(aside)
        path.write_bytes(other)
    else:
        path.parent.rename(aside)
    type_parts(hand, name, "55.5")
    assert str(path) in said(hand) and "moved" in said(hand), said(hand)
    assert "Bring it back" in said(hand) or "copy" in said(hand)
    assert hand.cell(name, "parts") == "55.5"
    if how == "replaced":
        assert path.read_bytes() == other
    # all that was in the book can still be brought to safety
    safe = tmp_path / "safe.stillroom"
    hand.app.files.save_copy(safe)
    hand.qtbot.waitUntil(safe.is_file)
    hand.qtbot.waitUntil(lambda: "checked copy" in said(hand))
    hand.app.close_book()
    assert line.parts in parts_in(safe, version.key, clock)


def test_file_that_comes_back_is_gone_on_with(hand, path: Path, tmp_path: Path, clock) -> None:
    version = open_draft(hand, path, clock)
    name, _ = first_line(hand)
    path.rename(tmp_path / "aside")
    type_parts(hand, name, "44.5")
    (tmp_path / "aside").rename(path)
    type_parts(hand, name, "44.5")
    assert not hand.app.window.bench.formula.wrong.isVisible()
    hand.app.close_book()
    assert 44.5 in parts_in(path, version.key, clock)


# the clock --------------------------------------------------------------------------------------------------------------


def test_clock_set_back_between_readings_and_backups(hand, path: Path, clock) -> None:
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    app = hand.app
    version = open_draft(hand, path, clock)
    name, _ = first_line(hand)
    type_parts(hand, name, "33.5")
    first = app.book.backup_now()
    clock.tick(hours=-5)
    app.session.ticked.emit(app.book.now())
    type_parts(hand, name, "34.5")
    second = app.book.backup_now()
    assert first is not None and second is not None and first != second and first.is_file() and second.is_file()
    assert app.book.check() == ()
    app.close_book()
    assert 34.5 in parts_in(path, version.key, clock)
    for backup, parts in ((first, 33.5), (second, 34.5)):
        with Book.look(backup, clock) as look:
            assert parts in [line.parts for line in look.get(Version, version.key).lines]


def test_clock_set_back_between_two_readings_of_a_strip(hand, path: Path, clock) -> None:
    """The second would be from before the dip: it is refused beside its field, what was typed stays, and is kept by the hour."""
    with Book.open(path, clock) as book:
        vial = next(book.get(Bottle, strip.bottle) for strip in book.all(Strip) if strip.kind == "paper")
        clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
        (strip,) = book.put(Strip("P77", vial.key, clock(), strength=0.12, reading_times=(120.0, 900.0, 3600.0)))
    app = hand.app
    assert app.open_book(path)
    pane = app.window.bench.strips

    def read(intensity: str) -> None:
        pane.read_strip(strip.key)
        pane.reading.intensity.setFocus()
        hand.type(intensity)

    hand.wait(minutes=2)
    read("5")
    assert pane.reading.keep()
    hand.wait(hours=-5)
    read("4.5")
    assert not pane.reading.keep() and pane.reading.intensity.text() == "4.5"
    assert app.book.readings((strip.key,))[strip.key][0].intensity == 5 and len(app.book.readings((strip.key,))[strip.key]) == 1
    hand.wait(hours=5, minutes=13)
    assert pane.reading.keep()
    assert [reading.intensity for reading in app.book.readings((strip.key,))[strip.key]] == [5, 4.5]
    assert app.book.check() == ()


# locked -----------------------------------------------------------------------------------------------------------------

HOLD = """
import sys
from db import Book
with Book.open(sys.argv[1]):
    print("open", flush=True)
    sys.stdin.read()
"""


def test_book_that_another_process_holds(hand, path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, path], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout.readline() == "open\n"
        hand.app.window.first.open_wanted.emit(path)
        told = words_of_fault(hand.app)
        assert f"{socket.gethostname()} ({other.pid})" in told and "Close it there" in told
        assert ways(hand.app)[0] == "Try again" and "Nobody has it open" not in " ".join(ways(hand.app))
        other.stdin.close()
        other.wait(20)
    hand.app.window.fault.buttons[0].click()
    assert hand.app.book is not None and hand.app.book.path == path


# newer, damaged, foreign ------------------------------------------------------------------------------------------------


def _newer(path: Path) -> None:
    with path.open("rb+") as file:
        file.seek(60)
        file.write((steps.KNOWN + 7).to_bytes(4, "big"))


def _noise(at: Callable[[int], int], much: int) -> Callable[[Path], None]:
    def break_(path: Path) -> None:
        with path.open("rb+") as file:
            file.seek(at(path.stat().st_size))
            file.write(bytes((one * 37 + 11) % 251 for one in range(much)))

    return break_


def _cut(path: Path) -> None:
    with path.open("rb+") as file:
        file.truncate(path.stat().st_size // 2)


def _other_database(path: Path) -> None:
    path.unlink()
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE shopping (what)")
    raw.commit()
    raw.close()


def _folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _picture(path: Path) -> None:
    shutil.copyfile(next((ROOT / "resources").rglob("*.png")), path)


def _altered(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE spy (what)")
    raw.commit()
    raw.close()


BROKEN: dict[str, tuple[Callable[[Path], None], tuple[str, ...]]] = {
    "newer": (_newer, ("needs a newer Stillroom", str(steps.KNOWN + 7), "Update Stillroom")),
    "cut short": (_cut, ("damaged", "backup")),
    "noise in the structure": (_noise(lambda size: 100, 900), ("damaged", "backup")),
    "noise at the head": (_noise(lambda size: 0, 4096), ("not a book", "Choose another file")),
    "altered": (_altered, ("changed by another program", "spy")),
    "text": (lambda path: path.write_text("Dear reader, this is a letter. " * 60) and None, ("not a book",)),
    "another database": (_other_database, ("not a book",)),
    "empty": (lambda path: path.write_bytes(b"") and None, ("not a book",)),
    "folder": (_folder, ("not a book",)),
    "picture": (_picture, ("not a book",)),
}


def _state(path: Path) -> object:
    return sorted(one.name for one in path.iterdir()) if path.is_dir() else path.read_bytes()


@pytest.mark.parametrize("fault", BROKEN)
def test_file_that_cannot_be_opened_is_told_apart_and_left_alone(hand, path: Path, fault: str) -> None:
    break_, words = BROKEN[fault]
    break_(path)
    before, app = _state(path), hand.app
    # by the first page's file, by a recent book, by a second start
    roads: tuple[Callable[[], object], ...] = (
        lambda: app.window.first.open_wanted.emit(path),
        lambda: _click_recent(app, path),
        lambda: app.open_book(path),
    )
    for road in roads:
        app.show_begin()
        road()
        if app.window.pages.currentWidget() is app.window.first:
            assert path.is_dir(), "only what is no file is not offered again"
            continue
        told = words_of_fault(app)
        assert all(word in told for word in words), told
        assert str(path) in told and app.book is None
        assert _state(path) == before and [one.name for one in path.parent.iterdir()] == [path.name]
        assert "Choose another book" in ways(app)


def _click_recent(app: App, path: Path) -> None:
    app._settings.opened(path)
    app.show_begin()
    button = next(b for b in app.window.first.findChildren(QPushButton) if b.accessibleName() == f"Open {path.stem}")
    button.click()


def test_page_of_noise_is_found_and_everything_else_read(hand, path: Path) -> None:
    """A page in the middle is met only when it is read: the check says so, and the window stands."""
    _noise(lambda size: size // 2 // 4096 * 4096, 4096)(path)
    before, app = path.read_bytes(), hand.app
    if not app.open_book(path):
        assert "damaged" in words_of_fault(app) and path.read_bytes() == before
        return
    app.files.check_book()
    hand.qtbot.waitUntil(lambda: said(hand) != "")
    assert "cannot be read" in said(hand) and "backup" in said(hand), said(hand)


# the process ------------------------------------------------------------------------------------------------------------


def _environment(home: Path) -> dict[str, str]:
    private = {name: str(home / name.lower()) for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")}
    runtime = home / "run"
    runtime.mkdir(mode=0o700, exist_ok=True)
    more = {"QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT), "HOME": str(home), "XDG_RUNTIME_DIR": str(runtime)}
    return os.environ | private | more


TYPING = """
    import sys
    from pathlib import Path
    from PySide6.QtCore import Qt, QTimer
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QApplication
    import desktop.__main__ as program
    import desktop.window

    class Typed(desktop.window.Window):
        def show_book(self, session, bench, others):
            super().show_book(session, bench, others)
            book = session.book
            (made,) = book.put(book.draft_of(session.version.key), what="draft")
            session.choose_version(made.key)
            self._at = 0
            print("draft", made.key, flush=True)
            QTimer.singleShot(400, self.type_one)

        def cell(self):
            model = self.bench.formula.model
            at = next(at for at, row in enumerate(model.rows) if row.place is not None and not row.line.fill_up)
            return model.rows[at].place, model.index(at, model.place_of("parts"))

        def type_one(self):
            self._at += 1
            self.type(self.bench.formula.grid, self.cell()[1], str(100 + self._at))
            QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
            QTimer.singleShot(20, self.type_next)

        def type_next(self):
            if self.session.version.lines[self.cell()[0]].parts == 100 + self._at:
                print("kept", 100 + self._at, flush=True)
            # the next is being typed when it ends
            self.type(self.bench.formula.grid, self.cell()[1], "9")
            QTimer.singleShot(20, self.give_up)

        def give_up(self):
            QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Escape)
            QTimer.singleShot(20, self.type_one)

        def type(self, grid, index, text):
            grid.setFocus()
            grid.setCurrentIndex(index)
            QTest.keyClicks(grid, text[0])
            QTest.keyClicks(QApplication.focusWidget(), text[1:])

    desktop.window.Window = Typed
    sys.exit(program.main(sys.argv[1:]))
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="a process is killed as a power cut does")
@pytest.mark.parametrize("after", [1, 4, 9])
def test_power_cut_while_typing_loses_nothing_that_was_kept(path: Path, tmp_path: Path, clock, after: int) -> None:
    command = [sys.executable, "-c", textwrap.dedent(TYPING), str(path)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=_environment(tmp_path), cwd=tmp_path
    ) as program:
        line = program.stdout.readline()
        assert line.startswith("draft "), line + program.stderr.read()
        version, kept = int(line.split()[1]), 0
        for _ in range(after):
            line = program.stdout.readline()
            assert line.startswith("kept "), line + program.stderr.read()
            kept = int(line.split()[1])
        program.kill()
        kept = max([kept, *(int(line.split()[1]) for line in program.stdout.read().splitlines() if line.startswith("kept "))])
        program.wait(20)
    parts = parts_in(path, version, clock)
    assert kept in parts or kept + 1 in parts
    assert [one.name for one in path.parent.iterdir() if one.is_file()] == [path.name]


OPENED = """
    import sys
    from PySide6.QtCore import QTimer
    import desktop.__main__ as program
    import desktop.window

    class Seen(desktop.window.Window):
        def show_book(self, session, bench, others):
            super().show_book(session, bench, others)
            print("opened", session.book.name, flush=True)
            session.edit("edit", __import__("perfumery").Material("typed with no settings"))
            self._theme.choose("dark")
            self._settings.keep("look/theme", "dark")
            QTimer.singleShot(0, self.close)

    desktop.window.Window = Seen
    sys.exit(program.main(sys.argv[1:]))
"""


def _started(path: Path, home: Path, **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", textwrap.dedent(OPENED), str(path)], capture_output=True, text=True, timeout=60,
        env=_environment(home), cwd=path.parent, **more,
    )  # fmt: skip


@is_root
def test_settings_and_log_on_a_full_disk(path: Path, tmp_path: Path, clock) -> None:
    with small_disk(tmp_path / "home", 1) as home:
        (home / "run").mkdir(mode=0o700)
        fill(home)
        done = _started(path, home)
    assert done.returncode == 0 and "opened" in done.stdout, done.stderr
    with Book.open(path, clock) as book:
        assert book.get(Material, "typed with no settings") is not None


@is_root
def test_settings_and_log_in_a_home_that_cannot_be_written(path: Path, tmp_path: Path, clock) -> None:
    with small_disk(tmp_path / "home", 1) as home:
        (home / "run").mkdir(mode=0o700)
        subprocess.run(["mount", "-o", "remount,ro", str(home)], check=True)
        done = _started(path, home)
    assert done.returncode == 0 and "opened" in done.stdout, done.stderr
    with Book.open(path, clock) as book:
        assert book.get(Material, "typed with no settings") is not None


def test_a_broken_book_by_command_line_gets_its_page(path: Path, tmp_path: Path) -> None:
    path.write_text("a letter " * 100)
    code = """
        import sys
        import desktop.__main__ as program
        from PySide6.QtCore import QTimer
        import desktop.window

        class Seen(desktop.window.Window):
            def show_fault(self):
                super().show_fault()
                print(self.fault.words, flush=True)
                QTimer.singleShot(0, self.close)

        desktop.window.Window = Seen
        sys.exit(program.main(sys.argv[1:]))
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(code), str(path)], capture_output=True, text=True, timeout=60,
                          env=_environment(tmp_path), cwd=tmp_path)  # fmt: skip
    assert done.returncode == 0 and "not a Stillroom book" in done.stdout, done.stderr
