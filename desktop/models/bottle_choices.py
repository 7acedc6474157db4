# SPDX-License-Identifier: MIT
"""The bottles a line can be weighed from as a table: code, lot, what is left, true strength."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QObject

from db import BottleRow
from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr
from desktop.models.table import TableModel
from desktop.models.weigh import waiting
from perfumery import Finding


@dataclass(frozen=True, slots=True)
class Choice:
    """One bottle; `is_taken` where the line comes from it now, `is_short` where it holds less than the line takes, `waits` what
    speaks against one that is not ready yet."""

    row: BottleRow
    is_taken: bool
    is_short: bool
    waits: Finding | None = None


def choices(rows: Sequence[BottleRow], taken: int | None, target_g: float, today: date | None = None) -> list[Choice]:
    """The bottles as they are shown."""
    return [
        Choice(row, row.key == taken, row.left_g is not None and row.left_g + 1e-9 < target_g, waiting(row.bottle, today))
        for row in rows
    ]


COLUMNS: tuple[Column[Choice], ...] = (
    Column("taken", "", lambda c: "●" if c.is_taken else "○", 24, tip=tr("taken")),
    Column("bottle", tr("bottle"), lambda c: c.row.bottle.code, 64),
    Column("lot", tr("lot"), lambda c: c.row.bottle.lot or c.row.bottle.supplier_no, 80),
    Column("left", tr("left"), lambda c: figures.mass(c.row.left_g, 0.01), 62, right=True, unit="g",
           tip=tr("by the book"), sum="what-is-left"),
    Column("strength", tr("true"), lambda c: figures.percent(c.row.strength), 62, right=True, unit="%",
           tip=tr("strength by what it was made of"), sum="true-strength"),
)  # fmt: skip


class ChoiceModel(TableModel[Choice]):
    """Read only; a bottle that holds too little is amber and says so."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: Choice) -> int:
        """The bottle."""
        return row.row.key

    def tone(self, row: Choice, column: Column[Choice]) -> str:
        """Amber where too little is left, and at a bottle that is not ready."""
        if row.waits is not None and column.key == "bottle":
            return "amber"
        return "amber" if row.is_short and column.key == "left" else "ink"

    def tip(self, row: Choice, column: Column[Choice]) -> str:
        """Why it is amber, or how it is taken."""
        if row.waits is not None and column.key == "bottle":
            return wording.sentence(row.waits)
        is_left = row.is_short and column.key == "left"
        return tr("less than this line takes") if is_left else tr("Enter or a click: weigh it from this one")
