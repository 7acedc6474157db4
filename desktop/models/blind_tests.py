# SPDX-License-Identifier: MIT
"""Blind tests as rows and in words: what each asks of the nose, what its answers say, how many it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.table import TableModel
from perfumery import BlindTest, Bottle, Discrimination, Effort, Material, Ranking
from perfumery.methods import DUO_TRIO, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE
from perfumery.smelled import RANKING

ASKS = {
    TRIANGLE: tr("Three papers, two of them alike: which is the odd one?"),
    DUO_TRIO: tr("A reference and two papers: which is like the reference?"),
    PAIRED: tr("Two papers: which has more of a quality? Either may be the one."),
    PAIRED_ONE_SIDED: tr("Two papers: which has more of a quality? Expected beforehand: the second sample, B."),
    THREE_AFC: tr("Three papers, two of them alike: which has most of a quality? Expected beforehand: B."),
    RANKING: tr("Two to eight papers, put in order from the least to the most of a quality."),
}
WITH_QUESTION = (PAIRED, PAIRED_ONE_SIDED, THREE_AFC, RANKING)
CAUTION = tr("This is of this nose, these vials and this day. It says nothing of safety.")
LETTERS = tr("ABCDEFGH")


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
    Column("answers", "answers", lambda line: tr("{answered} of {sets}", answered=line.answered, sets=len(line.test.sets)), 70),
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
    return p if isinstance(result, Ranking) else tr("{right} of {number}, {p}", right=result.right, number=result.n, p=p)


def told(book: Book, test: BlindTest, result: Discrimination | Ranking) -> list[str]:
    """What a test says, one sentence a line."""
    if isinstance(result, Ranking):
        return _ranked(book, test, result)
    if test.method == PAIRED:
        return _paired(book, test, result)
    n, needed = result.n, result.needed
    head = tr("{right} of {number} right", right=result.right, number=n)
    were = "" if needed is None else tr(
        " ({needed} were needed)", needed=needed
    ) if result.is_significant else tr(
        "; {needed} were needed", needed=needed
    )
    if result.is_significant:
        said = [tr("{head}: you can tell them apart, p {p}{were}.", head=head, p=_p(result.p), were=were)]
    else:
        said = [
            tr(
                "{head}: not shown{were}. Guessing does as well {round} times in 100.",
                head=head, were=were, round=round(result.p * 100),
            ),
            tr(
                "That does not prove that they are the same: with {number} only a large difference is seen.",
                number=tr_count(n, "{n} set", "{n} sets"),
            ),
        ]
    low, high = max(result.discriminators_low, 0.0), max(result.discriminators_high, 0.0)
    beyond = tr("About {percent} of the answers can tell beyond guessing", percent=_percent(max(result.discriminators, 0.0)))
    said.append(tr(
        "{beyond} ({low} to {high}); {result}.",
        beyond=beyond, low=_percent(low), high=_percent(high), result=_distance(result),
    ))
    return [*said, CAUTION]


def _paired(book: Book, test: BlindTest, result: Discrimination) -> list[str]:
    first, second = (sample_name(book, key) for key in test.samples)
    more, count = (first, result.right) if result.right * 2 >= result.n else (second, result.n - result.right)
    quality = tr(" has more {question}", question=test.question) if test.question else tr(" was chosen more often")
    if result.is_significant:
        said = [tr(
            "{more}{quality}: {count} of {number}, p {p} ({needed} were needed).",
            more=more, quality=quality, count=count, number=result.n, p=_p(result.p), needed=result.needed,
        )]
    else:
        needed = "" if result.needed is None else tr(" {needed} would have been needed.", needed=result.needed)
        chance = tr("guessing parts as far {round} times in 100", round=round(result.p * 100))
        said = [tr(
            "Not shown: {more} was chosen {count} of {number} times, {chance}.{needed}",
            more=more, count=count, number=result.n, chance=chance, needed=needed,
        )]
    return [*said, f"{_distance(result)}.", CAUTION]


def _ranked(book: Book, test: BlindTest, result: Ranking) -> list[str]:
    order = sorted(range(len(result.sums)), key=lambda place: result.sums[place])
    names = [sample_name(book, key) for key in test.samples]
    sums = ", ".join(f"{names[place]} {figures.parts(result.sums[place])}" for place in order)
    by = "exact" if result.is_exact else tr("by chi-square")
    quality = tr(" in {question}", question=test.question) if test.question else ""
    if result.is_significant:
        pairs = [tr("{what} and {what_2}", what=names[low], what_2=names[high]) for low, high in result.apart]
        said = [tr("They differ{quality}, p {p} ({by}).", quality=quality, p=_p(result.p), by=by)]
        apart = figures.listed(pairs, 6) if pairs else tr("no single pair")
        said.append(tr(
            "Apart by {parts} or more in their rank sums: {apart}.",
            parts=figures.parts(round(result.least_difference, 1)), apart=apart,
        ))
    else:
        said = [tr(
            "Not shown{quality}: chance orders them as clearly {round} times in 100 ({by}).",
            quality=quality, round=round(result.p * 100), by=by,
        )]
    return [*said, tr("Rank sums, the least first: {sums}.", sums=sums), CAUTION]


def why(result: Discrimination | Ranking) -> str:
    """How the figures were worked out, and after whom."""
    if isinstance(result, Ranking):
        return (
            tr(
                "Friedman's F = 12 / (J P (P + 1)) Σ R² \u2212 3 J (P + 1), divided by 1 \u2212 Σ(t³ \u2212 t) / (J P (P² \u2212 1)) for "
                "ties; p exact over all orders while that is few, else chi-square. Rank sums differ from z √(J P (P "
                "+ 1) / 6) on. After ISO 8587."
            )
        )
    return (
        tr(
            "p is the chance that guessing gives as many right answers or more, exact (binomial). d′ is the distance "
            "of the two smells in units of one's own noise, by the psychometric function of the method; bounds are "
            "exact (Clopper and Pearson). After ISO 4120, ISO 10399, ISO 5495."
        )
    )


def effort_told(effort: Effort, papers: int) -> str:
    """'16 sets, 48 papers; 9 must be right. Such a difference is then noticed 87 times in 100.'"""
    sets = tr_count(effort.n, "{n} set", "{n} sets")
    return (
        tr(
            "{sets}, {count}; {needed} must be right. Such a difference is then noticed {round} times in 100.",
            sets=sets, count=tr_count(effort.n * papers, "{n} paper", "{n} papers"), needed=effort.needed,
            round=round(effort.power * 100),
        )
    )


def prepared(test: BlindTest, place: int, letters: Sequence[str]) -> str:
    """What to prepare for a set that one shuffles oneself: '2 papers of A, 1 of B, the letter on the hidden end.'"""
    count = {letter: list(letters).count(letter) for letter in dict.fromkeys(sorted(letters))}
    parts = [tr("{number} of {letter}", number=number, letter=letter) for letter, number in count.items()]
    if test.method == DUO_TRIO:
        parts = [tr("1 of {what} as the open reference", what=letters[0]), *(tr(
            "1 of {letter}", letter=letter
        ) for letter in sorted(letters[1:]))]
    return tr(
        "Set {what}: {parts}; write the letter on each hidden end and shuffle them unseen.",
        what=place + 1, parts=", ".join(parts),
    )


def _distance(result: Discrimination) -> str:
    return tr("d′ {dprime} ({low} to {high})", dprime=_d(result.dprime), low=_d(result.low), high=_d(result.high))


def _p(p: float) -> str:
    return f"< {figures.fixed(0.001, 3)}" if p < 0.001 else f"= {figures.fixed(p, 3 if p < 0.1 else 2)}"


def _d(value: float) -> str:
    return figures.UNKNOWN if value in (float("inf"), float("-inf")) else figures.fixed(value, 1)


def _percent(share: float) -> str:
    return figures.unit(f"{min(share, 1.0) * 100:.0f}", "%")
