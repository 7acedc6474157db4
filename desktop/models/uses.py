# SPDX-License-Identifier: MIT
"""What can be used, where it is, and what was said of it on the strips, as rows of ready strings."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book, Use, VersionHead
from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.log import words_text
from desktop.models.shown import VERSIONS
from desktop.models.table import TableModel
from perfumery import Material, Project, Reading, Strip
from perfumery.instants import hours
from perfumery.text import fold

MOST_MENTIONS = 8


@dataclass(frozen=True, slots=True)
class Thing:
    """What can be used: a material, or an accord by the version that stands for it."""

    key: int
    name: str
    is_accord: bool = False
    hay: str = ""


def things(book: Book) -> list[Thing]:
    """Every material and every accord that some version holds, by name."""
    found = [Thing(row.key, row.short, hay=row.hay) for row in book.material_rows()]
    for head in book.uses.accords():
        found.append(Thing(head.key, f"{head.code} {head.name}".strip(), is_accord=True, hay=fold(f"{head.code} {head.name}")))
    return sorted(found, key=lambda thing: fold(thing.name))


def sought(known: Sequence[Thing], text: str) -> list[Thing]:
    """The things in which every word of a text stands."""
    found = list(known)
    for word in fold(text).split():
        found = [thing for thing in found if word in thing.hay]
    return found


THING_COLUMNS: tuple[Column[Thing], ...] = (
    Column("name", tr("material or accord"), lambda thing: thing.name, 180),
    Column("kind", "", lambda thing: tr("accord") if thing.is_accord else "", 56),
)


class ThingsModel(TableModel[Thing]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(THING_COLUMNS, parent)

    def identity(self, row: Thing) -> tuple[int, bool]:
        """The thing."""
        return (row.key, row.is_accord)

    def tone(self, row: Thing, column: Column[Thing]) -> str:
        """Names first."""
        return "ink" if column.key == "name" else "quiet"


# used -----------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class UseRow:
    """One version that holds the thing; of an accord which version of it, and the newest one where that is another. `dose` is
    its share of the concentrate, traces as they are; `state` is 'draft', 'frozen' or 'retired'."""

    use: Use
    project: str
    dose: str
    state: str
    held: str = ""
    newer: VersionHead | None = None

    @property
    def note(self) -> str:
        """'A-1; A-2 is newer' of an accord."""
        if not self.held:
            return ""
        return self.held if self.newer is None else tr("{held}; {code} is newer", held=self.held, code=self.newer.code)


class UseRows:
    """Reads the versions that hold a thing, newest first, with what a list says of each: `rows` as far as they are read; `count`
    of all, None while it is not known."""

    def __init__(self, book: Book, thing: Thing) -> None:
        self._book, self._thing = book, thing
        self.rows: list[UseRow] = []
        self.count: int | None = None

    def reading(self) -> Iterator[None]:
        """Reads them in pieces of some ms."""
        book, thing = self._book, self._thing
        projects = {one.key: f"{one.code} {one.name}".strip() for one in book.all(Project) if one.key is not None}
        codes = {head.key: head.code for head in book.uses.family(thing.key)} if thing.is_accord else {}
        newer = book.uses.newer_each(thing.key) if thing.is_accord else {}
        nested = tr("in another accord") if codes else ""
        finding = book.uses.finding_accord if thing.is_accord else book.uses.finding_material
        yield
        for uses, self.count in finding(thing.key):
            for use in uses:
                project, held, dose = projects.get(use.head.project, ""), use.held or 0, figures.per_thousand(use.per_thousand)
                self.rows.append(UseRow(use, project, dose, _state(use.head), codes.get(held, nested), newer.get(held)))
            yield


def _state(head: VersionHead) -> str:
    return "retired" if head.retired else "frozen" if head.frozen_at is not None else "draft"


USE_COLUMNS: tuple[Column[UseRow], ...] = (
    Column("code", tr("version"), lambda row: row.use.head.code, 84),
    Column("project", tr("project"), lambda row: row.project, 120),
    Column("dose", tr("of it"), lambda row: row.dose, 84, right=True, unit="‰", plain=lambda row: row.use.per_thousand,
           sum="expansion"),
    Column("state", tr("state"), lambda row: VERSIONS[row.state], 62),
    Column("note", tr("accord"), lambda row: row.note, 110),
)


class UsesModel(TableModel[UseRow]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(USE_COLUMNS, parent)

    def identity(self, row: UseRow) -> int:
        """The version."""
        return row.use.head.key

    def tone(self, row: UseRow, column: Column[UseRow]) -> str:
        """A newer version of the accord stands out."""
        if column.key == "note" and row.newer is not None:
            return "amber"
        return "ink" if column.key in ("code", "dose") else "quiet"


# mentioned ------------------------------------------------------------------------------------------------------------


def mentions(book: Book, thing: Thing, versions: Iterable[int]) -> Generator[None, None, str]:
    """The readings of these versions' strips that hold a smell word of the material, or speak of it by name, told in pieces of
    some ms."""
    keys = list(versions)
    if not keys:
        return ""
    material = None if thing.is_accord else book.get(Material, thing.key)
    texts = [thing.name] if material is None else [*material.words, material.short]
    told: dict[int, str] = {}
    for text in texts:
        for found in book.words.finding(text, versions=keys, most=MOST_MENTIONS):
            yield
            if len(found.hits) == MOST_MENTIONS:
                # older ones would only be counted
                break
        for one in found.hits:
            if isinstance(one, Reading) and one.key is not None:
                strip = book.get(Strip, one.strip)
                assert strip is not None
                said = ", ".join([*words_text(one, weights=False), one.note]).strip(", ")
                when = figures.elapsed(hours(strip.dipped_at, one.at))
                told.setdefault(one.key, tr("{strip} at {time}: {said}", strip=strip.code, time=when, said=said))
    if not told:
        return ""
    shown = [tr("On strips of these versions ({words}):", words=figures.listed(texts, most=5)), *told.values()]
    more = len(told) - MOST_MENTIONS
    if more > 0:
        shown = [*shown[: 1 + MOST_MENTIONS], tr_count(more, "and {n} more", "and {n} more")]
    return "\n".join(shown)
