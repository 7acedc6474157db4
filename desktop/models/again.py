# SPDX-License-Identifier: MIT
"""Whether a version can be made again today, as rows of ready strings: what differs first, what is as before folded into one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from PySide6.QtCore import QObject

from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.table import TableModel
from perfumery import Bottle
from perfumery.again import AgainToday
from perfumery.again_line import AgainLine


@dataclass(frozen=True, slots=True)
class AgainRow:
    """One liquid as it is shown, or the row that the others are folded into: then `line` is None."""

    name: str
    stock: str = ""
    then: str = ""
    today: str = ""
    weigh: str = ""
    left: str = ""
    said: str = ""
    line: AgainLine | None = None
    is_identical: bool = True


def bottle_text(bottle: Bottle | None, *, opened: bool = False) -> str:
    """'M01-1 · L2411-001', with the day it was opened where that is wanted."""
    if bottle is None:
        return ""
    day = figures.day(bottle.opened_on) if opened and bottle.opened_on is not None else ""
    return " · ".join(filter(None, (bottle.code, bottle.lot, day)))


def said_of(line: AgainLine, *, is_compared: bool) -> str:
    """All that was noticed of a line; that it is as before where there is nothing."""
    return " ".join(map(wording.sentence, line.findings)) or (tr("as before") if is_compared else tr("ready"))


def row_of(line: AgainLine, carriers: Mapping[int, str], *, is_compared: bool) -> AgainRow:
    """A liquid ready to be shown; `carriers` {material: its name behind a strength}."""
    carrier = "" if line.line.carrier is None else carriers.get(line.line.carrier, "")
    then = bottle_text(line.then[0].bottle, opened=True) if line.then else figures.UNKNOWN
    if len(line.then) > 1:
        then = tr("{bottle} and {others} more", bottle=then, others=len(line.then) - 1)
    return AgainRow(
        name=tr("{name} (of {accord})", name=line.name, accord=line.inside) if line.inside else line.name,
        stock=figures.stock_text(line.line.strength, carrier),
        then=then,
        today=bottle_text(line.today) or tr("none"),
        weigh=figures.mass(line.weigh_g),
        left="" if line.today is None else figures.mass(line.left_g, 0.01),
        said=said_of(line, is_compared=is_compared),
        line=line,
        is_identical=is_quiet(line, is_compared=is_compared),
    )


def is_quiet(line: AgainLine, *, is_compared: bool) -> bool:
    """Whether a line needs no look: it is as before, or nothing speaks against it where nothing is compared."""
    return line.is_identical if is_compared else not line.graves


def rows_of(found: AgainToday, carriers: Mapping[int, str], *, unfolded: bool) -> list[AgainRow]:
    """What differs, then one row for all that does not, and behind it those lines where they are wanted."""
    is_compared = found.trial is not None
    rows = [row_of(line, carriers, is_compared=is_compared) for line in found.lines]
    quiet = [row for row in rows if row.is_identical]
    differing = [row for row in rows if not row.is_identical]
    if not quiet:
        return differing
    if is_compared:
        named = tr_count(len(quiet), "{n} line as before", "{n} lines as before")
    else:
        named = tr_count(len(quiet), "{n} line ready", "{n} lines ready")
    fold = AgainRow(named, said=tr("Space folds them") if unfolded else tr("Space shows them"))
    return [*differing, fold, *(quiet if unfolded else ())]


COLUMNS: tuple[Column[AgainRow], ...] = (
    Column("name", tr("line"), lambda row: row.name, 180),
    Column("stock", tr("strength"), lambda row: row.stock, 116),
    Column("then", tr("then"), lambda row: row.then, 238, tip=tr("bottle, lot and the day it was opened")),
    Column("today", tr("today"), lambda row: row.today, 142,
           tip=tr("the same lot first, else the one opened first; enough left counts")),
    Column("weigh", tr("to weigh"), lambda row: row.weigh, 84, right=True, unit="g", tip=tr("for the same neat amount")),
    Column("left", tr("left"), lambda row: row.left, 74, right=True, unit="g", tip=tr("by the book"), hidden=True),
    Column("said", tr("what differs"), lambda row: row.said, 260),
)  # fmt: skip


class AgainModel(TableModel[AgainRow]):
    """Read only; lines as before are quiet."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: AgainRow) -> tuple[int | None, str]:
        """The line, and the accord it stands in."""
        return (None, "") if row.line is None else (row.line.line.key, row.line.inside)

    def tone(self, row: AgainRow, column: Column[AgainRow]) -> str:
        """Ink what differs."""
        if row.line is None and column.key == "name":
            return "ink"
        if row.is_identical:
            return "quiet"
        return "amber" if column.key == "said" else "ink"

    def tip(self, row: AgainRow, column: Column[AgainRow]) -> str:
        """What opens a row."""
        if row.line is None:
            return tr("Space, Enter or a click")
        return "" if row.line.today is None else tr("Enter: the bottle on the Shelf")
