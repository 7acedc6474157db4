# SPDX-License-Identifier: MIT
"""Where a material or an accord was used, and what happened when it was moved, as rows of ready strings. No cause is claimed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book, Use, UseStep, VersionHead
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.shown import VERSIONS
from desktop.models.side_smelled import best_of, strips_of
from desktop.models.strips import StripCard
from desktop.models.table import TableModel
from perfumery import Material, OwnNoise, Version
from perfumery.moved import Moved
from perfumery.smelling import answered
from perfumery.text import fold

MOST_NAMED = 4


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
    """One version that holds the thing; of an accord which version of it, and the newest one where that is another. `state` is
    'draft', 'frozen' or 'retired'."""

    use: Use
    project: str
    state: str
    held: str = ""
    newer: VersionHead | None = None

    @property
    def dose(self) -> str:
        """Its share of the concentrate; traces as they are."""
        return figures.per_thousand(self.use.per_thousand)

    @property
    def note(self) -> str:
        """'A-1; A-2 is newer' of an accord."""
        if not self.held:
            return ""
        return self.held if self.newer is None else tr("{held}; {code} is newer", held=self.held, code=self.newer.code)


def use_rows(book: Book, thing: Thing, uses: Sequence[Use], projects: dict[int, str]) -> list[UseRow]:
    """The uses with what a list says of each."""
    codes = {head.key: head.code for head in book.uses.family(thing.key)} if thing.is_accord else {}
    newer = {key: book.uses.newer(key) for key in codes}
    nested = tr("in another accord") if codes else ""
    rows = []
    for use in uses:
        held = use.held or 0
        project = projects.get(use.head.project, "")
        rows.append(UseRow(use, project, _state(use.head), codes.get(held, nested), newer.get(held)))
    return rows


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


# moved ----------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step in which it was moved, what else moved, and what changed on the strips at equal elapsed time."""

    step: UseStep
    moved: Moved
    others: str
    smelled: str


def step_rows(
    book: Book, thing: Thing, steps: Sequence[UseStep], cards: Callable[[int], Sequence[StripCard]],
    noise: Callable[[int], OwnNoise | None],
) -> list[StepRow]:  # fmt: skip
    """The steps as they are told; `cards` and `noise` give a project's strips and own noise."""
    made = []
    for step in steps:
        moved = book.uses.moved(step, None if thing.is_accord else thing.key)
        said = smelled_in(book, step, cards(step.child.project), noise(step.child.project))
        made.append(StepRow(step, moved, _others(book, moved), said))
    return made


def _others(book: Book, moved: Moved) -> str:
    names: list[str] = []
    for key, change in list(moved.others.items())[:MOST_NAMED]:
        material = book.get(Material, key)
        names.append(f"{'' if material is None else material.short} {figures.signed(float(f'{change:.3g}'))}")
    if not names:
        return tr("nothing else")
    told, more = figures.listed(names, most=MOST_NAMED), len(moved.others) - len(names)
    return tr("{names} and {more} more", names=told, more=more) if more > 0 else told


def smelled_in(book: Book, step: UseStep, cards: Sequence[StripCard], noise: OwnNoise | None) -> str:
    """What changed on the strips of both versions: intensities beyond own noise, then the words that moved most."""
    versions = [version for head in (step.parent, step.child) if (version := book.get(Version, head.key)) is not None]
    chosen = best_of(strips_of(cards, versions))
    pair = [next((card for card in cards if card.key == chosen.get(version.key or 0)), None) for version in versions]
    first, second = pair[0], pair[-1]
    if first is None or second is None:
        return tr("not smelled side by side")
    before, after = answered(first.readings, first.strip), answered(second.readings, second.strip)
    told: list[str] = []
    words: dict[str, tuple[int, float, str]] = {}
    for due in sorted(before.keys() & after.keys()):
        a, b = before[due], after[due]
        off = None if a.intensity is None or b.intensity is None else b.intensity - a.intensity
        if off is not None and noise is not None and noise.counts(off):
            told.append(tr("intensity {steps} at {time}", steps=figures.signed(off), time=figures.due_text(due)))
        for word in dict.fromkeys((*a.words, *b.words)):
            before_it, after_it = a.words.get(word, 0), b.words.get(word, 0)
            time = figures.due_text(due)
            said = tr("{word} {before} → {after} at {time}", word=word, before=before_it, after=after_it, time=time)
            # each word where it changed most, and there the first time
            found = (-abs(after_it - before_it), due, said)
            words[word] = min(words.get(word, found), found)
    told += [text for change, _, text in sorted(words.values()) if change][: MOST_NAMED - min(len(told), 2)]
    return figures.listed(told, most=MOST_NAMED + 2) if told else tr("nothing that can be told")


STEP_COLUMNS: tuple[Column[StepRow], ...] = (
    Column("step", tr("step"), lambda row: f"{row.step.parent.code} → {row.step.child.code}", 116),
    Column("before", tr("before"), lambda row: figures.per_thousand(row.step.before), 74, right=True, unit="‰"),
    Column("after", tr("after"), lambda row: figures.per_thousand(row.step.after), 74, right=True, unit="‰"),
    Column("smelled", tr("on the strips"), lambda row: row.smelled, 190),
    Column("others", tr("what else moved, ‰"), lambda row: row.others, 190),
)


class StepsModel(TableModel[StepRow]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(STEP_COLUMNS, parent)

    def identity(self, row: StepRow) -> tuple[int, int]:
        """Both versions."""
        return (row.step.parent.key, row.step.child.key)

    def tone(self, row: StepRow, column: Column[StepRow]) -> str:
        """What else moved is quiet beside what was smelled."""
        return "quiet" if column.key == "others" else "ink"
