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
from desktop.models.shown import METHODS
from desktop.models.table import TableModel
from perfumery import BlindTest, Discrimination, Effort, Material, Ranking
from perfumery.methods import DUO_TRIO, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE
from perfumery.smelled import RANKING

# What each method asks; {quality} is the one asked about, where it asks about one.
ASKS = {
    TRIANGLE: tr("Three papers, two of them alike: which is the odd one?"),
    DUO_TRIO: tr("A reference and two papers: which is like the reference?"),
    PAIRED: tr("Two papers: which has more of {quality}? Either may be the one."),
    PAIRED_ONE_SIDED: tr("Two papers: which has more of {quality}? Expected beforehand: the second sample, B."),
    THREE_AFC: tr("Three papers, two of them alike: which has most of {quality}? Expected beforehand: B."),
    RANKING: tr("Two to eight papers, put in order from the least to the most of {quality}."),
}
WITH_QUESTION = (PAIRED, PAIRED_ONE_SIDED, THREE_AFC, RANKING)
CAUTION = tr("This is of this nose, these vials and this day. It says nothing of safety.")
LETTERS = "ABCDEFGH"


def asks(method: str, question: str = "") -> str:
    """What a method asks of the nose, about a quality where one is named."""
    return ASKS[method].format(quality=question or tr("a quality"))


def sample_name(book: Book, bottle: int) -> str:
    """'SR-4 V027-12', 'Vetiver oil M17-1'."""
    origin = book.origin(bottle)
    found, version = origin.bottle, origin.version
    if found is None:
        return ""
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
    Column("code", tr("test"), lambda line: line.test.code, 48),
    Column("method", tr("method"), lambda line: METHODS[line.test.method], 100),
    Column("answers", tr("answers"),
           lambda line: tr("{answered} of {sets}", answered=line.answered, sets=len(line.test.sets)), 70),
    Column("result", tr("result"), lambda line: line.shown, 130,
           tip=tr("how many sets were right, and p: how likely mere guessing does as well, 0 to 1")),
)  # fmt: skip


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
    return p if isinstance(result, Ranking) else tr("{right} of {sets}, {p}", right=result.right, sets=result.n, p=p)


def told(book: Book, test: BlindTest, result: Discrimination | Ranking) -> list[str]:
    """What a test says, one sentence a line."""
    if isinstance(result, Ranking):
        return _ranked(book, test, result)
    if test.method == PAIRED:
        return _paired(book, test, result)
    n, needed = result.n, result.needed
    head = tr("{right} of {sets} right", right=result.right, sets=n)
    if result.is_significant and needed is None:
        said = [tr("{score}: you can tell them apart, p {p}.", score=head, p=_p(result.p))]
    elif result.is_significant:
        apart = tr("{score}: you can tell them apart, p {p} ({needed} were needed).", score=head, p=_p(result.p), needed=needed)
        said = [apart]
    else:
        missed = tr("{score}: not shown.", score=head)
        if needed is not None:
            missed = tr("{score}: not shown; {needed} were needed.", score=head, needed=needed)
        said = [
            f"{missed} {_by_chance(result.p)}",
            tr_count(
                n,
                "That does not prove that they are the same: with {n} set only a large difference is seen.",
                "That does not prove that they are the same: with {n} sets only a large difference is seen.",
            ),
        ]
    low, high = max(result.discriminators_low, 0.0), max(result.discriminators_high, 0.0)
    said.append(tr(
        "About {share} of the answers can tell beyond guessing ({low} to {high}); {distance}.",
        share=_percent(max(result.discriminators, 0.0)), low=_percent(low), high=_percent(high), distance=_distance(result),
    ))  # fmt: skip
    return [*said, CAUTION]


def _by_chance(p: float) -> str:
    return tr_count(
        round(p * 100), "Guessing does as well {n} time in 100.", "Guessing does as well {n} times in 100."
    )  # fmt: skip


def _paired(book: Book, test: BlindTest, result: Discrimination) -> list[str]:
    first, second = (sample_name(book, key) for key in test.samples)
    more, count = (first, result.right) if result.right * 2 >= result.n else (second, result.n - result.right)
    if result.is_significant:
        which = tr("{sample} was chosen more often", sample=more)
        if test.question:
            which = tr("{sample} has more {quality}", sample=more, quality=test.question)
        said = tr(
            "{which}: {count} of {sets}, p {p} ({needed} were needed).",
            which=which, count=count, sets=result.n, p=_p(result.p), needed=result.needed,
        )  # fmt: skip
    else:
        said = tr_count(
            round(result.p * 100),
            "Not shown: {sample} was chosen {count} of {sets} times, guessing parts as far {n} time in 100.",
            "Not shown: {sample} was chosen {count} of {sets} times, guessing parts as far {n} times in 100.",
            sample=more, count=count, sets=result.n,
        )  # fmt: skip
        if result.needed is not None:
            said += " " + tr("{needed} would have been needed.", needed=result.needed)
    return [said, f"{_distance(result)}.", CAUTION]


