# SPDX-License-Identifier: MIT
"""Works with the built program as a person does, by keys on a screen of its own: the demo studio is made, edited, closed and
opened again by its file, and the edit is there. `stillroom` is what the path finds; HOME is empty.

Nothing here waits a fixed time: each step waits for what it must bring about, and ends the walk where that does not come.
"""

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

PATIENCE_S = 20
# The book that is edited, and a second one.
BOOK = Path.home() / "Documents" / "Demo studio.stillroom"
OTHER = Path.home() / "a book under another name"
# The version that the demo studio shows first is frozen: what is typed into it makes the next one.
BEFORE, AFTER = "SR-4", "SR-6"
TYPED, NAME, PARTS = "lemon 7", "Lemon oil", 7.0


def soon(look: Callable[[], Any], seconds: float) -> Any:
    """What `look` gives once it is true, or when the time is over."""
    end = time.monotonic() + seconds
    while not (found := look()) and time.monotonic() < end:
        time.sleep(0.02)
    return found


def until(what: str, look: Callable[[], Any]) -> Any:
    """What `look` gives once it is true; ends the walk where it does not come."""
    found = soon(look, PATIENCE_S)
    if not found:
        raise SystemExit(f"smoke: {what}: not within {PATIENCE_S} s. The windows are {list(windows().values())}")
    return found


def said(*command: str) -> str:
    """What a command prints; nothing where it fails."""
    return subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True).stdout.strip()


def windows() -> dict[str, str]:
    """{window: title} of the program's windows on the screen."""
    found = said("xdotool", "search", "--onlyvisible", "--class", "stillroom").split()
    return {window: title for window in found if (title := said("xdotool", "getwindowname", window))}


def titled(part: str) -> str:
    """The window with this in its title; "" where there is none."""
    return next((window for window, title in windows().items() if part in title), "")


def in_front(part: str) -> str:
    """The window with this in its title, once it has the keyboard."""
    found = titled(part)
    return found if found and said("xdotool", "getactivewindow") == found else ""


def taken_up(part: str) -> str:
    """The window with this in its title, put in front as a person would who finds it behind."""
    found = titled(part)
    if found and not in_front(part):
        said("xdotool", "windowactivate", found)
    return in_front(part)


def press(*keys: str) -> None:
    """Presses keys in the window in front."""
    subprocess.run(["xdotool", "key", "--delay", "30", *keys], check=True)


def ended(program: "subprocess.Popen[bytes]") -> None:
    """Waits for a program to end, as it should."""
    until("the program ends", lambda: program.poll() is not None)
    if program.returncode:
        raise SystemExit(f"smoke: the program ended with {program.returncode}")


@contextmanager
def screen() -> Iterator[None]:
    """A screen with a window manager."""
    reading, writing = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp"],
        pass_fds=[writing], stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(writing)
    try:
        with open(reading) as number:
            os.environ["DISPLAY"] = f":{number.readline().strip()}"
        ready = Path.home() / "managed"
        manager = subprocess.Popen(
            ["openbox", "--sm-disable", "--startup", f"touch '{ready}'"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        try:
            until("a window manager", ready.exists)
            yield
        finally:
            manager.terminate()
            manager.wait()
    finally:
        server.terminate()
        server.wait()


def read(book: Path, version: str) -> dict[str, Any]:
    """A version of a closed book, read by the source tree; {} while the book is held."""
    told = said(sys.executable, "-m", "db", "show", str(book), version, "--json")
    return json.loads(told) if told else {}


def make_and_edit() -> None:
    """The first start: the demo studio is made from the first page, and a line typed into its formula."""
    began = time.monotonic()
    program = subprocess.Popen(["stillroom"])
    until("the first page", lambda: taken_up("Stillroom"))
    print(f"first start: window after {time.monotonic() - began:.1f} s")
    for _ in range(3):
        # Book menu: Demo studio puts the focus on its button. The window stands before its menus are answered.
        press("Escape", "alt+b", "Down", "Down", "Down", "Return", "space")
        if soon(BOOK.exists, 6):
            break
    until("the demo studio", lambda: taken_up(BEFORE))
    press("ctrl+l")
    subprocess.run(["xdotool", "type", "--delay", "30", TYPED], check=True)
    press("Return")
    until("a version of its own for the typed line", lambda: taken_up(AFTER))
    press("Escape", "ctrl+q")
    ended(program)
    in_file()


def in_file() -> None:
    """The typed line stands in the book."""
    rows = until("a closed book", lambda: read(BOOK, AFTER))["rows"]
    assert [row for row in rows if row["name"] == NAME and row["parts"] == PARTS], rows


def open_by_its_file() -> None:
    """As a double click does: the desktop knows the file for a book and what opens it. Then every page is shown."""
    kind = said("gio", "info", "-a", "standard::content-type", str(OTHER))
    assert "application/x-stillroom" in kind, f"a book is known by its content, but: {kind}"
    began = time.monotonic()
    subprocess.run(["gio", "open", str(BOOK)], check=True)
    until("the book as it was left", lambda: taken_up(AFTER))
    print(f"opened by its file: the book on screen after {time.monotonic() - began:.1f} s")
    press("ctrl+2", "ctrl+3", "ctrl+4", "ctrl+5", "F1", "ctrl+1")


def start_again() -> None:
    """A second start ends, and the first window comes up with the book that was named."""
    subprocess.run(["xdotool", "windowminimize", titled(AFTER)], check=True)
    until("a minimised window", lambda: not titled(AFTER))
    ended(subprocess.Popen(["stillroom", OTHER.name], cwd=OTHER.parent))
    until("the first window with the other book, in front", lambda: in_front(BEFORE))
    assert len(windows()) == 1, windows()
    press("ctrl+q")
    until("the end", lambda: not windows())
    in_file()


def main() -> None:
    """The whole walk; what the program noted as a fault ends it too."""
    subprocess.run([sys.executable, "-m", "db", "demo", str(OTHER)], check=True, stdout=subprocess.DEVNULL)
    with screen():
        make_and_edit()
        open_by_its_file()
        start_again()
    log = (Path.home() / ".local/state/stillroom/stillroom.log").read_text(encoding="utf-8")
    assert " ERROR " not in log, log
    print("the demo studio was made, edited, closed and opened again, and the edit is there")


if __name__ == "__main__":
    main()
