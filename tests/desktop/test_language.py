# SPDX-License-Identifier: MIT
"""Every text of the window comes out of one catalogue that can be translated.

Run as a script it is the window in a language that nobody speaks, whose letters are all of another alphabet:
`python test_language.py BOOK FOLDER`. Whatever is still seen in Latin letters, and was not written by the person at the bench,
cannot be translated.
"""

import ast
import gettext
import json
import os
import re
import string
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, get_args

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from PySide6.QtCore import QAbstractItemModel, QLocale, QModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QTextBrowser,
    QWidget,
)

ROOT = Path(__file__).parents[2]
KEYWORDS = {"tr": None, "tr_count": (2, 3)}
# one letter for one letter, so that everything is as wide as it was: English in Cyrillic letters, which is no language
FOREIGN = str.maketrans(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "абцдефгхийклмнопярстувшжызАБЦДЕФГХИЙКЛМНОПЯРСТУВШЖЫЗ",
)
# what stands between them is no word of a sentence: facts, marks of a text with links, entities, the end of a line
KEPT = re.compile(r"(\{[^{}]*\}|<[^<>]+>|&[a-z]+;)")
# signs of the trade, units, keys and endings of files, which every language writes alike
SIGNS = frozenset(
    "Alt Backspace CAS CIE Ctrl CSV Del DPG Enter Esc F1 IFRA INCI IUPAC IPM JSON MIT PDF PNG PySide Qt Return SHA Shift Space SVG "
    "Stillroom Tab TEC Up Down Left Right XLSX csv json kg min mol pdf png svg stillroom txt xlsx EUR USD".split()
)
WORD = re.compile(r"[A-Za-z]{3,}")


def messages() -> set[str]:
    """Every text that a translator is given."""
    found = set()
    for _, _, said, _, _ in extract_from_dir(ROOT / "desktop", [("**.py", "python")], keywords=KEYWORDS):
        found.update((said,) if isinstance(said, str) else said)
    return found


def foreign(text: str) -> str:
    return "".join(part if KEPT.fullmatch(part) else part.translate(FOREIGN) for part in KEPT.split(text))


class _Foreign(gettext.NullTranslations):
    """Says in foreign letters what a translator was given, and everything else as it is."""

    def __init__(self, known: set[str]) -> None:
        super().__init__()
        self._known = known

    def gettext(self, message: str) -> str:
        return foreign(message) if message in self._known else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


# what is seen --------------------------------------------------------------------------------------------------------------


def seen(window: QWidget) -> Iterator[tuple[str, str]]:
    """(where, text) of what is shown, told when something is pointed at, or read out."""
    for widget in window.findChildren(QWidget):
        if not widget.isVisible():
            continue
        kind = type(widget).__name__
        for what in (widget.toolTip(), widget.accessibleName(), widget.accessibleDescription(), widget.statusTip()):
            yield f"{kind}, told", what
        if isinstance(widget, QLabel | QAbstractButton):
            yield kind, widget.text()
        elif isinstance(widget, QLineEdit):
            yield f"{kind}, placeholder", widget.placeholderText()
        elif isinstance(widget, QPlainTextEdit):
            yield f"{kind}, placeholder", widget.placeholderText()
        elif isinstance(widget, QComboBox):
            yield from ((kind, widget.itemText(at)) for at in range(widget.count()))
        elif isinstance(widget, QTextBrowser):
            yield kind, widget.toPlainText()
        elif isinstance(widget, QAbstractItemView) and widget.model() is not None:
            yield from ((f"{kind} {widget.accessibleName()}", text) for text in cells(widget.model()))


def cells(model: QAbstractItemModel, under: QModelIndex | None = None) -> Iterator[str]:
    """Heads, and what the first rows show, tell and read out, with what is below them in a tree."""
    top = QModelIndex() if under is None else under
    roles = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole)
    for row in range(min(model.rowCount(top), 40)):
        column = 0
        while (at := model.index(row, column, top)).isValid():
            if under is None and row == 0:
                yield from (str(model.headerData(column, Qt.Orientation.Horizontal, role) or "") for role in roles)
            yield from (str(at.data(role) or "") for role in roles)
            column += 1
        if model.rowCount(first := model.index(row, 0, top)):
            yield from cells(model, first)


def menus(window: Any) -> Iterator[tuple[str, str]]:
    for menu in window.menuBar().actions():
        yield "menu", menu.text()
        for action in menu.menu().actions() if menu.menu() is not None else ():
            yield f"menu {menu.text()}", action.text()
            yield f"menu {menu.text()}, told", action.toolTip()


def written_by_hand() -> list[str]:
    """What stands in the demo studio's book because somebody wrote it, the longest first."""
    import perfumery.values as values

    own = {text for name in vars(values).values() for text in get_args(name) if isinstance(text, str)}
    found: set[str] = set()

    def walk(thing: object) -> None:
        if isinstance(thing, str):
            found.update(part for part in (thing, *thing.splitlines()) if len(part) > 2 and part not in own)
        elif isinstance(thing, Mapping):
            for part in thing.values():
                walk(part)
        elif isinstance(thing, Iterable):
            for part in thing:
                walk(part)

    walk(json.loads((ROOT / "resources/demo.json").read_text(encoding="utf-8")))
    walk(json.loads((ROOT / "resources/words.json").read_text(encoding="utf-8")))
    walk([line.split(",") for line in (ROOT / "resources/materials.csv").read_text(encoding="utf-8").splitlines()])
    return sorted(found, key=len, reverse=True)


def untranslated(text: str, own: list[str]) -> list[str]:
    """The Latin words of a text that are neither a sign nor somebody's own."""
    text = re.sub(r"<[^<>]+>|&[a-z]+;|https?://\S+|/\S+", " ", text).replace("&", "")
    if not WORD.search(text):
        return []
    for one in own:
        if one in text:
            text = text.replace(one, " ")
    return [word for word in WORD.findall(text) if word not in SIGNS]


def walk_foreign(book: Path, folder: Path) -> dict[str, list[str]]:
    """{place: texts that stayed English} of a walk through the whole window in the language nobody speaks."""
    from desktop import language

    known = messages()
    language._catalogue = lambda: _Foreign(known)
    sys.path.insert(0, str(Path(__file__).parent))
    import test_access as access  # imports the window, whose tables of texts are made now

    qt = QApplication([])
    copy = folder / book.name
    copy.write_bytes(book.read_bytes())
    app = access.opened(qt, folder)
    own = [*written_by_hand(), str(folder), copy.stem]
    left: dict[str, set[str]] = defaultdict(set)
    told: set[tuple[str, str]] = set()
    for place, go in access.places(app, copy):
        try:
            go()
        except Exception as error:  # noqa: BLE001 - a text that something was looked up by
            left[place].add(f"went wrong: {error!r}")
        access.settle()
        for where, text in (*seen(app.window), *(menus(app.window))):
            if (where, text) in told:
                continue
            told.add((where, text))
            if words := untranslated(text, own):
                left[f"{place}: {where}"].add(f"{text[:160]!r}: {' '.join(words[:8])}")
    app.leave()
    return {place: sorted(texts) for place, texts in left.items()}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(walk_foreign(Path(sys.argv[1]), Path(sys.argv[2])), ensure_ascii=False))
