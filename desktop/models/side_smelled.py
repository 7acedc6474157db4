# SPDX-License-Identifier: MIT
"""What versions did on their strips: one strip of each, as alike in age as there are, at equal elapsed time, and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject

from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.sittings import ages_told
from desktop.models.strip_figures import FigureRow, differences, dues_of, rows_of
from desktop.models.strips import LEVEL, StripCard
from desktop.models.table import TableModel
from perfumery import OwnNoise, Version
from perfumery.smelling import answered

MOST_WORDS = 6


def strips_of(cards: Sequence[StripCard], versions: Sequence[Version]) -> dict[int, list[StripCard]]:
    """{version: its paper strips that were read, newest first}; what is under seal belongs to no version."""
    found: dict[int, list[StripCard]] = {version.key: [] for version in versions if version.key is not None}
    for card in cards:
        if card.version in found and card.is_read and card.strip.kind == "paper" and not card.blind:
            found[card.version].append(card)
    return found


def best_of(strips: Mapping[int, list[StripCard]]) -> dict[int, int]:
    """{version: the strip to compare}: those of like age first, then of one sitting, then with most times in common, then the
    newest. Versions without a strip are left out."""
    rows = {
        key: {row.card.key: row for row in rows_of(own, LEVEL)} for key, own in strips.items() if own
    }  # fmt: skip
    if not rows:
        return {}
    first = next(iter(rows))
    best: tuple[tuple[float, ...], dict[int, int]] | None = None
    for place, anchor in enumerate(rows[first].values()):
        chosen, score = {first: anchor.card.key}, [0.0, 0.0, 0.0]
        for key, own in rows.items():
            if key == first:
                continue
            fits = [(_fit(anchor, row), -at, row.card.key) for at, row in enumerate(own.values())]
            fit, _, strip = max(fits)
            chosen[key] = strip
            score = [one + other for one, other in zip(score, fit, strict=True)]
        ranked = ((*score, float(-place)), chosen)
        if best is None or ranked[0] > best[0]:
            best = ranked
    assert best is not None
    return best[1]


def _fit(anchor: FigureRow, row: FigureRow) -> tuple[float, float, float]:
    """How well two strips compare: of like age, in one sitting, read at the same times."""
    sitting = anchor.card.strip.sitting
    return (
        float(anchor.ages.matches(row.ages)), float(sitting is not None and sitting == row.card.strip.sitting),
        float(len(anchor.at.keys() & row.at.keys())),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Smelled:
    """The chosen strips as rows: each with what was read, those after the first also as a difference to it."""

    rows: tuple[FigureRow, ...]
    dues: tuple[float, ...]
    told: tuple[str, ...]
    ages: str


def smelled(cards: Sequence[StripCard], noise: OwnNoise | None) -> Smelled:
    """Strips beside each other, in their order; the first is what the others are held against."""
    rows = rows_of(cards, LEVEL)
    shown: list[FigureRow] = []
    for row in rows:
        shown.append(row)
        if row is not rows[0]:
            held = differences(row, rows[0])
            shown.append(replace(row, differences=held, noise=noise, other_age=not row.ages.matches(rows[0].ages)))
    # of more than two the words would be a list that nobody reads
    words = _words(*rows) if len(rows) == 2 else ""
    said = [_beyond_noise(rows, noise), words, _whole(rows)] if len(rows) > 1 else []
    return Smelled(tuple(shown), dues_of(cards), tuple(filter(None, said)), ages_told(cards) if len(cards) > 1 else "")


def _beyond_noise(rows: Sequence[FigureRow], noise: OwnNoise | None) -> str:
    """Which differences are more than one's own noise."""
    if noise is None:
        return tr("Your own noise is not yet known, so no difference can be called more than chance.")
    beyond = []
    for row in rows[1:]:
        for due, off in differences(row, rows[0]).items():
            if noise.counts(off):
                steps, time = figures.signed(off), figures.due_text(due)
                beyond.append(tr("{subject} {steps} at {time}", subject=row.card.subject, steps=steps, time=time))
    limit = figures.fixed(noise.limit, 2)
    if not beyond:
        return tr("No difference is beyond your own noise ({limit}).", limit=limit)
    told = figures.listed(beyond, most=MOST_WORDS)
    return tr("Beyond your own noise ({limit}): {differences}.", limit=limit, differences=told)


