# SPDX-License-Identifier: MIT
"""The lines of a sheet typed in from paper: what was typed, what it was understood as, and what keeps it from being booked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, Qt

from db import Book, BottleRow
from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr
from desktop.models.moments import Unreadable, parse_moment
from desktop.models.table import TableModel
from desktop.models.weigh import TOLERANCE, PlanRow
from desktop.pages.masses import mass_of
from perfumery import Balance, Finding, Refused, ledger, weighing
from perfumery.picking import is_ready
from perfumery.text import fold

LEFT_OUT_SHOWN = tr("left out")
LEFT_OUT = ("-", "–", "—", "−", "none", "left out", tr("none").casefold(), LEFT_OUT_SHOWN.casefold())
EDITABLE = ("bottle", "figure")


def example() -> str:
    """A day and time as they may be typed."""
    one = datetime(2025, 2, 26, 10, 25, tzinfo=UTC)
    return f"{figures.day(one)} {figures.clock(one)}"


def hour_of(text: str, now: datetime) -> datetime:
    """When a sheet was weighed: a day and a time, '26 Feb 2025 10:25', '26.2.2025 10:25', or only a time. Raises Unreadable."""
    bare = " ".join(text.split())
    if not bare:
        raise Unreadable(tr("Write the day and time it was weighed, as {example}, or now.", example=example()))
    return parse_moment(bare, now)


def at_hand(book: Book, bottle: int, at: datetime) -> float | None:
    """g that could still be drawn from a bottle at an hour by the book; None where nobody knows. What is booked for before a
    re-weighing leaves what was found as it is, and is held to what the book said before."""
    moves = book.bottles.moves(bottle)
    if not ledger.is_known(bottle, moves):
        return None
    found = ledger.last_found(bottle, moves)
    if found is not None and at < found.at:
        return max(ledger.book_mass(bottle, [m for m in moves if (m.at, m.key or 0) < (found.at, found.key or 0)]), 0.0)
    return max(book.left(bottle)[bottle], 0.0)


# rows -------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TypedRow:
    """A line of the sheet: what was typed for it, and what it was understood as. `wrong` is what keeps it from being booked,
    `noted` only tells; either is about the cell `cell`."""

    place: int
    row: PlanRow
    code: str = ""
    figure: str = ""
    bottle: BottleRow | None = None
    mass_g: float | None = None
    is_out: bool = False
    wrong: str = ""
    cell: str = ""
    noted: str = ""

    @property
    def name(self) -> str:
        """The line in words."""
        return " ".join(filter(None, (self.row.name, self.row.stock)))

    @property
    def is_open(self) -> bool:
        """Whether it has neither a figure nor was it left out."""
        return not self.figure.strip()


def columns(d_g: Callable[[], float]) -> tuple[Column[TypedRow], ...]:
    """The columns; `d_g` says the readability of the chosen balance."""
    return (
        Column("place", "", lambda r: str(r.place + 1), 34, right=True, tip=tr("place in the order of weighing")),
        Column("name", tr("line"), lambda r: r.row.name, 150),
        Column("stock", tr("strength"), lambda r: r.row.stock, 110),
        Column("inside", tr("of"), lambda r: r.row.inside, 100, tip=tr("the accord that was weighed line by line")),
        Column("bottle", tr("bottle"), lambda r: r.code, 76, tip=tr("Type the code of another one where another was used")),
        Column("target", tr("target"), lambda r: figures.mass(r.row.planned.target_g, d_g()), 76, right=True, unit="g"),
        Column("figure", tr("figure read"), lambda r: LEFT_OUT_SHOWN if r.is_out else r.figure, 96, right=True, unit="g"),
        Column("off", tr("off"), lambda r: _off(r, d_g()), 76, right=True, unit="g", tip=tr("from its target")),
        Column("told", "", lambda r: r.wrong or r.noted, 220),
    )  # fmt: skip


def _off(row: TypedRow, d_g: float) -> str:
    return "" if row.mass_g is None else figures.off(row.mass_g - row.row.planned.target_g, d_g)


def judged(
    rows: Sequence[TypedRow], shelf: dict[str, BottleRow], held: Callable[[int], tuple[float | None, str]], *,
    is_running: bool = False, balance: Balance | None = None, on: date | None = None,
) -> list[TypedRow]:  # fmt: skip
    """The rows with what was typed understood: masses, bottles, what is wrong. `held(bottle)` says what could be drawn from it
    (None: nobody knows) and why nothing of it can be reckoned with, '' where it can; `on` the day of the sheet."""
    made, inside, drawn = [], 0.0, dict[int, float]()
    noise = 0.0 if balance is None else weighing.K * weighing.net_u(balance)
    for row in rows:
        text, bottle = row.figure.strip(), shelf.get(fold(row.code.strip()))
        is_out = text.casefold() in LEFT_OUT
        mass, wrong, cell, noted = None, "", "", ""
        if text and not is_out:
            try:
                mass = mass_of(text)
            except Refused as fault:
                wrong, cell = wording.sentences(fault.findings), "figure"
            if mass is not None and is_running:
                if mass <= inside:
                    wrong = tr("{mass} are in already; the total cannot be less.", mass=figures.mass_text(inside))
                    mass, cell = None, "figure"
                else:
                    inside, mass = mass, round(mass - inside, 9)
        if not is_out and not wrong and bottle is None:
            code = row.code.strip()
            wrong, cell = tr("There is no bottle {code}.", code=code) if code else tr("No bottle is named for it."), "bottle"
        if mass is not None and bottle is not None and not wrong:
            left, why = held(bottle.key)
            already = drawn.get(bottle.key, 0.0)
            drawn[bottle.key] = already + mass
            if why:
                wrong, cell = why, "bottle"
            elif left is not None and already + mass > left + 1e-6:
                facts = {"code": bottle.bottle.code, "left_g": max(left - already, 0.0), "wanted_g": mass}
                wrong, cell = wording.sentence(Finding("beyond-left", facts)), "figure"
        if mass is not None and not wrong:
            target = row.row.planned.target_g
            if bottle is not None and bottle.key not in {one.key for one in row.row.choices} | {row.row.planned.bottle}:
                noted = tr("{code} is {what}: booked as what it holds.", code=bottle.bottle.code, what=bottle.what)
                cell = "bottle"
            elif bottle is not None and not is_ready(bottle.bottle, on):
                facts = {"code": bottle.bottle.code, "day": figures.day(bottle.bottle.ready_on)}
                noted = tr("{code} was not ready before {day}: a solid in it was still dissolving.", **facts)
                cell = "bottle"
            elif abs(mass - target) > max(TOLERANCE * target, noise) + 1e-12:
                part = figures.short(abs(mass - target) / target * 100, 3)
                noted = tr("{part}\u2009% more than its target", part=part)
                if mass < target:
                    noted = tr("{part}\u2009% less than its target", part=part)
                cell = "figure"
        made.append(replace(row, bottle=bottle, mass_g=mass, is_out=is_out, wrong=wrong, cell=cell, noted=noted))
    return made


class TypedModel(TableModel[TypedRow]):
    """The lines; bottle and figure are typed. `typed(place, column key, text)` is asked to keep what was typed."""

    def __init__(self, d_g: Callable[[], float], typed: Callable[[int, str, str], bool], parent: QObject | None = None) -> None:
        super().__init__(columns(d_g), parent)
        self._typed = typed

    def identity(self, row: TypedRow) -> tuple[int | None, int]:
        """The line at its place."""
        return row.row.planned.line, row.place

    def tone(self, row: TypedRow, column: Column[TypedRow]) -> str:
        """Brick in the cell that is wrong, amber where a figure is off or another stock was used."""
        if row.wrong and column.key in (row.cell, "told"):
            return "brick"
        if row.noted and (column.key in (row.cell, "told") or (column.key, row.cell) == ("off", "figure")):
            return "amber"
        return "quiet" if row.is_out or column.key in ("place", "inside") else "ink"

    def tip(self, row: TypedRow, column: Column[TypedRow]) -> str:
        """What is wrong or noted."""
        return (row.wrong or row.noted) if column.key in (*EDITABLE, "told") else ""

    def edit_text(self, row: TypedRow, column: Column[TypedRow]) -> str:
        """What was typed, as it was typed."""
        return row.figure if column.key == "figure" else row.code

    def flags(self, index: QModelIndex | QPersistentModelIndex) -> Qt.ItemFlag:
        flags = super().flags(index)
        return flags | Qt.ItemFlag.ItemIsEditable if self.columns[index.column()].key in EDITABLE else flags

    def setData(self, index: QModelIndex | QPersistentModelIndex, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or not index.isValid():
            return False
        return self._typed(index.row(), self.columns[index.column()].key, str(value))
