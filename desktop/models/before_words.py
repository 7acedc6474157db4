# SPDX-License-Identifier: MIT
"""What was noticed before the first drop in words, as rich text; the page says how a link is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from desktop import figures, wording
from desktop.models.before import OPENED, WHOLE, Larger, Most, Remedies, Shortage, Stock
from desktop.models.line_rows import error_text
from desktop.models.plan_basis import Basis
from desktop.models.weigh import Plan, PlanRow
from perfumery import Finding, Version
from perfumery.order import reason_of, tools

LISTED = 6
Link = Callable[[str, str], str]


def about(version: Version) -> str:
    """'SR-3 · branch: longer base · frozen'."""
    frozen = "frozen" if version.is_frozen else "a draft: it freezes with the first figure"
    return " · ".join(filter(None, (version.name or version.code, version.reason, frozen)))


def missing(plan: Plan) -> list[str]:
    """The stocks that no bottle holds."""
    return [f"{row.name} {row.stock}".strip() for row in plan.rows if row.bottle is None]


def reasons(basis: Basis) -> dict[int | None, str]:
    """{line: why it stands where it is suggested}."""
    return {
        key: wording.sentence(Finding(f"order-{reason_of(line, basis.materials)}")) for key, line in basis.lines.items()
    }  # fmt: skip


def summary(basis: Basis, plan: Plan, d_g: float) -> str:
    """'20 lines, 5.000 g · 11 pipettes, 0 boats to lay ready'."""
    known = [(basis.lines[row.planned.line], row.bottle) for row in plan.rows if row.planned.line in basis.lines]
    pipettes, boats = tools([line for line, _ in known], [row and row.bottle for _, row in known], basis.materials)
    ready = f"{figures.count(pipettes, 'pipette')}, {figures.count(boats, 'boat')} to lay ready"
    return f"{figures.count(len(plan.rows), 'line')}, {figures.mass_text(plan.total_g, d_g)} · {ready}"


def error_shown(error: float) -> str:
    """'± 6.4 %'."""
    return f"±\u2009{figures.unit(error_text(error), '%')}"


class Words:
    """The sentences, with masses to the step of the balance and money of the book; `link(target, text)` writes a link."""

    def __init__(self, link: Link, d_g: float, currency: str) -> None:
        self._link, self._d_g, self._currency = link, d_g, currency

    def mass(self, g: float) -> str:
        """A mass as the balance shows it."""
        return figures.mass_text(g, self._d_g)

    def _amount(self, g: float, way: str = "") -> str:
        return self._link(f"amount:{figures.mass(g, self._d_g)}:{way}", f"{self.mass(g)} in all")

    # stock ----------------------------------------------------------------------------------------------------------------

    def stock(self, found: Stock) -> list[str]:
        """What each bottle lacks, what it can come from instead, and how much of the whole there is at most."""
        said = [self._short(shortage) for shortage in found.shortages[:LISTED]]
        more = len(found.shortages) - LISTED
        said += [f"{figures.count(more, 'other bottle holds', 'other bottles hold')} too little."] if more > 0 else []
        said += [f"{self._lacks(spared)} It is opened into its lines." for spared in found.spared]
        if found.whole is not None and found.opened is not None:
            said.append(f"Accord from its bottle: at most {self._most(found.whole, WHOLE)}. "
                        f"Opened: at most {self._most(found.opened, OPENED)}.")  # fmt: skip
        elif found.most is not None:
            said.append(f"At most {self._most(found.most, '')}.")
        return said

    def _lacks(self, shortage: Shortage) -> str:
        code, left = escape(shortage.row.bottle.code), figures.mass_text(shortage.row.left_g, 0.001)
        return f"{code} holds {left}, and {self.mass(shortage.needs_g)} is needed."

    def _short(self, shortage: Shortage) -> str:
        lines = ",".join(map(str, shortage.lines))
        others = [
            f"{self._link(f'bottle:{lines}:{row.key}', f'take {row.bottle.code}')} ({figures.mass_text(row.left_g, 0.01)} left)"
            for row in shortage.others
        ]  # fmt: skip
        instead = f" Instead: {' or '.join(others)}." if others else ""
        return self._lacks(shortage) + instead

    def _most(self, most: Most, way: str) -> str:
        code, what = most.row.bottle.code, most.row.what
        held = what if code in what else ", ".join(filter(None, (code, what)))
        amount = self._amount(most.amount_g, way) if most.amount_g > 0 else "nothing"
        return f"{amount} (held back by {escape(held)})"

    # too small ------------------------------------------------------------------------------------------------------------

    def small(self, small: Sequence[tuple[int, PlanRow, float]], more: Larger, balance: str, least_g: float) -> list[str]:
        """Every line under the least weight, the worst first, and the amount that would do for all of them."""
        named = [f"{self._link(f'row:{place}', row.name)} {error_shown(error)}" for place, row, error in small[:LISTED]]
        others = [f"{figures.count(len(small) - LISTED, 'other')}"] if len(small) > LISTED else []
        are = "line is" if len(small) == 1 else "lines are"
        return [
            f"{len(small)} {are} too small for {escape(balance)}, under {self.mass(least_g)}: {', '.join((*named, *others))}.",
            f"{self._amount(more.amount_g)} would do{' for all of them' if len(small) > 1 else ''}: {self._costs(more)}.",
        ]

    def _costs(self, more: Larger) -> str:
        """'1.400 g and 0.1650 € more'."""
        least = "at least " if more.at_least else ""
        cost = "" if more.cost is None else f" and {least}{figures.money(more.cost, self._currency, per='')}"
        heavy = ", which the balance does not carry" if more.is_too_heavy else ""
        return f"{self.mass(more.more_g)}{cost} more{heavy}"

    def remedies(self, found: Remedies, tolerance: float) -> list[str]:
        """What would do for one line."""
        within = f"within {tolerance * 100:g}\u2009% from {self.mass(found.least_g)} on"
        larger = f"· {self._amount(found.larger.amount_g)}: {self._costs(found.larger)}"
        said = [f"{error_shown(found.error)}; {within}. What would do:", larger]
        weaker = found.weaker
        if weaker is not None:
            strength = figures.strength_text(float(f"{weaker.strength:.4g}"))
            if found.stock is None:
                what = f"its stock made at {strength}"
            else:
                what = f"{found.stock.bottle.code}, {strength} in {found.stock.carrier_name}".removesuffix(" in ")
            said.append(f"· {escape(what)}, exchanged on the Bench: {self.mass(weaker.mass_g)}, {error_shown(weaker.error)}, "
                        f"with {self.mass(weaker.more_g)} more carrier")  # fmt: skip
        if found.other is not None and found.other_error is not None:
            said.append(f"· {escape(found.other.name)}: {error_shown(found.other_error)}")
        return said
