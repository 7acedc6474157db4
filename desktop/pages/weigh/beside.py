# SPDX-License-Identifier: MIT
"""The column beside the plan: the current line with its bottles above, what was noticed of the whole below."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.before import Ways, larger, off_strength, remedies_for, small_rows, stock_of
from desktop.models.before_words import Words
from desktop.models.not_ready import NotReady, not_ready
from desktop.models.plan_basis import Basis
from desktop.models.weigh import Plan, PlanRow
from desktop.pages.weigh.line_panel import LinePanel
from desktop.pages.weigh.noticed import Noticed
from desktop.pages.weigh.told import link
from desktop.session import Session
from perfumery import Balance, Finding, least_weight
from perfumery.cautions import cautions

WIDTH, SHARE = 372, 0.34


class Beside(QScrollArea):
    """Scrolled where it does not fit; as wide as its text wants, but never more than a share of the page."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.line = LinePanel(session, self)
        self.noticed = Noticed(session, self)
        self.balances: Sequence[Balance] = ()
        self._cautioned: tuple[Basis | None, tuple[int | None, ...], list[Finding]] = (None, (), [])
        inner = QWidget(self)
        inner.setProperty("role", "pane")
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(8)
        column.addWidget(self.line)
        column.addWidget(self.noticed)
        column.addStretch(1)
        self.setWidget(inner)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def fit(self, page_width: int) -> None:
        """Takes the width that a page of this width leaves it."""
        self.setFixedWidth(min(self._session.theme.px(WIDTH), round(page_width * SHARE)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # rows are lower in a low window
        self.line.fit()

    def tell(
        self, basis: Basis, plan: Plan, ways: Ways, amount_g: float, balance: Balance | None, facts: Sequence[str],
        *, same_mass: bool,
    ) -> None:  # fmt: skip
        """Everything that was noticed of a plan; `facts` are sentences of the page's own that come first, then bottles that are
        not ready yet."""
        words = self._words(balance)
        d_g = 0.001 if balance is None else balance.d_g
        stock = stock_of(self._session.book, basis, plan, ways, amount_g, d_g, same_mass=same_mass)
        tolerance, small = self.noticed.tolerance, []
        if balance is not None:
            found = small_rows(plan, balance, tolerance)
            if found:
                more = larger(basis, (row.planned.target_g for _, row, _ in found), amount_g, balance, tolerance)
                small = words.small(found, more, balance.name, least_weight(balance, tolerance))
        waits = [_waits(one) for one in not_ready(plan, basis.today)]
        off = [escape(said) for row in plan.rows if (said := self._off(row, same_mass=same_mass))]
        told = [*facts, *waits, *dict.fromkeys(off), *words.stock(stock)]
        self.noticed.tell(told, small, self._cautions(basis, plan), has_balance=balance is not None)

    def _off(self, row: PlanRow, *, same_mass: bool) -> str:
        """What is to be known of a stock off its written strength, '' nothing."""
        found = off_strength(row, self._session.book.bottles.habits()["drift tolerance"], same_mass=same_mass)
        return "" if found is None else wording.sentence(found)

    def show_row(
        self, basis: Basis, plan: Plan, place: int, why: str, amount_g: float, balance: Balance | None, *, same_mass: bool
    ) -> None:  # fmt: skip
        """The line at a place of the plan, and why it stands there; none where there is no such place."""
        row = plan.rows[place] if 0 <= place < len(plan.rows) else None
        if row is None:
            self.line.show_row(None, "", "", (), has_bottle=False)
            return
        words, said = self._words(balance), []
        if balance is not None:
            others = [other for other in self.balances if other.key != balance.key]
            found = remedies_for(basis, row, amount_g, balance, others, self.noticed.tolerance)
            said = [] if found is None else words.remedies(found, self.noticed.tolerance)
        off = self._off(row, same_mass=same_mass)
        said = [*([escape(off)] if off else ()), *said]
        accord = basis.lines.get(row.accord_line or 0)
        has_bottle = accord is not None and bool(basis.choices(accord))
        self.line.show_row(row, words.mass(row.planned.target_g), why, said, has_bottle=has_bottle)

    def _words(self, balance: Balance | None) -> Words:
        return Words(link, 0.001 if balance is None else balance.d_g, self._session.book.currency)

    def _cautions(self, basis: Basis, plan: Plan) -> list[Finding]:
        """They change with the lines weighed as powders, not with the amount: a letter typed must not work them out again."""
        powders = tuple(row.planned.line for row in plan.rows if row.planned.line in basis.powder_lines)
        if self._cautioned[:2] != (basis, powders):
            inside = (basis.materials[key] for key in basis.composition.expanded)
            found = cautions(inside, [basis.powder_lines[line] for line in powders if line is not None])
            self._cautioned = (basis, powders, found)
        return self._cautioned[2]


def _waits(one: NotReady) -> str:
    """A bottle that is not ready yet, and what is at hand instead."""
    lines = ",".join(map(str, one.lines))
    others = []
    for row in one.others:
        take = link(f"bottle:{lines}:{row.key}", tr("take {code}", code=row.bottle.code))
        others.append(tr("{take} ({mass} left)", take=take, mass=figures.mass_text(row.left_g, 0.01)))
    instead = tr("At hand: {bottles}.", bottles=", ".join(others)) if others else ""
    return " ".join(filter(None, (escape(wording.sentence(one.finding)), instead)))
