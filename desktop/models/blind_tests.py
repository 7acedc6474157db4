# SPDX-License-Identifier: MIT
"""Blind tests as rows and in words: what each asks of the nose, what its answers say, how many it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.models.table import TableModel
from perfumery import BlindTest, Bottle, Discrimination, Effort, Material, Ranking
from perfumery.methods import DUO_TRIO, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE
from perfumery.smelled import RANKING

ASKS = {
    TRIANGLE: "Three papers, two of them alike: which is the odd one?",
    DUO_TRIO: "A reference and two papers: which is like the reference?",
    PAIRED: "Two papers: which has more of a quality? Either may be the one.",
    PAIRED_ONE_SIDED: "Two papers: which has more of a quality? Expected beforehand: the second sample, B.",
    THREE_AFC: "Three papers, two of them alike: which has most of a quality? Expected beforehand: B.",
    RANKING: "Two to eight papers, put in order from the least to the most of a quality.",
}
WITH_QUESTION = (PAIRED, PAIRED_ONE_SIDED, THREE_AFC, RANKING)
CAUTION = "This is of this nose, these vials and this day. It says nothing of safety."
LETTERS = "ABCDEFGH"


def sample_name(book: Book, bottle: int) -> str:
    """'SR-4 V027-12', 'Vetiver oil M17-1'."""
    found = book.get(Bottle, bottle)
    if found is None:
        return ""
    version = book.origin(bottle).version
    material = None if found.material is None else book.get(Material, found.material)
    what = version.code if version is not None else "" if material is None else material.short
    return f"{what} {found.code}".strip()


def samples_named(book: Book, test: BlindTest) -> str:
    """'A SR-2 V022-12, B SR-4 V027-12'."""
    return ", ".join(f"{letter} {sample_name(book, key)}" for letter, key in zip(LETTERS, test.samples, strict=False))


@dataclass(frozen=True, slots=True)
class BlindLine:
    """One test of the list; `shown` is its result in a few words, '' while it is hidden."""

    test: BlindTest
    answered: int
    shown: str


COLUMNS: tuple[Column[BlindLine], ...] = (
    Column("code", "test", lambda line: line.test.code, 48),
    Column("method", "method", lambda line: line.test.method, 100),
    Column("answers", "answers", lambda line: f"{line.answered} of {len(line.test.sets)}", 70),
    Column("result", "result", lambda line: line.shown, 130),
)


class BlindTestsModel(TableModel[BlindLine]):
    """Read only, the newest first."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: BlindLine) -> int | None:
        """The test."""
        return row.test.key

    def tone(self, row: BlindLine, column: Column[BlindLine]) -> str:
        """The code stands out."""
        return "ink" if column.key == "code" else "quiet"


def lines_of(book: Book) -> list[BlindLine]:
    """Every test, the newest first; a result only where all sets are answered or it was revealed."""
    found = []
    for test in sorted(book.all(BlindTest), key=lambda one: (one.at, one.key), reverse=True):
        assert test.key is not None
        answered = len(book.tests.answers(test.key))
        is_told = test.revealed_at is not None or answered == len(test.sets)
        result = book.tests.result(test.key) if is_told and answered else None
        found.append(BlindLine(test, answered, "" if result is None else short(result)))
    return found


def short(result: Discrimination | Ranking) -> str:
    """'6 of 9, p = 0.042'."""
    p = f"p {_p(result.p)}"
    return p if isinstance(result, Ranking) else f"{result.right} of {result.n}, {p}"


def told(book: Book, test: BlindTest, result: Discrimination | Ranking) -> list[str]:
    """What a test says, one sentence a line."""
    if isinstance(result, Ranking):
        return _ranked(book, test, result)
    if test.method == PAIRED:
        return _paired(book, test, result)
    n, needed = result.n, result.needed
    head = f"{result.right} of {n} right"
    were = "" if needed is None else f" ({needed} were needed)" if result.is_significant else f"; {needed} were needed"
    if result.is_significant:
        said = [f"{head}: you can tell them apart, p {_p(result.p)}{were}."]
    else:
        said = [
            f"{head}: not shown{were}. Guessing does as well {round(result.p * 100)} times in 100.",
            f"That does not prove that they are the same: with {figures.count(n, 'set')} only a large difference is seen.",
        ]
    low, high = max(result.discriminators_low, 0.0), max(result.discriminators_high, 0.0)
    beyond = f"About {_percent(max(result.discriminators, 0.0))} of the answers can tell beyond guessing"
    said.append(f"{beyond} ({_percent(low)} to {_percent(high)}); {_distance(result)}.")
    return [*said, CAUTION]


