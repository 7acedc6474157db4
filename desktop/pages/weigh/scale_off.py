# SPDX-License-Identifier: MIT
"""What is done about a figure that is off, at the balance: told, worked out, chosen."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt

from desktop import figures
from desktop.language import tr
from desktop.models.answers import Answer, Off, cured
from perfumery import Planned
from perfumery.overpour import COMPLETE, DISCARD, KEEP, TOP_UP

if TYPE_CHECKING:
    from desktop.pages.weigh.scale import ScaleView

NO_CURE = tr("No cure worth making: accept it, or throw it away.")
NOT_FEWER = tr("Few additions do not bring every share within the tolerance.")
# Reading it for the first time takes longer than a key may; from then on few additions are worked out unasked.
HEAVY = "scipy.optimize"


class OffFigure:
    """The figure that is off, if there is one, and its answers."""

    def __init__(self, view: ScaleView) -> None:
        self._view = view
        self.off: Off | None = None
        self._answers: dict[str, Answer] = {}

    def tell(self, place: int, *, before: Mapping[int, float] | None = None, empty: bool = False) -> None:
        """Shows the answers to what is off at a row of the plan."""
        view = self._view
        book = view.session.book
        keys = {row.planned.bottle for row in view.plan.rows if row.planned.bottle is not None}
        prices = {key: book.bottles.price(key)[0] for key in keys}
        self.off = Off(view.plan, place, view.balance, view.tolerance, prices, book.currency, before=before, empty=empty)
        self._show(search=HEAVY in sys.modules)
        if HEAVY in sys.modules and self._is_hopeless:
            view.say(f"{view.told} {NO_CURE}", "amber")

    @property
    def _is_hopeless(self) -> bool:
        """Whether nothing but leaving it and throwing it away is worth doing."""
        others = [answer for kind, answer in self._answers.items() if kind not in (KEEP, DISCARD)]
        return self.off is not None and self.off.needs_search and not any(answer.is_worth for answer in others)

    def dismiss(self) -> None:
        """Nothing is off any more, or it is left as it is."""
        self.off, self._answers = None, {}
        self._view.answers.dismiss()
        self._view.fit()

    def _show(self, *, search: bool) -> None:
        off = self.off
        if off is None:
            return
        making = self._view.making
        # a bottle that is topped up is kept whatever came into it
        kept = making is not None and making.kind == "top-up"
        found = tuple(answer for answer in off.answers(search=search) if not (kept and answer.kind == DISCARD))
        if not found:
            self.dismiss()
            return
        self._answers = {answer.kind: answer for answer in found}
        unsearched = not search and off.needs_search
        self._view.answers.show_answers(found, off.meant_share, unsearched=unsearched)
        self._view.fit()

    def choose(self, kind: str) -> None:
        """Takes one of the answers; few additions are worked out at the first asking and put into the plan at the next."""
        view, off = self._view, self.off
        if off is None:
            return
        answer = self._answers.get(kind)
        if kind == TOP_UP and answer is None:
            self._show(search=True)
            # the button that was pressed is gone with the table it stood in
            waiting = next(iter(view.answers.buttons.values()), view.figure)
            (view.figure if view.figure.isVisibleTo(view) else waiting).setFocus(Qt.FocusReason.OtherFocusReason)
            if TOP_UP not in self._answers:
                view.say(f"{view.told} {NO_CURE if self._is_hopeless else NOT_FEWER}", "amber")
            return
        if answer is None:
            return
        if kind == DISCARD:
            view.ask_give_up()
        elif kind == KEEP:
            self._keep(off)
        elif kind == COMPLETE and not off.empty:
            place = off.place
            self.dismiss()
            view.weigh_again(place)
        else:
            plan = cured(off.plan, answer.places, answer.bottles, without=off.place if off.empty else None)
            self._take(plan, tr("{title}: it stands in the plan.", title=answer.title), off.place if off.empty else None)

    def _keep(self, off: Off) -> None:
        view = self._view
        if off.empty and not off.row.is_done:
            plan = cured(off.plan, {}, {}, without=off.place)
            if not plan:
                view.say(tr("It is the only line there is. Give it up, or weigh it from another bottle."), "amber")
                return
            self._take(plan, tr("{name} is left out.", name=off.row.name), None)
            return
        self.dismiss()
        view.say(tr("{name} stays as it is.", name=off.row.name), "quiet")
        view.focus_figure()

    def _take(self, plan: tuple[Planned, ...], said: str, place: int | None) -> None:
        """Puts an answer into the plan; `place` is the row whose rest comes from another bottle, which is weighed next."""
        off = self.off
        self.dismiss()
        after = None if place is None or off is None else place + (1 if off.row.is_done else 0)
        self._view.take_plan(plan, said, after)

    def said_of(self, place: int) -> tuple[str, str]:
        """(what became of the figure of a row, its tone)."""
        view = self._view
        row, step = view.plan.rows[place], view.step()
        off = figures.off(row.off_g, step)
        mass = figures.mass_text(row.read_g, step)
        if any(move.estimated for move in row.moves):
            mass = f"≈ {mass}"
        if row.is_outside(view.tolerance, view.balance):
            part = figures.short(abs(row.off_g) / row.planned.target_g * 100, 3)
            facts = {"name": row.name, "mass": mass, "by": figures.mass_text(abs(row.off_g), step), "part": part}
            if row.off_g > 0:
                return tr("{name}: {mass} is {by} more than its target ({part} %).", **facts), "amber"
            return tr("{name}: {mass} is {by} less than its target ({part} %).", **facts), "amber"
        if not row.planned.target_g:
            return tr("{name}: {mass} is in.", name=row.name, mass=mass), "quiet"
        return tr("{name}: {mass} is in ({off} g).", name=row.name, mass=mass, off=off), "quiet"
