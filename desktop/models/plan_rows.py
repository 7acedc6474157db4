# SPDX-License-Identifier: MIT
"""The plan of a weighing as a table: what, from which bottle and place, how much, how sure, what was read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QObject

from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr
from desktop.models.line_rows import error_text
from desktop.models.table import TableModel
from desktop.models.weigh import PlanRow, waiting
from perfumery import Balance, Finding, weighing

NO_BOTTLE = tr("none")


@dataclass(frozen=True, slots=True)
class PlanView:
    """One row of the plan as it is shown; `error` is the relative uncertainty (k = 2) of its target on the balance, `waits` what
    speaks against a bottle that is not ready yet."""

    place: int
    row: PlanRow
    error: float | None
    is_current: bool
    is_outside: bool
    waits: Finding | None = None


def views(
    rows: tuple[PlanRow, ...], balance: Balance | None, current: int | None, tolerance: float, today: date | None = None,
) -> list[PlanView]:
    """The rows ready to be shown."""
    u = None if balance is None else weighing.K * weighing.net_u(balance)
    return [
        PlanView(
            place, row, None if u is None or not row.planned.target_g else u / row.planned.target_g, place == current,
            row.is_outside(tolerance, balance),
            None if row.bottle is None or row.is_done else waiting(row.bottle.bottle, today),
        )
        for place, row in enumerate(rows)
    ]  # fmt: skip


def read_text(row: PlanRow, d_g: float) -> str:
    """What was read, as the balance shows it; counted drops are no more than about so much."""
    about = "≈ " if any(move.estimated for move in row.moves) else ""
    return f"{about}{figures.mass(row.read_g, d_g)}"


def columns(d_g: Callable[[], float]) -> tuple[Column[PlanView], ...]:
    """The columns; `d_g` says the readability of the chosen balance."""
    return (
        Column("mark", "", lambda v: "▸" if v.is_current else "✓" if v.row.is_done else "", 22, tip=tr("weighed or next")),
        Column("name", tr("line"), lambda v: v.row.name, 150),
        Column("stock", tr("strength"), lambda v: v.row.stock, 110),
        Column("bottle", tr("bottle"), lambda v: NO_BOTTLE if v.row.bottle is None else v.row.bottle.bottle.code, 66),
        Column("place", tr("place"), lambda v: "" if v.row.bottle is None else v.row.bottle.bottle.place, 56),
        Column("target", tr("target"), lambda v: figures.mass(v.row.planned.target_g, d_g()), 70, right=True, unit="g"),
        Column("error", "±", lambda v: error_text(v.error), 60, right=True, unit="%", tip=tr("of the target (k = 2)"),
               sum="uncertainty-of-a-mass"),
        Column("read", tr("read"), lambda v: read_text(v.row, d_g()) if v.row.is_done else "", 70, right=True, unit="g"),
        Column("left", tr("left"), lambda v: "" if v.row.bottle is None else figures.mass(v.row.bottle.left_g, 0.01), 66,
               right=True, unit="g", tip=tr("in the bottle, by the book")),
        Column("inside", tr("of"), lambda v: v.row.inside, 110, tip=tr("the accord that is weighed line by line")),
    )  # fmt: skip


def before_columns(d_g: Callable[[], float]) -> tuple[Column[PlanView], ...]:
    """The columns before the first drop: nothing was read yet."""
    return tuple(column for column in columns(d_g) if column.key not in ("mark", "read"))


class PlanModel(TableModel[PlanView]):
    """Read only; a figure outside its tolerance, and an error larger than it, are amber and say so in the tip."""

    def __init__(self, d_g: Callable[[], float], parent: QObject | None = None, *, before: bool = False) -> None:
        super().__init__(before_columns(d_g) if before else columns(d_g), parent)
        self.tolerance = 0.05
        # {line: why it stands where it stands}
        self.reasons: Mapping[int | None, str] = {}

    def identity(self, row: PlanView) -> tuple[int | None, int | None, int]:
        """The line and bottle at their place."""
        return row.row.planned.line, row.row.planned.bottle, row.place

    def tone(self, row: PlanView, column: Column[PlanView]) -> str:
        """Amber where the balance is too coarse or the figure off; done rows are quiet."""
        if column.key == "error" and row.error is not None and row.error > self.tolerance:
            return "amber"
        if column.key == "read" and row.is_outside:
            return "amber"
        if row.row.bottle is None:
            return "amber" if column.key in ("name", "bottle") else "quiet"
        if row.waits is not None and column.key == "bottle":
            return "amber"
        return "quiet" if row.row.is_done and column.key not in ("read", "name") else "ink"

    def tip(self, row: PlanView, column: Column[PlanView]) -> str:
        """Why a cell is amber."""
        if row.row.bottle is None:
            return tr("No bottle holds this stock. Make it on the Shelf, or choose another version.")
        if row.waits is not None and column.key == "bottle":
            return wording.sentence(row.waits)
        if column.key in ("mark", "name"):
            return self.reasons.get(row.row.planned.line, "")
        if column.key == "error" and row.error is not None and row.error > self.tolerance:
            return tr("The balance is too coarse for so little: take a larger amount, a weaker dilution, or another balance.")
        if column.key == "read" and row.is_outside:
            off = row.row.off_g
            by = figures.unit(figures.parts(round(abs(off), 6)), "g")
            return tr("{mass} more than its target", mass=by) if off > 0 else tr("{mass} less than its target", mass=by)
        return ""