def _ranked(book: Book, test: BlindTest, result: Ranking) -> list[str]:
    order = sorted(range(len(result.sums)), key=lambda place: result.sums[place])
    names = [sample_name(book, key) for key in test.samples]
    sums = ", ".join(f"{names[place]} {figures.parts(result.sums[place])}" for place in order)
    by, quality = tr("exact") if result.is_exact else tr("by chi-square"), test.question
    if result.is_significant:
        pairs = [figures.listed((names[low], names[high])) for low, high in result.apart]
        apart = figures.listed(pairs, 6) if pairs else tr("no single pair")
        differ = tr("They differ, p {p} ({way}).", p=_p(result.p), way=by)
        if quality:
            differ = tr("They differ in {quality}, p {p} ({way}).", quality=quality, p=_p(result.p), way=by)
        least = figures.parts(round(result.least_difference, 1))
        said = [differ, tr("Apart by {least} or more in their rank sums: {pairs}.", least=least, pairs=apart)]
    else:
        missed = tr("Not shown in {quality}", quality=quality) if quality else tr("Not shown")
        said = [tr_count(
            round(result.p * 100),
            "{missed}: chance orders them as clearly {n} time in 100 ({way}).",
            "{missed}: chance orders them as clearly {n} times in 100 ({way}).",
            missed=missed, way=by,
        )]  # fmt: skip
    return [*said, tr("Rank sums, the least first: {sums}.", sums=sums), CAUTION]


def why(result: Discrimination | Ranking) -> str:
    """How the figures were worked out, and after whom."""
    if isinstance(result, Ranking):
        return tr(
            "Friedman's F = 12 / (J P (P + 1)) Σ R² \u2212 3 J (P + 1), divided by 1 \u2212 Σ(t³ \u2212 t) / (J P (P² \u2212 1)) "
            "for ties; p exact over all orders while that is few, else chi-square. Rank sums differ from z √(J P (P + 1) / 6) "
            "on. After ISO 8587."
        )
    return tr(
        "p is the chance that guessing gives as many right answers or more, exact (binomial). d′ is the distance of the two "
        "smells in units of one's own noise, by the psychometric function of the method; bounds are exact (Clopper and Pearson). "
        "After ISO 4120, ISO 10399, ISO 5495."
    )


def effort_told(effort: Effort, papers: int) -> str:
    """'16 sets, 48 papers; 9 must be right. Such a difference is then noticed 87 times in 100.'"""
    return tr(
        "{sets}, {papers}; {needed} must be right. Such a difference is then noticed {times} times in 100.",
        sets=tr_count(effort.n, "{n} set", "{n} sets"), papers=tr_count(effort.n * papers, "{n} paper", "{n} papers"),
        needed=effort.needed, times=round(effort.power * 100),
    )  # fmt: skip


def prepared(test: BlindTest, place: int, letters: Sequence[str]) -> str:
    """What to prepare for a set that one shuffles oneself: '2 papers of A, 1 of B, the letter on the hidden end.'"""
    count = {letter: list(letters).count(letter) for letter in dict.fromkeys(sorted(letters))}
    if test.method == DUO_TRIO:
        count = dict.fromkeys(sorted(letters[1:]), 1)
    papers = [tr("{number} of {letter}", number=number, letter=letter) for letter, number in count.items()]
    if test.method == DUO_TRIO:
        papers.insert(0, tr("1 of {letter} as the open reference", letter=letters[0]))
    return tr(
        "Set {number}: {papers}; write the letter on each hidden end and shuffle them unseen.",
        number=place + 1, papers=", ".join(papers),
    )  # fmt: skip


def _distance(result: Discrimination) -> str:
    return tr("d′ {dprime} ({low} to {high})", dprime=_d(result.dprime), low=_d(result.low), high=_d(result.high))


def _p(p: float) -> str:
    return f"< {figures.fixed(0.001, 3)}" if p < 0.001 else f"= {figures.fixed(p, 3 if p < 0.1 else 2)}"


def _d(value: float) -> str:
    return figures.UNKNOWN if value in (float("inf"), float("-inf")) else figures.fixed(value, 1)


def _percent(share: float) -> str:
    return figures.unit(f"{min(share, 1.0) * 100:.0f}", "%")