def _words(first: FigureRow, second: FigureRow) -> str:
    """Words that were written of one strip and not of the other at the same time."""
    before, after = (answered(row.card.readings, row.card.strip) for row in (first, second))
    told = []
    for due in sorted(before.keys() & after.keys()):
        for row, own, others in ((second, after, before), (first, before, after)):
            time, subject = figures.due_text(due), row.card.subject
            more = [word for word in own[due].words if word not in others[due].words]
            told += [tr("{word} at {time} only in {subject}", word=word, time=time, subject=subject) for word in more]
    if not told:
        return tr("The same words at every time.")
    return tr("In words: {differences}.", differences=figures.listed(told, most=MOST_WORDS))


def _whole(rows: Sequence[FigureRow]) -> str:
    areas = [figures.UNKNOWN if row.figures.area is None else figures.fixed(row.figures.area, 1) for row in rows]
    falls = [_fall(row) for row in rows]
    span = f"{figures.elapsed(rows[0].figures.area_from_h)}–{figures.elapsed(rows[0].figures.area_to_h)}"
    return tr(
        "Area {span}: {areas}. Below {level} after {falls}.",
        span=span, areas=" · ".join(areas), level=figures.parts(LEVEL), falls=" · ".join(falls),
    )


def _fall(row: FigureRow) -> str:
    (below,) = row.figures.below
    if below.fall is not None:
        return figures.elapsed(below.fall.at_h)
    return figures.UNKNOWN if below.not_by_h is None else f"> {figures.elapsed(below.not_by_h)}"


def _cell(due_s: float) -> Column[FigureRow]:
    def text(row: FigureRow) -> str:
        value = row.at.get(due_s) if row.differences is None else row.differences.get(due_s)
        if value is None:
            return ""
        return figures.parts(value) if row.differences is None else figures.signed(value)

    return Column(f"at {due_s:g}", figures.due_text(due_s), text, 46, right=True)


class SmelledModel(TableModel[FigureRow]):
    """Read only: a strip's intensities, and below them its differences to the first, grey where they may be chance."""

    def __init__(self, dues: Sequence[float], parent: QObject | None = None) -> None:
        made: tuple[Column[FigureRow], ...] = (
            Column("what", "", _what, 110),
            Column("ages", tr("age · in alcohol"), lambda row: "" if row.differences is not None else row.ages.told, 96,
                   tip=tr("of the mix when it was dipped: as concentrate, in alcohol")),
            *(_cell(due) for due in dues),
        )  # fmt: skip
        super().__init__(made, parent)

    def identity(self, row: FigureRow) -> tuple[int, bool]:
        """The strip, and whether these are its differences."""
        return (row.card.key, row.differences is not None)

    def tone(self, row: FigureRow, column: Column[FigureRow]) -> str:
        """Quiet what may be chance; amber an age that does not match."""
        if row.differences is None:
            return "quiet" if column.key == "ages" else "ink"
        if column.key == "what":
            return "amber" if row.other_age else "quiet"
        return "ink" if column.key.startswith("at ") and row.counts(float(column.key[3:])) and row.noise is not None else "quiet"

    def tip(self, row: FigureRow, column: Column[FigureRow]) -> str:
        """Why a figure is quiet or amber."""
        if row.differences is None:
            return ""
        if column.key == "what" and row.other_age:
            return tr("Not within 2 days or 20 % of the first's age: a difference may be one of age.")
        due = float(column.key[3:]) if column.key.startswith("at ") else None
        if due is None or due not in row.differences or row.noise is None or row.counts(due):
            return ""
        return tr("a difference up to {limit} may be chance", limit=figures.fixed(row.noise.limit, 2))


def _what(row: FigureRow) -> str:
    if row.differences is None:
        return row.card.label
    return "   " + (tr("difference (age)") if row.other_age else tr("difference"))
