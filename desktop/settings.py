# SPDX-License-Identifier: MIT
"""What this computer remembers of the person's own choices; nothing that belongs in the book.

Widths are kept by the key of a column or pane, never as Qt's own saved header state: that scrambles when a column is added.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QSettings

RECENT_AT_MOST = 8
NAME = "Stillroom"
# Whether a desktop notice tells what has come due.
TELL_DUE = "notices/due"


class Settings:
    """Typed access to the settings file; `path` names another file than the person's own."""

    def __init__(self, path: Path | None = None) -> None:
        ini = QSettings.Format.IniFormat
        self._store = (
            QSettings(ini, QSettings.Scope.UserScope, NAME, NAME) if path is None else QSettings(str(path), ini)
        )

    @property
    def file(self) -> str:
        """The path of the settings file."""
        return self._store.fileName()

    def text(self, key: str, default: str = "") -> str:
        """A text kept under a key."""
        return str(self._store.value(key, default) or default)

    def number(self, key: str, default: float) -> float:
        """A number kept under a key; the default where it is missing or unreadable."""
        try:
            return float(self._store.value(key, default))
        except (TypeError, ValueError):
            return default

    def flag(self, key: str, default: bool) -> bool:
        """A yes or no kept under a key."""
        return self.text(key, "yes" if default else "no") == "yes"

    def keep(self, key: str, value: str | float | bool) -> None:
        """Keeps a text, a number or a yes or no."""
        self._store.setValue(key, ("yes" if value else "no") if isinstance(value, bool) else value)

    def widths(self, view: str) -> dict[str, int]:
        """{column or pane key: width in px} last chosen in a view; empty where nothing was."""
        return {key: width for key, width in self._json(f"widths/{view}", {}).items() if isinstance(width, int)}

    def keep_widths(self, view: str, widths: Mapping[str, int]) -> None:
        """Keeps the widths of a view by key."""
        self._store.setValue(f"widths/{view}", json.dumps(dict(widths)))

    def columns(self, view: str) -> tuple[str, ...] | None:
        """The keys of the columns chosen in a view, in their order; None where the person chose nothing."""
        chosen = self._json(f"columns/{view}", None)
        return None if chosen is None else tuple(str(key) for key in chosen)

    def keep_columns(self, view: str, keys: Sequence[str]) -> None:
        """Keeps which columns a view shows, in order."""
        self._store.setValue(f"columns/{view}", json.dumps(list(keys)))

    @property
    def recent(self) -> tuple[Path, ...]:
        """The books opened last, newest first."""
        return tuple(Path(path) for path in self._json("book/recent", []))

    def opened(self, path: Path) -> None:
        """Puts a book first among the recent ones; it is the one opened at the next start."""
        kept = [path, *(other for other in self.recent if other != path)][:RECENT_AT_MOST]
        self._store.setValue("book/recent", json.dumps([str(other) for other in kept]))
        self._store.setValue("book/last", str(path))

    def forget(self, path: Path) -> None:
        """Takes a book off the recent ones."""
        self._store.setValue("book/recent", json.dumps([str(other) for other in self.recent if other != path]))
        if self.last_book == path:
            self.closed()

    @property
    def last_book(self) -> Path | None:
        """The book that was open when the program was left."""
        text = self.text("book/last")
        return Path(text) if text else None

    def closed(self) -> None:
        """Notes that no book is open, so that the next start shows the first page."""
        self._store.remove("book/last")

    @property
    def geometry(self) -> QByteArray:
        """The main window's kept geometry; empty before the first time."""
        value = self._store.value("window/geometry")
        return value if isinstance(value, QByteArray) else QByteArray()

    def keep_geometry(self, geometry: QByteArray) -> None:
        """Keeps the main window's geometry."""
        self._store.setValue("window/geometry", geometry)

    def write(self) -> None:
        """Writes to the disk now."""
        self._store.sync()

    def _json(self, key: str, default: Any) -> Any:
        try:
            value = json.loads(self.text(key) or "null")
        except ValueError:
            return default
        return value if isinstance(value, type(default)) or default is None else default
