# SPDX-License-Identifier: MIT
"""What was noticed before the first drop in words, as rich text; the page says how a link is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.before import OPENED, WHOLE, Larger, Most, Remedies, Shortage, Stock
from desktop.models.line_rows import error_text
from desktop.models.plan_basis import Basis
from desktop.models.relabelled import StockKey
from desktop.models.weigh import Plan, PlanRow
from perfumery import Finding, Version
from perfumery.order import reason_of, tools

LISTED = 6
Link = Callable[[str, str], str]


def about(version: Version) -> str:
    """'SR-3 · branch: longer base · frozen'."""
    frozen = tr("frozen") if version.is_frozen else tr("a draft: it freezes with the first figure")
    return " · ".join(filter(None, (version.name or version.code, version.reason, frozen)))


def missing(plan: Plan) -> list[str]:
    """The stocks that no bottle holds."""
    return [f"{row.name} {row.stock}".strip() for row in plan.rows if row.bottle is None]


def stocks_lacking(basis: Basis, plan: Plan) -> list[StockKey]:
    """The same as (material, strength, carrier)."""
    lines = (basis.lines.get(row.planned.line) for row in plan.rows if row.bottle is None)
    return [(line.material, line.strength, line.carrier) for line in lines if line is not None and line.material is not None]


def reasons(basis: Basis) -> dict[int | None, str]:
    """{line: why it stands where it is suggested}."""
    return {
        key: wording.sentence(Finding(f"order-{reason_of(line, basis.materials)}")) for key, line in basis.lines.items()
    }  # fmt: skip


def total_text(total_g: float, amount_g: float | None, d_g: float) -> str:
    """'5.000 g', or '6.247 g for an amount of 5.000 g' where a total does not come to what was asked for."""
    total, amount = figures.mass_text(total_g, d_g), figures.mass_text(amount_g, d_g)
    return total if amount_g is None or total == amount else tr("{total} for an amount of {amount}", total=total, amount=amount)


def summary(basis: Basis, plan: Plan, d_g: float, amount_g: float) -> str:
    """'20 lines, 5.000 g · 11 pipettes, 0 boats to lay ready'."""
    known = [(basis.lines[row.planned.line], row.bottle) for row in plan.rows if row.planned.line in basis.lines]
    pipettes, boats = tools([line for line, _ in known], [row and row.bottle for _, row in known], basis.materials)
    ready = tr(
        "{pipettes}, {boats} to lay ready",
        pipettes=tr_count(pipettes, "{n} pipette", "{n} pipettes"), boats=tr_count(boats, "{n} boat", "{n} boats"),
    )  # fmt: skip
    lines = tr_count(len(plan.rows), "{n} line", "{n} lines")
    return f"{lines}, {total_text(plan.total_g, amount_g, d_g)} · {ready}"


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
        return self._link(f"amount:{figures.mass(g, self._d_g)}:{way}", tr("{mass} in all", mass=self.mass(g)))

    # stock ----------------------------------------------------------------------------------------------------------------

    def stock(self, found: Stock) -> list[str]:
        """What each bottle lacks, what it can come from instead, and how much of the whole there is at most."""
        said = [self._short(shortage) for shortage in found.shortages[:LISTED]]
        more = len(found.shortages) - LISTED
        if more > 0:
            said.append(tr_count(more, "{n} other bottle holds too little.", "{n} other bottles hold too little."))
        said += [self._lacks(spared) + " " + tr("It is opened into its lines.") for spared in found.spared]
        if found.whole is not None and found.opened is not None:
            said.append(tr(
                "Accord from its bottle: at most {whole}. Opened: at most {opened}.",
                whole=self._most(found.whole, WHOLE), opened=self._most(found.opened, OPENED),
            ))
        elif found.most is not None:
            said.append(tr("At most {most}.", most=self._most(found.most, "")))
        return said

    def _lacks(self, shortage: Shortage) -> str:
        code, left = escape(shortage.row.bottle.code), figures.mass_text(shortage.row.left_g, 0.001)
        return tr("{code} holds {left}, and {needed} is needed.", code=code, left=left, needed=self.mass(shortage.needs_g))

    def _short(self, shortage: Shortage) -> str:
        lines = ",".join(map(str, shortage.lines))
        others = [
            tr(
                "{bottle} ({mass} left)",
                bottle=self._link(f"bottle:{lines}:{row.key}", tr("take {code}", code=row.bottle.code)),
                mass=figures.mass_text(row.left_g, 0.01),
            )
            for row in shortage.others
        ]  # fmt: skip
        instead = tr("Instead: {bottles}.", bottles=figures.either(others, len(others))) if others else ""
        return f"{self._lacks(shortage)} {instead}".rstrip()

    def _most(self, most: Most, way: str) -> str:
        code, what = most.row.bottle.code, most.row.what
        held = what if code in what else ", ".join(filter(None, (code, what)))
        amount = self._amount(most.amount_g, way) if most.amount_g > 0 else tr("nothing")
        return tr("{amount} (held back by {bottle})", amount=amount, bottle=escape(held))

    # too small ------------------------------------------------------------------------------------------------------------

    def small(self, small: Sequence[tuple[int, PlanRow, float]], more: Larger, balance: str, least_g: float) -> list[str]:
        """Every line under the least weight, the worst first, and the amount that would do for all of them."""
        named = [f"{self._link(f'row:{place}', row.name)} {error_shown(error)}" for place, row, error in small[:LISTED]]
        if len(small) > LISTED:
            named.append(tr_count(len(small) - LISTED, "{n} other", "{n} others"))
        amount, costs = self._amount(more.amount_g), self._costs(more)
        return [
            tr_count(
                len(small),
                "{n} line is too small for {balance}, under {mass}: {lines}.",
                "{n} lines are too small for {balance}, under {mass}: {lines}.",
                balance=escape(balance), mass=self.mass(least_g), lines=", ".join(named),
            ),
            tr("{amount} would do for all of them: {more}.", amount=amount, more=costs) if len(small) > 1
            else tr("{amount} would do: {more}.", amount=amount, more=costs),
        ]  # fmt: skip

    def _costs(self, more: Larger) -> str:
        """'1.400 g and 0.1650 € more'."""
        mass = self.mass(more.more_g)
        if more.cost is None:
            said = tr("{mass} more", mass=mass)
        else:
            cost = figures.money(more.cost, self._currency, per="", at_least=more.at_least)
            said = tr("{mass} and {cost} more", mass=mass, cost=cost)
        return tr("{more}, which the balance does not carry", more=said) if more.is_too_heavy else said

    def remedies(self, found: Remedies, tolerance: float) -> list[str]:
        """What would do for one line."""
        said = [
            tr(
                "{error}; within {tolerance} from {mass} on. What would do:",
                error=error_shown(found.error), tolerance=figures.strength_text(tolerance), mass=self.mass(found.least_g),
            ),
            f"· {self._amount(found.larger.amount_g)}: {self._costs(found.larger)}",
        ]  # fmt: skip
        weaker = found.weaker
        if weaker is not None:
            strength = figures.strength_text(float(f"{weaker.strength:.4g}"))
            if found.stock is None:
                what = tr("its stock made at {strength}", strength=strength)
            else:
                named = figures.stock_text(float(f"{weaker.strength:.4g}"), found.stock.carrier_name)
                what = f"{found.stock.bottle.code}, {named}"
            exchanged = tr(
                "{stock}, exchanged on the Bench: {mass}, {error}, with {more} more carrier",
                stock=escape(what), mass=self.mass(weaker.mass_g), error=error_shown(weaker.error),
                more=self.mass(weaker.more_g),
            )  # fmt: skip
            said.append(f"· {exchanged}")
        if found.other is not None and found.other_error is not None:
            said.append(f"· {escape(found.other.name)}: {error_shown(found.other_error)}")
        return said
