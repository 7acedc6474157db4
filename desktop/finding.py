# SPDX-License-Identifier: MIT
"""What a typed text finds in the whole program, and on which page each thing of the book stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtGui import QAction

from desktop.help_text import Section, sections
from desktop.language import tr
from perfumery import Balance, BlindTest, Bottle, Decision, Limit, Making, Sitting, Strip
from perfumery.text import fold

if TYPE_CHECKING:
    # the window stands before the book's library is imported
    from db import Book


# Words that a question begins with or is filled with; what it is about are the others.
_SMALL = tr("how to do does i can you a an the what is are where when why which my of in on with for")


def seeking(text: str, book: Book, menus: Iterable[QAction]) -> Iterator[tuple[Any, ...]]:
    """Values of the book that hold a text, then the commands (QAction) that can be used now, then sections of the help: those
    whose title holds it, and what answers a question such as 'how to make a dilution'. In pieces of some ms, the last of which
    has all of it."""
    words = fold(text).split()
    values: tuple[Any, ...] = ()
    if not words:
        yield ()
        return
    for values in book.searching(text):
        yield values
    small = fold(_SMALL).split()
    asked = [word for word in (one.strip("?") for one in words) if word and word not in small] if words[0] in small else []
    said = [action for action in _commands(menus) if _all_in(asked or words, action.text().replace("&", ""))]
    told = [section for section in sections() if _all_in(words, section.title)]
    yield (*values, *said, *(_answering(asked) if asked else told))


def _answering(words: Sequence[str]) -> list[Section]:
    """Sections of the help that hold all words of a question or are called by one, those that say most of it first; how a
    figure is worked out last."""

    def said(section: Section) -> int:
        title, whole = fold(section.title), fold(f"{section.title} {section.text}")
        in_title, in_all = (sum(word in text for word in words) for text in (title, whole))
        return in_title + in_all if in_all == len(words) or set(words) & set(title.split()) else 0

    found = [section for section in sections() if said(section)]
    return sorted(found, key=lambda section: (section.chapter == "sums", -said(section)))


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
