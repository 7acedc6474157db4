# SPDX-License-Identifier: MIT
"""What this computer remembers of the person's own choices; nothing that belongs in the book.

Widths are kept by the key of a column or pane, never as Qt's own saved header state: that scrambles when a column is added.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QSettings

from desktop.language import tr

RECENT_AT_MOST = 8
NAME = "Stillroom"
# Whether a desktop notice tells what has come due.
TELL_DUE = "notices/due"
# What a person was told of the place of a book, so that it is told once.
PLACE_TOLD = "place told/"


@dataclass(frozen=True, slots=True)
class Kept:
    """One thing that is remembered: what its key begins with, its name, what it does, and where it is chosen."""

    key: str
    name: str
    does: str
    where: str


# Nothing else can be kept: whoever remembers something new says here what it does, and the help shows it.
KEPT: tuple[Kept, ...] = (
    Kept("look/theme", tr("light or dark"), tr("Colours for a light or a dark room, or as the system has them."),
         tr("View menu: Light, Dark, Follow the system")),
    Kept("look/text", tr("text size"), tr("All text and everything that goes with it, from 0.8 to 2 times its normal size."),
         tr("View menu: Text larger, Text smaller, Text at its normal size")),
    Kept(TELL_DUE, tr("notices"), tr("Whether the desktop tells of a strip that comes due while another window is in front."),
         tr("View menu: Tell me outside the window when a strip is due")),
    Kept("bench/mode", tr("smelling widths"), tr("Whether the Bench gives its room to the formula or to the strips."),
         tr("View menu: Smelling widths")),
    Kept("bench/", tr("materials drawer"), tr("Whether the drawer is open, for composing and for smelling apart."),
         tr("View menu: Materials drawer")),
    Kept("strips/earlier figures", tr("earlier figures"), tr("Whether a strip's earlier figures are seen while it is read anew."),
         tr("Strips menu: Show earlier figures while reading")),
    Kept("weigh/every bottle", tr("code of every bottle"),
         tr("Whether each bottle's code is asked for before it is weighed from, or only where a material stands on the shelf in "
            "several strengths."),
         tr("Weigh, at the balance")),
    Kept("balance/", tr("balance"), tr("The balance that was chosen last, for each book."),
         tr("Weigh and Shelf, wherever something is weighed")),
    Kept("tolerance/", tr("tolerance"), tr("Above which error of its grams a line is too small for the balance, for each book."),
         tr("Weigh, before the first drop")),
    Kept("drops/", tr("drops to the ml"), tr("How many drops of a bottle make a ml, once you counted them."),
         tr("Weigh, at the balance: counting drops")),
    Kept("cable/", tr("balance on a cable"), tr("Port, speed and marks of a balance that is read by cable."),
         tr("Weigh, Balances: Read it by cable")),
    Kept("delivery/unbooked ", tr("unfinished delivery"), tr("What was typed of a delivery and is not booked yet."),
         tr("Shelf: Enter a delivery")),
    Kept("chosen/", tr("version on screen"), tr("The version that was shown last, for each book; it is shown again."),
         tr("by itself")),
    Kept(PLACE_TOLD, tr("place of the book"),
         tr("That you were told that a book lies in a synchronised folder or on a network share."),
         tr("by itself, at Understood")),
    Kept("book/recent", tr("recent books"), tr("The books opened last."), tr("by itself; Book menu: Recent")),
    Kept("book/last", tr("last book"), tr("The book that was open; it is opened at the next start."),
         tr("by itself; Book menu: Close the book")),
    Kept("columns/", tr("columns"), tr("Which columns a table shows, and in which order."),
         tr("every table: Choose columns, or the head of the table")),
    Kept("widths/", tr("widths"), tr("How wide columns and panes are."),
         tr("dragged by their edges; Columns as they were at first")),
    Kept("window/geometry", tr("window"), tr("Size and place of the window."), tr("by itself")),
)  # fmt: skip


def kept(key: str) -> Kept:
    """What is remembered under a key. Raises ValueError for one that nobody told of."""
    for one in KEPT:
        if key.startswith(one.key):
            return one
    raise ValueError(f"no setting begins like {key!r}: it must stand in KEPT")


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
        kept(key)
        return str(self._store.value(key, default) or default)

    def number(self, key: str, default: float) -> float:
        """A number kept under a key; the default where it is missing or unreadable."""
        kept(key)
        try:
            return float(self._store.value(key, default))
        except (TypeError, ValueError):
            return default

    def flag(self, key: str, default: bool) -> bool:
        """A yes or no kept under a key."""
        return self.text(key, "yes" if default else "no") == "yes"

    def keep(self, key: str, value: str | float | bool) -> None:
        """Keeps a text, a number or a yes or no."""
        kept(key)
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
