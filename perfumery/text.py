# SPDX-License-Identifier: MIT
"""Text made comparable for search: case and diacritics folded, so that 'vétiver' is found by 'vetiver'."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from perfumery.values import Material


def fold(text: str) -> str:
    """Casefolded text without diacritics, spaces single."""
    return " ".join(_plain(text).split())


def _plain(text: str) -> str:
    if text.isascii():
        return text.casefold()
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c)).casefold()


def haystack(material: Material, families: Iterable[str] = ()) -> str:
    """The one folded string a material is searched in: names, synonyms, CAS, form, smell words and their families.

    Fields are kept apart by a line break, which no needle holds.
    """
    fields = (
        material.bench_name, material.name, material.cas, material.inci, material.botanical, material.form,
        *material.synonyms, *material.words, *families,
    )  # fmt: skip
    # folded as one text: a list of 10,000 materials is made at once
    return _plain("\n".join(text for text in fields if text))


def matches(hay: str, needle: str) -> bool:
    """Whether every word of an already folded needle stands somewhere in the folded hay."""
    return all(word in hay for word in needle.split())
