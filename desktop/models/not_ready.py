# SPDX-License-Identifier: MIT
"""Bottles of a plan in which a solid is still dissolving, and what could be weighed from instead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from db import BottleRow
from desktop.models.weigh import Plan, PlanRow, waiting
from perfumery import Finding


@dataclass(frozen=True, slots=True)
class NotReady:
    """A bottle that is not ready yet, the lines weighed from it, and the ready bottles that all of them can come from."""

    finding: Finding
    lines: tuple[int, ...]
    others: tuple[BottleRow, ...]


def not_ready(plan: Plan, today: date) -> tuple[NotReady, ...]:
    """Every such bottle, in the order of the plan."""
    drawn: dict[int, list[PlanRow]] = {}
    for row in plan.rows:
        if row.bottle is not None and not row.is_done:
            drawn.setdefault(row.bottle.key, []).append(row)
    found = []
    for rows in drawn.values():
        finding = None if rows[0].bottle is None else waiting(rows[0].bottle.bottle, today)
        if finding is None:
            continue
        shared = set.intersection(*({choice.key for choice in row.choices} for row in rows))
        others = (
            choice for choice in rows[0].choices
            if choice.key in shared and waiting(choice.bottle, today) is None and (choice.left_g is None or choice.left_g > 0)
        )  # fmt: skip
        lines = tuple(row.planned.line for row in rows if row.planned.line is not None)
        found.append(NotReady(finding, lines, tuple(others)))
    return tuple(found)
