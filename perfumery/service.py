# SPDX-License-Identifier: MIT
"""Days that come due on a bottle: its re-test, its dropper cap, a solution that becomes ready.

The months after which a material is smelled again are habits of this bench; no standard fixes them. That rubber dropper caps
are changed yearly is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Literal

from perfumery.ledger import months_after
from perfumery.values import HABITS, Bottle, Habit, Material

# Only these age towards a re-test; what was made from them is smelled on strips.
RETESTED = ("bought", "dilution")
# A solution that has become ready is said for so many days.
READY_SAID_DAYS = 7
State = Literal["due", "soon", ""]


def habits(own: Iterable[Habit]) -> dict[str, float]:
    """Every habit with the perfumer's own figure where there is one."""
    return {**HABITS, **{habit.name: habit.value for habit in own}}


def retest_months(material: Material, known: Mapping[str, float]) -> int | None:
    """Months from opening to the next re-test: the material's own, else those of its form; None where neither says one."""
    return material.retest_months or int(known.get(f"re-test months {material.form}", 0)) or None


def retest_on(bottle: Bottle, months: int | None, made_on: date | None = None) -> date | None:
    """The day of the next re-test: the one written on the bottle, else so many months after it was opened, or made.

    `made_on` counts for a dilution that has no day of opening. None for a trial vial and the like, and where nothing is known.
    """
    if bottle.retest_on is not None:
        return bottle.retest_on
    start = bottle.opened_on or (made_on if bottle.kind == "dilution" else None)
    if bottle.kind not in RETESTED or start is None or not months:
        return None
    return months_after(start, months)


def dropper_due(bottle: Bottle, known: Mapping[str, float]) -> date | None:
    """The day on which a dropper cap has done its time."""
    months = int(known["dropper cap months"])
    return None if bottle.dropper_on is None or not months else months_after(bottle.dropper_on, months)


def state(on: date | None, today: date) -> State:
    """'due' from the day itself, 'soon' from a month before, else ''."""
    if on is None or today < months_after(on, -1):
        return ""
    return "due" if today >= on else "soon"
