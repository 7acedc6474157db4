# SPDX-License-Identifier: MIT
"""What happened when a material or an accord was moved, as rows of ready strings. No cause is claimed.

Steps are known long before what they did is: each is worked out from its strips and both its formulas.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject

from db import Book, UseStep
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.side_smelled import best_of, strips_of
from desktop.models.strips import AT_ONCE, StripCard, StripsModel
from desktop.models.table import TableModel
from perfumery import Bottle, Material, OwnNoise, Strip, Version
from perfumery.moved import Moved
from perfumery.smelling import answered

MOST_NAMED = 4
WAITING = "…"


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step in which it was moved, its share before and after, what else moved, and what changed on the strips at equal
    elapsed time. `moved` is None where that is not worked out yet."""

    step: UseStep
    before: str
    after: str
    moved: Moved | None = None
    others: str = WAITING
    smelled: str = WAITING


def step_row(step: UseStep) -> StepRow:
    """A step that is not worked out yet."""
    return StepRow(step, figures.per_thousand(step.before), figures.per_thousand(step.after))


class StepReader:
    """Works steps out in pieces of some ms. What is known of a project's own noise is kept until `forget`."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._noise: dict[int, OwnNoise | None] = {}

    def forget(self) -> None:
        """Something was read or dipped."""
        self._noise.clear()

    def working_out(self, row: StepRow, material: int | None) -> Generator[None, None, StepRow]:
        """The step of a material, or of an accord where that is None, as it is told."""
        book, step = self._book, row.step
        noise = yield from self._reading_noise(step.child.project)
        bottles = [one.key for head in (step.parent, step.child) for one in book.all(Bottle, version=head.key)]
        strips = StripsModel(book)
        strips.load_strips([strip for key in bottles for strip in book.all(Strip, bottle=key)], book.now())
        yield
        said = smelled_in(book, step, strips.cards, noise)
        yield
        moved = book.uses.moved(step, material)
        return replace(row, moved=moved, others=_others(book, moved), smelled=said)

    def _reading_noise(self, project: int) -> Generator[None, None, OwnNoise | None]:
        book = self._book
        if project not in self._noise:
            keys = tuple(strip.key for strip in book.strips(project) if strip.key is not None)
            yield
            for start in range(0, len(keys), AT_ONCE):
                # kept in memory, where they are asked for next
                book.readings(keys[start : start + AT_ONCE])
                yield
            self._noise[project] = book.sittings.noise(project)
            yield
        return self._noise[project]


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
    Column("before", tr("before"), lambda row: row.before, 74, right=True, unit="‰"),
    Column("after", tr("after"), lambda row: row.after, 74, right=True, unit="‰"),
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

    def put(self, place: int, row: StepRow) -> None:
        """Shows a row that is worked out now."""
        self._rows[place] = row
        self._forget(place)
        self._say_changed([place])
