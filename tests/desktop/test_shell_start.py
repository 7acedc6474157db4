# SPDX-License-Identifier: MIT
"""The program started as a person starts it, in a process of its own."""

import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from PySide6.QtGui import QImage

from db import Book, make_demo
from desktop.instance import Instance, hand_over
from perfumery import Strip

ROOT = Path(__file__).parents[2]
HEAVY = ("numpy", "matplotlib", "scipy", "openpyxl", "PIL", "serial", "sqlalchemy")
PAGES = (
    "bench", "bench-smelling", "first", "fault", "shelf", "shelf-delivery", "weigh", "weigh-line", "smell", "smell-figures",
    "smell-blind-tests", "smell-words", "compare", "compare-tree", "compare-limits", "compare-where-used",
    "compare-again-today", "compare-series",
    "help", "help-sums", "shortcuts", "about", "backups",
)  # fmt: skip


def environment(home: Path) -> dict[str, str]:
    """Folders of its own, no screen."""
    private = {name: str(home / name.lower()) for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")}
    runtime = home / "run"
    runtime.mkdir(mode=0o700, exist_ok=True)
    more = {"QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT), "HOME": str(home), "XDG_RUNTIME_DIR": str(runtime)}
    return os.environ | private | more


def run(code: str, home: Path, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code), *arguments],
        capture_output=True, text=True, timeout=80, env=environment(home), cwd=home,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_nothing_heavy_is_imported_before_the_first_paint(tmp_path: Path, clock) -> None:
    make_demo(tmp_path / "D.stillroom", clock).close()
    code = """
        import json, sys
        from desktop.__main__ import main
        from PySide6.QtCore import QTimer
        import desktop.window

        seen = {}
        class Seen(desktop.window.Window):
            def paintEvent(self, event):
                if "first paint" not in seen:
                    seen["first paint"] = sorted(sys.modules)
                    QTimer.singleShot(0, watch)
                super().paintEvent(event)
        desktop.window.Window = Seen

        def watch():
            from desktop.app import App
            opened = App._take_up
            def take_up(self, book):
                opened(self, book)
                seen["opened"] = book.name
                QTimer.singleShot(0, self.window.close)
            App._take_up = take_up
        code = main(sys.argv[1:])
        assert code == 0
        print(json.dumps(seen))
    """
    seen = json.loads(run(code, tmp_path, str(tmp_path / "D.stillroom")))
    assert [m for m in seen["first paint"] if m.split(".")[0] in HEAVY] == []
    assert {"desktop.pages.bench.page", "desktop.notices", "desktop.notice_bus"}.isdisjoint(seen["first paint"])
    assert seen["opened"]


def test_importing_the_program_leaves_pythons_own_import_in_place(tmp_path: Path) -> None:
    code = """
        import builtins, sys, types
        own = builtins.__import__
        drawn = types.SimpleNamespace(draw=lambda folder, book: print(builtins.__import__ is own) or 0)
        sys.modules["desktop.pictures"] = drawn
        from desktop.__main__ import main
        sys.exit(main(["--pictures", "x"]))
    """
    assert run(code, tmp_path).strip() == "True"


def test_pictures_of_every_page_without_touching_the_book(tmp_path: Path, clock) -> None:
    path = tmp_path / "D.stillroom"
    make_demo(path, clock).close()
    before = path.read_bytes()
    command = [sys.executable, "-m", "desktop", str(path), "--pictures", str(tmp_path / "out")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=90, env=environment(tmp_path), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert path.read_bytes() == before
    wanted = {
        f"{page}-{theme}-{size}@1.png" for page in PAGES for theme in ("light", "dark") for size in ("1280x800", "1920x1080")
    }
    assert {file.name for file in (tmp_path / "out").iterdir()} == wanted
    for name in wanted:
        picture = QImage(str(tmp_path / "out" / name))
        width, height = name.split("-")[-1].split("@")[0].split("x")
        assert (picture.width(), picture.height()) == (int(width), int(height)), name
        # the corner of the menu bar is the window's ground
        assert (picture.pixelColor(picture.width() - 2, 2).lightness() > 128) == ("-light-" in name), name
    bench = QImage(str(tmp_path / "out" / "bench-light-1280x800@1.png"))
    colours = {bench.pixelColor(x, y).rgb() for x in range(700, 1060, 3) for y in range(200, 640, 3)}
    assert len(colours) > 40, "there are no curves in the picture"


def test_pictures_need_no_book(tmp_path: Path) -> None:
    code = """
        import sys
        from pathlib import Path
        from db import Book
        from desktop import pictures
        from desktop.widgets.due_line import due_items
        home = Path(sys.argv[1])
        path, now = pictures._studio(home)
        with Book.open(path, lambda: now) as book:
            print(" | ".join(item.whole for item in due_items(book, now)))
    """
    said = run(code, tmp_path, str(tmp_path)).strip().replace("\u2009", " ")
    assert said == "P19 2 h, 41 min late | P20 8 h in 12 min | Shelf 1 re-test due"


def test_pictures_of_what_is_no_book_say_so(tmp_path: Path) -> None:
    (tmp_path / "x.txt").write_text("no book " * 50)
    command = [sys.executable, "-m", "desktop", "x.txt", "--pictures", "out"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, env=environment(tmp_path), cwd=tmp_path)
    assert done.returncode == 1 and "not a Stillroom book" in done.stderr


def test_second_start_hands_its_book_to_the_first(qapp, qtbot, tmp_path: Path) -> None:
    name = f"stillroom-test-{os.getpid()}"
    assert not hand_over(name, None)
    first = Instance(name)
    assert first.is_listening
    code = """
        import sys
        from pathlib import Path
        from PySide6.QtCore import QCoreApplication
        from desktop.instance import hand_over
        app = QCoreApplication([])
        sys.exit(0 if hand_over(sys.argv[1], Path(sys.argv[2])) else 1)
    """
    second = subprocess.Popen([sys.executable, "-c", textwrap.dedent(code), name, str(tmp_path / "Ä b.stillroom")],
                              env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    with qtbot.waitSignal(first.asked, timeout=20_000) as told:
        pass
    assert told.args == [tmp_path / "Ä b.stillroom"]
    qtbot.waitUntil(lambda: second.poll() is not None, timeout=20_000)
    assert second.returncode == 0
    first.close()
    assert not hand_over(name, None)


def test_a_book_that_the_system_hands_over_by_an_event_is_taken(tmp_path: Path) -> None:
    code = """
        import sys
        from PySide6.QtGui import QFileOpenEvent
        from desktop.instance import Program
        app = Program([])
        told = []
        app.sendEvent(app, QFileOpenEvent(sys.argv[1]))
        app.opened.connect(told.append)
        app.sendEvent(app, QFileOpenEvent(sys.argv[2]))
        print(*told, app.wanted, sep="|")
    """
    said = run(code, tmp_path, "/books/first one.stillroom", "/books/then.stillroom")
    assert said.strip() == "/books/then.stillroom|/books/then.stillroom"


def test_what_a_killed_program_left_behind_does_not_stop_the_next(qapp, qtbot) -> None:
    name = f"stillroom-killed-{os.getpid()}"
    code = """
        import os, sys
        from PySide6.QtCore import QCoreApplication
        from desktop.instance import Instance
        app = QCoreApplication([])
        held = Instance(sys.argv[1])
        assert held.is_listening
        os._exit(9)
    """
    subprocess.run([sys.executable, "-c", textwrap.dedent(code), name], env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=60)
    assert not hand_over(name, None)
    mine = Instance(name)
    assert mine.is_listening
    mine.close()


@pytest.mark.parametrize("call", ["label.setText(str(i))", "field.setText(str(i)); field.text()"])
def test_twenty_thousand_calls_into_qt_do_not_end_the_process(tmp_path: Path, call: str) -> None:
    """PySide6 6.12.0 loses a reference at each such call on Python 3.10 and 3.11, until the process dies."""
    code = f"""
        from PySide6.QtWidgets import QApplication, QLabel, QLineEdit
        app = QApplication([])
        label, field = QLabel(), QLineEdit()
        for i in range(20_000):
            {call}
        print("alive")
    """
    assert run(code, tmp_path).strip() == "alive"


def test_demo_strips_of_pictures_are_in_the_copy_only(tmp_path: Path, clock) -> None:
    from desktop import pictures

    path = tmp_path / "D.stillroom"
    make_demo(path, clock).close()
    copy, now = pictures._copied(path, _folder(tmp_path / "home"))
    with Book.open(copy, lambda: now) as book, Book.look(path) as look:
        assert [s.code for s in book.all(Strip)] == [s.code for s in look.all(Strip)]


def _folder(path: Path) -> Path:
    path.mkdir()
    return path
