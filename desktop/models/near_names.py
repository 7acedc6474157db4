# SPDX-License-Identifier: MIT
"""Which substance may be meant by a name that none bears: a limit on a mistyped one would count nothing, unnoticed."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from db import Book
from perfumery import Constituent, Material, Word
from perfumery.text import fold

MOST = 3


def called_like(book: Book, name: str, cas: str = "") -> tuple[Material, ...]:
    """The materials in whose names, one or another, all words of a name stand, or that bear a CAS number: what may be meant,
    without a look at all of the book."""
    words = fold(name).split()
    found = (
        row.key for row in book.material_rows()
        if (cas and row.cas == cas) or (words and all(word in row.hay for word in words))
    )  # fmt: skip
    return tuple(book.many(Material, found).values())


def near_names(book: Book, name: str) -> list[str]:
    """The materials and constituents in whose name it stands; where there are none, those that are written alike."""
    sought = fold(name)
    known = {text: shown for text, shown, _ in reversed(list(_names(book, name)))}
    within = sorted((text for text in known if sought in text), key=lambda text: (not text.startswith(sought), len(text)))
    if within:
        return list(dict.fromkeys(known[text] for text in within))[:MOST]
    # the text a material is searched in has its names in lines, beside what is no name
    others = {fold(word.group) for word in book.all(Word)}
    for row in book.material_rows():
        no_names = others.union((row.cas, row.form), map(fold, row.words))
        known |= {line: row.short for line in row.hay.split("\n") if line not in no_names and line not in known}
    return list(dict.fromkeys(known[text] for text in get_close_matches(sought, known, MOST)))


def numbers_of(book: Book, name: str) -> list[str]:
    """The CAS numbers of what is called so."""
    return list(dict.fromkeys(cas for text, _, cas in _names(book, name) if cas and text == fold(name)))


def _names(book: Book, name: str) -> Iterator[tuple[str, str, str]]:
    """(folded name, as it is shown, CAS number) of every constituent and of the materials called like this, under each of their
    names."""
    for one in called_like(book, name):
        for text in (one.name, one.bench_name, one.inci, *one.synonyms):
            if text:
                yield fold(text), one.short, one.cas
    for part in book.all(Constituent):
        yield fold(part.name), part.name, part.cas
