# SPDX-License-Identifier: MIT
"""Every material as one light row, kept from one change to the next: what has changed is put into the list, the rest stays.

A book of thousands of materials is read once; an edit, an import or its undo costs what it touches.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from db.kinds import KINDS
from db.store import Store
from db.undo import Change
from perfumery import Material, Word
from perfumery.text import fold, haystack

_SHOWN = ("name", "cas", "form", "is_carrier", "bench_name", "inci", "botanical", "synonyms", "words", "retired_on")


@dataclass(frozen=True, slots=True)
class MaterialRow:
    """A material as a list shows it: `hay` is the folded text it is searched in, `retired` whether it is off the lists."""

    key: int
    short: str
    name: str
    cas: str
    form: str
    words: tuple[str, ...]
    hay: str
    is_carrier: bool
    retired: bool
    carrier_name: str = ""


class MaterialRows:
    """The rows by the name shown, and what is found among them."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._ordered: list[tuple[str, int, MaterialRow]] = []
        self._rows: tuple[MaterialRow, ...] | None = None
        self._changed: dict[int, Material | None] | None = None

    def forget(self, change: Change) -> None:
        """Takes up what a change has made stale; a smell word may stand in any row."""
        if change.touches(Word):
            self._changed = None
            self._rows = None
        elif self._changed is not None and change.touches(Material):
            own = [(old, new) for old, new in change.pairs if isinstance(old if new is None else new, Material)]
            self._changed |= {(old if new is None else new).key: new for old, new in own}
            self._rows = None

    def rows(self) -> tuple[MaterialRow, ...]:
        """All materials as light rows; the same rows until something changes."""
        if self._rows is None:
            families = self._families()
            if self._changed is None:
                kind = KINDS[Material]
                light = replace(kind, fields=tuple(field for field in kind.fields if field.name in _SHOWN))
                self._ordered = [_ordered(material, families) for material in self._store.select(light)]
            else:
                gone = self._changed
                self._ordered = [one for one in self._ordered if one[1] not in gone]
                self._ordered += [_ordered(one, families) for one in gone.values() if one is not None]
            self._changed = {}
            # no two have one key, so rows are never compared
            self._ordered.sort()
            self._rows = tuple([row for _, _, row in self._ordered])
        return self._rows

    def find(self, sought: str) -> tuple[MaterialRow, ...]:
        """Rows in which every word stands; retired ones only where nothing else matches."""
        found = self.rows()
        for word in fold(sought).split():
            found = tuple([row for row in found if word in row.hay])
        present = tuple([row for row in found if not row.retired])
        return present or found

    def _families(self) -> dict[str, str]:
        """{smell word: its group}, synonyms under the group of the word they stand for."""
        words = {word.key: word for word in self._store.select(KINDS[Word])}
        return {word.text: words.get(word.same_as, word).group for word in words.values()}


def _ordered(material: Any, families: dict[str, str]) -> tuple[str, int, MaterialRow]:
    groups = {families[word] for word in material.words if word in families}
    row = MaterialRow(
        key=material.key, short=material.short, name=material.name, cas=material.cas, form=material.form, words=material.words,
        hay=haystack(material, groups), is_carrier=material.is_carrier, retired=material.retired_on is not None,
        carrier_name=material.carrier_name if material.is_carrier else "",
    )  # fmt: skip
    return fold(row.short), row.key, row
