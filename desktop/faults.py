# SPDX-License-Identifier: MIT
"""Faults of the program itself: caught, written to the log, and told once, quietly, with a report to copy. Nothing is sent."""

from __future__ import annotations

import contextlib
import faulthandler
import logging
import os
import platform
import sys
import threading
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType
from typing import IO

LOG_BYTES = 500_000
REPORT_LINES = 60
_log = logging.getLogger("stillroom")


def log_folder() -> Path:
    """The folder for log files where this system keeps the state of programs."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Logs"
    else:
        base = Path(os.environ.get("XDG_STATE_HOME") or home / ".local" / "state")
    return base / "stillroom"


class Faults:
    """Catches what nothing else caught, in every thread. `told` is called with one line for each; from any thread."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = log_folder() if folder is None else folder
        self.told: Callable[[str], None] | None = None
        self.last = ""
        self._crash: IO[str] | None = None
        self._handler: logging.Handler | None = None

    @property
    def file(self) -> Path:
        """The log file."""
        return self.folder / "stillroom.log"

    def install(self) -> None:
        """Opens the log and takes over the hooks. Where the folder cannot be written the program runs without a log."""
        sys.excepthook = self._on_exception
        threading.excepthook = lambda args: self._on_exception(
            args.exc_type, args.exc_value or args.exc_type(), args.exc_traceback
        )
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            self._crash = (self.folder / "crash.log").open("a", encoding="utf-8")
            self._handler = RotatingFileHandler(self.file, maxBytes=LOG_BYTES, backupCount=2, encoding="utf-8")
        except OSError:
            with contextlib.suppress(OSError, RuntimeError, ValueError):  # a windowed program may have no stderr
                faulthandler.enable()
            return
        faulthandler.enable(self._crash)
        self._handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
        logging.getLogger().addHandler(self._handler)
        _log.setLevel(logging.INFO)

    def remove(self) -> None:
        """Gives the hooks back and closes the files."""
        sys.excepthook = sys.__excepthook__
        threading.excepthook = threading.__excepthook__
        faulthandler.disable()
        if self._handler is not None:
            logging.getLogger().removeHandler(self._handler)
            self._handler.close()
        if self._crash is not None:
            self._crash.close()
        self._handler = self._crash = None

    def report(self, about: str = "") -> str:
        """What a person can send of their own accord to get help: versions, the last fault, the end of the log."""
        from PySide6 import __version__ as pyside
        from PySide6.QtCore import qVersion
        from PySide6.QtGui import QGuiApplication

        head = (
            f"Stillroom {program_version()} on {platform.platform()}",
            f"Python {platform.python_version()}, PySide6 {pyside}, Qt {qVersion()}, {QGuiApplication.platformName()}",
            f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC",
        )
        parts = ["\n".join(head), about, self.last, "End of the log:\n" + self._tail()]
        return "\n\n".join(part for part in parts if part) + "\n"

    def _tail(self) -> str:
        try:
            lines = self.file.read_text(encoding="utf-8", errors="replace").splitlines()
        except OSError:
            return "(there is no log)"
        return "\n".join(lines[-REPORT_LINES:])

    def _on_exception(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, trace)
            return
        self.last = "".join(traceback.format_exception(kind, error, trace))
        _log.error("%s", self.last)
        if sys.stderr is not None:
            sys.__excepthook__(kind, error, trace)
        if self.told is not None:
            self.told(f"{kind.__name__}: {error}")


def program_version() -> str:
    """The version of this program; 'from source' where it runs from its folder without being installed."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("stillroom")
    except PackageNotFoundError:
        return "from source"