def _paired(book: Book, test: BlindTest, result: Discrimination) -> list[str]:
    first, second = (sample_name(book, key) for key in test.samples)
    more, count = (first, result.right) if result.right * 2 >= result.n else (second, result.n - result.right)
    quality = f" has more {test.question}" if test.question else " was chosen more often"
    if result.is_significant:
        said = [f"{more}{quality}: {count} of {result.n}, p {_p(result.p)} ({result.needed} were needed)."]
    else:
        needed = "" if result.needed is None else f" {result.needed} would have been needed."
        chance = f"guessing parts as far {round(result.p * 100)} times in 100"
        said = [f"Not shown: {more} was chosen {count} of {result.n} times, {chance}.{needed}"]
    return [*said, f"{_distance(result)}.", CAUTION]


def _ranked(book: Book, test: BlindTest, result: Ranking) -> list[str]:
    order = sorted(range(len(result.sums)), key=lambda place: result.sums[place])
    names = [sample_name(book, key) for key in test.samples]
    sums = ", ".join(f"{names[place]} {figures.parts(result.sums[place])}" for place in order)
    by = "exact" if result.is_exact else "by chi-square"
    quality = f" in {test.question}" if test.question else ""
    if result.is_significant:
        pairs = [f"{names[low]} and {names[high]}" for low, high in result.apart]
        said = [f"They differ{quality}, p {_p(result.p)} ({by})."]
        apart = figures.listed(pairs, 6) if pairs else "no single pair"
        said.append(f"Apart by {figures.parts(round(result.least_difference, 1))} or more in their rank sums: {apart}.")
    else:
        said = [f"Not shown{quality}: chance orders them as clearly {round(result.p * 100)} times in 100 ({by})."]
    return [*said, f"Rank sums, the least first: {sums}.", CAUTION]


def why(result: Discrimination | Ranking) -> str:
    """How the figures were worked out, and after whom."""
    if isinstance(result, Ranking):
        return (
            "Friedman's F = 12 / (J P (P + 1)) Σ R² − 3 J (P + 1), divided by 1 − Σ(t³ − t) / (J P (P² − 1)) for ties; p exact "
            "over all orders while that is few, else chi-square. Rank sums differ from z √(J P (P + 1) / 6) on. After ISO 8587."
        )
    return (
        "p is the chance that guessing gives as many right answers or more, exact (binomial). d′ is the distance of the two "
        "smells in units of one's own noise, by the psychometric function of the method; bounds are exact (Clopper and Pearson). "
        "After ISO 4120, ISO 10399, ISO 5495."
    )


def effort_told(effort: Effort, papers: int) -> str:
    """'16 sets, 48 papers; 9 must be right. Such a difference is then noticed 87 times in 100.'"""
    sets = figures.count(effort.n, "set")
    return (
        f"{sets}, {figures.count(effort.n * papers, 'paper')}; {effort.needed} must be right. Such a difference is then noticed "
        f"{round(effort.power * 100)} times in 100."
    )


def prepared(test: BlindTest, place: int, letters: Sequence[str]) -> str:
    """What to prepare for a set that one shuffles oneself: '2 papers of A, 1 of B, the letter on the hidden end.'"""
    count = {letter: list(letters).count(letter) for letter in dict.fromkeys(sorted(letters))}
    parts = [f"{number} of {letter}" for letter, number in count.items()]
    if test.method == DUO_TRIO:
        parts = [f"1 of {letters[0]} as the open reference", *(f"1 of {letter}" for letter in sorted(letters[1:]))]
    return f"Set {place + 1}: {', '.join(parts)}; write the letter on each hidden end and shuffle them unseen."


def _distance(result: Discrimination) -> str:
    return f"d′ {_d(result.dprime)} ({_d(result.low)} to {_d(result.high)})"


def _p(p: float) -> str:
    return f"< {figures.fixed(0.001, 3)}" if p < 0.001 else f"= {figures.fixed(p, 3 if p < 0.1 else 2)}"


def _d(value: float) -> str:
    return figures.UNKNOWN if value in (float("inf"), float("-inf")) else figures.fixed(value, 1)


def _percent(share: float) -> str:
    return figures.unit(f"{min(share, 1.0) * 100:.0f}", "%")
