# SPDX-License-Identifier: MIT
"""Whether a version can be made again today, as rows of ready strings and a headline."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QObject

from desktop import figures, wording
from desktop.columns import Column
from desktop.models.table import TableModel
from perfumery import Bottle
from perfumery.again import AgainToday

MOST_NAMED = 3


def _bottle(bottle: Bottle | None) -> str:
    """'M01-1 · L2411-001'."""
    return "" if bottle is None else " · ".join(filter(None, (bottle.code, bottle.lot)))


def _then(line: Any) -> str:
    return "" if not line.then else _bottle(line.then[0].bottle)


def _weigh(line: Any) -> str:
    mass = figures.mass(line.weigh_g)
    return mass if abs(line.weigh_g - line.written_g) < 5e-4 else f"{mass} for {figures.mass(line.written_g)}"


COLUMNS: tuple[Column[Any], ...] = (
    Column("name", "line", lambda line: line.name, 170),
    Column("then", "then", _then, 148),
    Column("today", "today", lambda line: _bottle(line.today), 148),
    Column("weigh", "to weigh", _weigh, 116, unit="g"),
    Column("left", "left", lambda line: figures.mass(line.left_g) if line.left_g is not None else figures.UNKNOWN, 76, right=True,
           unit="g"),
    Column("said", "what differs", lambda line: " ".join(map(wording.sentence, line.findings)) or "as before", 300),
)  # fmt: skip


class AgainModel(TableModel[Any]):
    """Read only; lines as before are quiet."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: Any) -> tuple[int | None, str]:
        """The line, and the accord it stands in."""
        return (row.line.key, row.inside)

    def tone(self, row: Any, column: Column[Any]) -> str:
        """Ink what differs."""
        if row.is_identical:
            return "quiet"
        return "amber" if column.key == "said" else "ink"


def headline(found: AgainToday) -> str:
    """'20 of 21 lines as before; K19 is 5 % strong: weigh 0.095 g for 0.100 g.'"""
    said = [wording.sentence(one) for one in found.findings]
    differ = [line for line in found.lines if not line.is_identical]
    if found.trial is not None:
        said.append(f"{found.identical} of {figures.count(len(found.lines), 'line')} as in {found.trial.code}.")
    said += [wording.sentence(one) for line in differ[:MOST_NAMED] for one in line.graves[:2]]
    if len(differ) > MOST_NAMED:
        said.append(f"And {len(differ) - MOST_NAMED} more differ.")
    return " ".join(said)


def in_figures(found: AgainToday, currency: str) -> str:
    """The largest amount and the cost, then and today."""
    said = []
    if found.largest_g is not None:
        back = "" if found.held_back_by is None else f", held back by {found.held_back_by.name}"
        said.append(f"At most {figures.mass_text(found.largest_g)} of it on hand{back}.")
    costs = (("then", found.cost_then, found.unpriced[0]), ("today", found.cost_now, found.unpriced[1]))
    told = [f"{figures.money(cost, currency, at_least=bool(lacks))} {when}" for when, cost, lacks in costs if cost is not None]
    if told:
        said.append(f"Cost: {', '.join(told)}.")
    return " ".join(said)


def proof(found: AgainToday) -> str:
    """The proof that is offered: a little remade, against the vial that was kept."""
    kept = next((vial for vial in found.vials if vial.left_g is None or vial.left_g > 0), None)
    if kept is None:
        return "No vial of it is kept, so a remake can be held against notes and curves only. Keep a little of the next one."
    left = "" if kept.left_g is None else f", {figures.mass_text(kept.left_g)} left"
    return (
        f"The proof: remake a little, let it come to a like age, and smell it blind against {kept.bottle.code} ({kept.trial.code}"
        f"{left}) in a triangle test. Smell, blind tests, says how many sets it takes."
    )


def ordered(lines: Sequence[Any]) -> list[Any]:
    """What differs first."""
    return sorted(lines, key=lambda line: line.is_identical)
