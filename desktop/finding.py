# SPDX-License-Identifier: MIT
"""What a typed text finds in the whole program, and on which page each thing of the book stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtGui import QAction

from desktop.help_text import sections
from perfumery import Balance, BlindTest, Bottle, Decision, Limit, Making, Sitting, Strip
from perfumery.text import fold

if TYPE_CHECKING:
    # the window stands before the book's library is imported
    from db import Book


def sought(text: str, book: Book, menus: Iterable[QAction]) -> tuple[Any, ...]:
    """Values of the book that hold a text, then the commands (QAction) that can be used now, then sections of the help."""
    words = fold(text).split()
    if not words:
        return ()
    said = [action for action in _commands(menus) if _all_in(words, action.text().replace("&", ""))]
    told = [section for section in sections() if _all_in(words, section.title)]
    return (*book.search(text), *said, *told)


def place_of(value: Any, book: Book) -> tuple[str, Any]:
    """(page, what is shown on it) of a value: what was weighed is what its vessel holds."""
    if isinstance(value, Making) and value.finished_at is not None:
        value = book.get(Bottle, value.into_bottle)
    if isinstance(value, Sitting | BlindTest) or (isinstance(value, Strip) and not value.bottle):
        return "smell", value
    if isinstance(value, Decision | Limit):
        return "compare", value
    if isinstance(value, Making | Balance):
        return "weigh", value
    return "shelf" if isinstance(value, Bottle) and value.kind not in ("trial", "smelling") else "bench", value


def _commands(menus: Iterable[QAction]) -> Iterator[QAction]:
    for menu in (one.menu() for one in menus if one.isVisible() and one.isEnabled()):
        yield from (action for action in menu.actions() if action.isEnabled() and action.text() and action.menu() is None)


def _all_in(words: Sequence[str], text: str) -> bool:
    hay = fold(text)
    return all(word in hay for word in words)
