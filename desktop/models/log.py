# SPDX-License-Identifier: MIT
"""The log of one strip as rows of ready strings: readings, missed times, and earlier wordings where they are wanted."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.strips import StripCard
from desktop.models.table import TableModel
from desktop.models.vocabulary import with_weight
from perfumery import Reading
from perfumery.instants import hours
from perfumery.smelling import answers, elapsed_s, is_late, lateness_s


@dataclass(frozen=True, slots=True)
class LogRow:
    """One row. `kind` is 'reading', 'missed' or 'earlier' (a wording that was corrected); `reading` None when missed."""

    kind: str
    elapsed_h: float
    reading: Reading | None = None
    due_s: float | None = None
    late_s: float | None = None
    corrected: bool = False
    today: datetime | None = None
    after_reveal: bool = False

    @property
    def is_late(self) -> bool:
        """Whether the reading came late."""
        return self.late_s is not None


def _elapsed(row: LogRow) -> str:
    if row.kind == "missed":
        return figures.due_text(row.due_s)
    time = figures.elapsed(row.elapsed_h)
    return tr("{time} late", time=time) if row.is_late else time


def _mark(row: LogRow) -> str:
    if row.kind == "missed":
        return tr("missed")
    marks = [tr("corrected")] if row.corrected else []
    if row.kind == "earlier":
        marks.append(tr("earlier wording") if row.reading is not None and not row.reading.withdrawn else tr("withdrawn"))
    if row.after_reveal:
        marks.insert(0, tr("after reveal"))
    if row.late_s is not None:
        marks.insert(0, figures.lateness(row.late_s))
    return ", ".join(marks)


def _words(row: LogRow) -> str:
    if row.reading is None:
        return tr("— missed")
    return ", ".join(words_text(row.reading, weights=False))


def words_text(reading: Reading, *, weights: bool) -> list[str]:
    """The words of a reading, heaviest first; with `weights` as they are typed: 'wet stone 3'."""
    ordered = sorted(reading.words.items(), key=lambda item: -item[1])
    return [with_weight(word, weight) if weights else word for word, weight in ordered]


def _reading(get: Any, default: str = "") -> Any:
    return lambda row: default if row.reading is None else get(row.reading)


COLUMNS: tuple[Column[LogRow], ...] = (
    Column("elapsed", tr("elapsed"), _elapsed, 92, plain=lambda row: float(f"{row.elapsed_h:.6g}"), tip=tr("time since the dip")),
    Column(
        "read", tr("read at"), lambda row: "" if row.reading is None else figures.moment(row.reading.at, row.today), 132,
        plain=_reading(lambda r: r.at.isoformat()),
    ),
    Column("intensity", tr("int."), _reading(lambda r: figures.parts(r.intensity)), 36, right=True, tip=tr("intensity 0 to 6"),
           plain=_reading(lambda r: r.intensity)),
    Column("distance", "cm", _reading(lambda r: figures.parts(r.distance_cm)), 34, right=True,
           tip=tr("distance at which it is first noticed"), plain=_reading(lambda r: r.distance_cm)),
    Column("liking", tr("like"), _reading(lambda r: figures.signed(r.liking)), 36, right=True, tip=tr("liking \u22124 to +4"),
           plain=_reading(lambda r: r.liking)),
    Column("words", tr("words"), _words, 180, plain=_reading(lambda r: ", ".join(words_text(r, weights=True)), "missed")),
    Column("note", tr("note"), _reading(lambda r: r.note.replace("\n", " ")), 200),
    Column("mark", tr("mark"), _mark, 110),
)  # fmt: skip
NARROW = ("elapsed", "intensity", "distance", "liking", "words")
MIDDLE = (*NARROW, "note")
QUIET = ("words", "note", "read", "mark")


def log_rows(book: Book, card: StripCard, today: datetime, *, earlier: bool = False) -> list[LogRow]:
    """The rows of a strip by elapsed time; with `earlier` each corrected reading is followed by its older wordings."""
    strip, rows = card.strip, []
    for reading in card.readings:
        rows.append(_row(card, reading, "reading", today, corrected=reading.replaces is not None))
        if earlier and reading.replaces is not None and reading.key is not None:
            # at the corrected reading's own time, so that both stay together
            at_h = hours(strip.dipped_at, reading.at)
            rows += [_row(card, old, "earlier", today, at_h=at_h) for old in book.history(reading.key)]
    for point in card.points:
        if point.state == "missed":
            rows.append(LogRow("missed", point.due_s / 3600, due_s=point.due_s))
    order = {"reading": 0, "earlier": 1, "missed": 2}
    return sorted(rows, key=lambda row: (row.elapsed_h, order[row.kind]))


def _row(
    card: StripCard, reading: Reading, kind: str, today: datetime, *, corrected: bool = False, at_h: float | None = None
) -> LogRow:
    due_s = reading.due_s if reading.due_s is not None else answers(card.strip, reading.at)
    late = is_late(due_s, elapsed_s(card.strip, reading.at))
    return LogRow(
        kind,
        hours(card.strip.dipped_at, reading.at) if at_h is None else at_h,
        reading,
        due_s,
        lateness_s(card.strip, reading.at, due_s) if late else None,
        corrected,
        today,
        after_reveal=card.revealed_at is not None and (reading.entered_at or reading.at) > card.revealed_at,
    )


class LogModel(TableModel[LogRow]):
    """The rows of one strip."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: LogRow) -> Hashable:
        return (row.kind, row.due_s if row.reading is None else row.reading.key)

    def tone(self, row: LogRow, column: Column[LogRow]) -> str:
        if row.kind == "missed" or (row.is_late and column.key in ("elapsed", "mark")):
            return "amber"
        return "quiet" if row.kind == "earlier" or column.key in QUIET else "ink"

    def tip(self, row: LogRow, column: Column[LogRow]) -> str:
        if row.reading is None:
            return tr("Nothing was read at {time}.", time=figures.due_text(row.due_s))
        entered = row.reading.entered_at
        read = figures.moment(row.reading.at, row.today)
        if entered is None or entered == row.reading.at:
            return tr("read {moment}", moment=read)
        return tr("read {moment}, typed {typed}", moment=read, typed=figures.moment(entered, row.today))
