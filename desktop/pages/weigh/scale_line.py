# SPDX-License-Identifier: MIT
"""The line that is weighed now, as it is shown: what, from which bottle, how much, and what the field takes next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt

from desktop import figures
from desktop.language import tr, tr_count
from desktop.models.bottles import off_label_text
from desktop.models.shown import MODES, shown
from desktop.models.weigh import PlanRow
from desktop.models.weighed import furthest
from desktop.widgets.emptied import empty
from perfumery import Bottle, Making, Version

if TYPE_CHECKING:
    from desktop.pages.weigh.scale import ScaleView

WITHIN = tr("Every figure is within its tolerance.")
SHOWN = tr("What the balance shows, g")
HOW_DIFFERENCE = tr("type before \u2212 after, as 12.345-12.045")
APART = "   ·   "


class LineShown:
    """Fills the face of the balance; what is done with it is `ScaleView`'s."""

    def __init__(self, view: ScaleView) -> None:
        self._view = view

    def show(self) -> None:
        """The line at the place that is weighed next, or that all are in."""
        view, row = self._view, self._view.row
        making = view.making
        assert making is not None
        vial = view.session.book.get(Bottle, making.into_bottle)
        balance = "" if view.balance is None else view.balance.name
        total, amount = (figures.mass_text(mass, view.step()) for mass in (view.plan.total_g, making.target_g))
        differs = making.target_g is not None and total != amount
        total = tr("{total} for {amount}", total=total, amount=amount) if differs else ""
        head = (weighing_text(view, making), self.place(), total, shown(MODES, making.mode), balance)
        view.head.setText(" · ".join(filter(None, head)))
        for part in (view.accept, view.later, view.asked, view.figure, view.target, view.emptied, view.stock):
            part.setVisible(row is not None)
        view.finish.setVisible(row is None)
        view.mistyped.setVisible(view.plan.in_vessel_g > 0)
        inside = figures.mass_text(view.plan.in_vessel_g, view.step())
        if row is not None:
            self._show_row(row, inside, vial)
            return
        view.name.setText(tr("All lines are in"))
        view.where.setText(tr("{mass} in {vial}", mass=inside, vial="" if vial is None else vial.code))
        view.waits.hide()
        view.caption.setText(self._summary())
        view.finish.setFocus(Qt.FocusReason.OtherFocusReason)

    def place(self) -> str:
        """'line 3 of 20'."""
        view = self._view
        count = len(view.plan.rows)
        return tr("line {line} of {count}", line=count if view.at is None else view.at + 1, count=count)

    def _show_row(self, row: PlanRow, inside: str, vial: Bottle | None) -> None:
        view, step = self._view, self._view.step()
        view.name.setText(row.name)
        view.stock.setText(row.stock)
        self.show_bottle(row)
        target = row.planned.target_g - row.read_g
        if view.is_running:
            of_it = tr("{target} of it, {inside} in the vessel", target=figures.mass_text(target, step), inside=inside)
            view.caption.setText(APART.join((tr("stop at, g"), of_it)))
            view.target.setText(figures.mass(view.plan.in_vessel_g + target, step))
        else:
            told = tr("{mass} in the vessel", mass=inside)
            if view.plan.in_vessel_g and vial is not None and vial.tare_g is not None:
                gross = figures.mass_text(vial.tare_g + view.held_g, step)
                told = tr("{mass} in the vessel · gross {gross}", mass=inside, gross=gross)
            how = (HOW_DIFFERENCE,) if view.is_difference else ()
            view.caption.setText(APART.join((tr("target, g"), told, *how)))
            view.target.setText(figures.mass(target, step))
        empty(view.figure)

    def show_bottle(self, row: PlanRow) -> None:
        """Where it is taken from, with a check mark behind which its code was seen; whether it may be used yet; and what the
        field takes now."""
        view, bottle = self._view, row.bottle
        code = "" if bottle is None else bottle.bottle.code
        where = tr("no bottle")
        if bottle is not None:
            seen = f"✓ {code}" if view.is_seen else code
            where = " · ".join(filter(None, (seen, bottle.bottle.place)))
        view.where.setText(where)
        off = "" if bottle is None else off_label_text(bottle, view.session.book.bottles.habits())
        told = f"{code}: {off}" if off else ""
        waits = " ".join(filter(None, (view.not_ready(row), told)))
        view.waits.setText(waits)
        view.waits.setVisible(bool(waits))
        if view.asks_code:
            view.asked.setText(tr("First type or scan the code of the bottle: {code}", code=code))
            view.figure.setPlaceholderText(tr("code of {code}", code=code))
            view.figure.setAccessibleName(tr("Code of the bottle, {code}", code=code))
        else:
            view.asked.setText(SHOWN)
            view.figure.setPlaceholderText(tr("figure, g"))
            view.figure.setAccessibleName(SHOWN)

    def _summary(self) -> str:
        view = self._view
        off = [row.name for row in view.plan.rows if row.is_outside(view.tolerance, view.balance)]
        if not off:
            differs = self._differs()
            return f"{WITHIN} {differs}" if differs else WITHIN
        said = tr_count(
            len(off), "Outside its tolerance: {lines}. It stays on record as it was weighed.",
            "Outside their tolerance: {lines}. They stay on record as they were weighed.", lines=figures.listed(off),
        )  # fmt: skip
        return f"{said} {self._differs()}".rstrip()

    def _differs(self) -> str:
        """What a stock that is off, or a figure, has made of the whole: the share furthest from what was meant; '' for none that
        is off by more than the tolerance."""
        view = self._view
        row = None if view.making is None else furthest(view.session.book, view.making)
        if row is None or row.change is None or abs(row.change) <= view.tolerance:
            return ""
        change = figures.unit(figures.signed_fixed(row.change * 100, 1), "%")
        return tr("What it holds is furthest from what was meant in {name}: {change}.", name=row.name, change=change)


def weighing_text(view: ScaleView, making: Making) -> str:
    """'T-025 of SR-4 in V025'; the vessel alone where the weighing has no code."""
    book = view.session.book
    vial = book.get(Bottle, making.into_bottle)
    version = None if making.version is None else book.get(Version, making.version)
    if not making.code:
        return "" if vial is None else f"{vial.code} {vial.label}".strip()
    into = "" if vial is None else vial.code
    if version is None:
        return tr("{code} in {vial}", code=making.code, vial=into)
    return tr("{code} of {version} in {vial}", code=making.code, version=version.code, vial=into)
