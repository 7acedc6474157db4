# SPDX-License-Identifier: MIT
"""Which bottles may be meant by a code that none has: a mistyped code must not make a bottle unnoticed."""

from __future__ import annotations

from difflib import get_close_matches

from db import Book

MOST = 3
# As difflib counts likeness: one sign of two may differ, as in H-0 and H-1.
LIKENESS = 0.5


def near_codes(book: Book, code: str) -> list[str]:
    """The codes of the bottles that are written or labelled alike and not gone, the likeliest first."""
    known: dict[str, str] = {}
    for row in (*book.bottles.rows(), *book.bottles.rows(vials=True)):
        for text in (row.bottle.code, row.bottle.label):
            known.setdefault(_bare(text), row.bottle.code)
    found = get_close_matches(_bare(code), [text for text in known if text], MOST, LIKENESS)
    return list(dict.fromkeys(known[text] for text in found))


def _bare(text: str) -> str:
    """Letters and digits alone: 'h 0' and 'H-0' are one."""
    return "".join(sign for sign in text.casefold() if sign.isalnum())
