# SPDX-License-Identifier: MIT
"""The papers of an export, made in a process of their own.

Text must not be laid out in a thread beside the screen: Qt asks a device made in Python for its resolution while it holds its
lock on fonts, and so waits for Python's lock; a screen that draws text holds that one and waits for the fonts. Both then stop for
ever.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from db import Book, BookError, Cancelled, Progress

# How the process ends where the disk or the rights of the place were the matter; then its last line is the system's number.
_FAULT = 3


def write(folder: Path, book: Book, progress: Progress = lambda done, of: True) -> None:
    """Writes the papers of a look into an exported folder. Raises OSError, Cancelled."""
    frozen = getattr(sys, "frozen", False)
    command = [sys.executable, *(() if frozen else ("-m", "desktop")), str(book.path), "--papers", str(folder)]
    # the window's platform may be one that only one process can have; a frozen program is told that it is no part of this one
    more = {"QT_QPA_PLATFORM": "offscreen", "PYINSTALLER_RESET_ENVIRONMENT": "1"}
    if not frozen:
        more["PYTHONPATH"] = str(Path(__file__).resolve().parents[1])
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ | more) as made:
        assert made.stdout is not None
        last = ""
        for line in made.stdout:
            last = line.strip()
            done, _, of = last.partition(" ")
            if of and not progress(int(done), int(of)):
                made.kill()
                raise Cancelled(folder)
    if made.returncode:
        number = int(last) if made.returncode == _FAULT and last.isdigit() else 5
        raise OSError(number, os.strerror(number), str(folder))


def main(folder: Path, book: Path) -> int:
    """What the process does: tells 'done of' on each line."""
    from PySide6.QtGui import QGuiApplication

    from desktop import export_pdf

    qt = QGuiApplication(sys.argv[:1])

    def tell(done: int, of: int) -> bool:
        return _say(f"{done} {of}")

    try:
        with Book.look(book) as look:
            export_pdf.write(folder, look, tell)
    except (BookError, OSError) as error:
        _say(str(getattr(error, "errno", None) or 5))
        return _FAULT
    qt.quit()
    return 0


def _say(line: str) -> bool:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()
    return True
