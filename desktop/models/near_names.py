# SPDX-License-Identifier: MIT
"""Which substance may be meant by a name that none bears: a limit on a mistyped one would count nothing, unnoticed."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from db import Book
from perfumery import Constituent, Material
from perfumery.text import fold

MOST = 3


def near_names(book: Book, name: str) -> list[str]:
    """The materials and constituents in whose name it stands; where there are none, those that are written alike."""
    sought = fold(name)
    known: dict[str, str] = {}
    for text, shown, _ in _names(book):
        known.setdefault(text, shown)
    within = sorted((text for text in known if sought in text), key=lambda text: (not text.startswith(sought), len(text)))
    return list(dict.fromkeys(known[text] for text in within or get_close_matches(sought, known, MOST)))[:MOST]


def numbers_of(book: Book, name: str) -> list[str]:
    """The CAS numbers of what is called so."""
    return list(dict.fromkeys(cas for text, _, cas in _names(book) if cas and text == fold(name)))


def _names(book: Book) -> Iterator[tuple[str, str, str]]:
    """(folded name, as it is shown, CAS number) of every substance, under each of its names."""
    for one in book.all(Material):
        for text in (one.name, one.bench_name, one.inci, *one.synonyms):
            if text:
                yield fold(text), one.short, one.cas
    for part in book.all(Constituent):
        yield fold(part.name), part.name, part.cas
