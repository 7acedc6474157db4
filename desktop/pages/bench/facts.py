# SPDX-License-Identifier: MIT
"""The row of facts over a formula: amount, finished strength, odorant, cost; each wish typed where it is read."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.lines import LinesModel
from desktop.models.stock_words import read_stock
from desktop.pages.bench.totals import rounding_text
from desktop.session import Session
from desktop.widgets.fact import INDENT, Fact
from desktop.widgets.flow import Flow
from perfumery import Project, Refused, parse_number, parse_strength, price_findings
from perfumery.findings import refuse

KG, PRODUCT_G = 1000.0, 100.0
LEAST_WIDTH = 200


class FactsRow(QWidget):
    """Five facts of the chosen version and its project; what cannot be is said below, and the typed text stays."""

    def __init__(self, session: Session, model: LinesModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._model = model
        theme = session.theme
        self.amount = Fact(theme, tr("amount"))
        self.finished = Fact(theme, tr("finished at"))
        self.odorant = Fact(theme, tr("odorant"), sum="odorant-strength")
        self.cost = Fact(theme, tr("concentrate costs"), editable=False, sum="cost")
        self.total = Fact(theme, tr("fills up to"))
        self.wrong = QLabel(self)
        self.wrong.setProperty("role", "wrong")
        self.wrong.setWordWrap(True)
        self.wrong.setContentsMargins(INDENT, 0, 0, 0)
        self.wrong.hide()
        self._facts = (self.amount, self.finished, self.odorant, self.cost, self.total)
        self._of_wrong: Fact | None = None
        line = Flow(spacing=14)
        for fact in self._facts:
            line.addWidget(fact)
            fact.field.left.connect(lambda fact=fact: self._say(fact, ""))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addLayout(line)
        column.addWidget(self.wrong)
        self.amount.committed.connect(lambda text: self._try(self.amount, self._set_amount, text))
        self.finished.committed.connect(lambda text: self._try(self.finished, self._set_finished, text))
        self.odorant.committed.connect(lambda text: self._try(self.odorant, self._set_odorant, text))
        self.total.committed.connect(lambda text: self._try(self.total, self._set_total, text))

    def minimumSizeHint(self) -> QSize:
        # in a narrow pane the last facts stand in a second line
        return QSize(LEAST_WIDTH, super().minimumSizeHint().height())

    def refresh(self) -> None:
        """Shows the facts of what the model worked out."""
        project, made = self._session.project, self._model.composition
        self.setVisible(made is not None)
        if project is None or made is None or self._model.version is None:
            return
        self.amount.show_text(figures.mass_text(project.amount_g, self._model.d_g), self._amount_tip())
        self.finished.show_text(
            self._finished_text(project), tr("Mass of concentrate ÷ mass of product, as 12 % in ethanol; empty for none")
        )
        odorant = made.odorant_share(project.strength) if made.neat_parts else None
        self.odorant.show_text(
            figures.percent_text(odorant), tr("Odorants in the product. Type a wish and the finished strength follows.")
        )
        over = price_findings(made, project.price_ceiling)
        at_least, currency = bool(made.unpriced), self._session.book.currency
        text = figures.money(made.cost_per_g, currency, at_least=at_least)
        self.cost.show_text(tr("{cost} over", cost=text) if over else text, self._cost_tip(project), "amber" if over else "ink")
        filled = any(line.fill_up for line in self._model.version.lines)
        self.total.setVisible(filled)
        parts = figures.unit(figures.parts(self._model.version.total), tr("parts"))
        self.total.show_text(parts, tr("The total that the fill-up line fills up to"))

    def _finished_text(self, project: Project) -> str:
        if project.strength is None:
            return figures.UNKNOWN
        carrier = self._model.names.carrier(project.carrier)
        text = figures.strength_text(project.strength)
        # a strength that followed from an odorant wish has many figures
        text = text if len(text) <= 7 else figures.percent_text(project.strength)
        return tr("{strength} in {carrier}", strength=text, carrier=carrier) if carrier else text

    def _amount_tip(self) -> str:
        """What the amount is, and why the lines add up to another where they do."""
        told, rounded = [tr("What is to be weighed, in g")], rounding_text(self._model)
        if rounded:
            total = figures.mass_text(self._model.rounded_g[0], self._model.d_g)
            told.append(tr("The lines add up to {mass}: {why}", mass=total, why=rounded))
        return "\n".join(told)

    def _cost_tip(self, project: Project) -> str:
        made = self._model.composition
        if made is None or made.cost_per_g is None:
            return tr("No price is known for any material of this formula.")
        least, currency, cost = bool(made.unpriced), self._session.book.currency, made.cost_per_g

        def money(value: float, per: str = "") -> str:
            return figures.money(value, currency, per=per, at_least=least)

        amount = figures.mass_text(project.amount_g, self._model.d_g)
        lines = [
            tr("For each g of the concentrate as it stands, its carriers included; not for each g of odorant."),
            tr("{cost} of concentrate", cost=money(cost * KG, "kg")),
            tr("{cost} for {mass}", cost=money(cost * project.amount_g), mass=amount),
        ]
        if project.strength is not None:
            lines.append(tr(
                "{cost} in a bottle of {mass} at {strength}, its carrier not counted",
                cost=money(cost * project.strength * PRODUCT_G), mass=figures.mass_text(PRODUCT_G, 1),
                strength=figures.percent_text(project.strength),
            ))  # fmt: skip
        if project.price_ceiling is not None:
            lines.append(tr("wish: at most {price}", price=figures.money(project.price_ceiling, currency)))
        lines += [wording.sentence(f) for f in made.findings if f.code == "price-unknown"]
        return "\n".join(lines)

    # edits ------------------------------------------------------------------------------------------------------------

    def _try(self, fact: Fact, put: object, text: str) -> None:
        """Takes a typed text; where it cannot be, it stays in its field and the sentence below says why."""
        try:
            if callable(put):
                put(text)
        except Refused as fault:
            self._say(fact, wording.sentences(fault.findings))
            return
        fact.accept()
        self._say(fact, "")
        self.refresh()

    def _say(self, fact: Fact, sentence: str) -> None:
        if not sentence and self._of_wrong is not fact:
            return
        self._of_wrong = fact if sentence else None
        self.wrong.setText(f"{fact.caption.text()}: {sentence}" if sentence else "")
        self.wrong.setVisible(bool(sentence))
        fact.field.setAccessibleDescription(sentence)

    def _project(self) -> Project:
        project = self._session.project
        assert project is not None
        return project

    def _set_amount(self, text: str) -> None:
        amount = parse_number(text.casefold().removesuffix("g"))
        project = replace(self._project(), amount_g=amount)
        self._session.put(tr("amount {mass}", mass=figures.mass_text(amount, self._model.d_g)), project)

    def _set_finished(self, text: str) -> None:
        if text in ("", figures.UNKNOWN):
            self._session.put(tr("no finished strength"), replace(self._project(), strength=None))
            return
        strength, carrier = read_stock(text)
        key = self._model.names.carrier_key(carrier) if carrier else self._project().carrier
        wanted = self._project().strength if strength is None else strength
        self._put_finished(wanted, key)

    def _put_finished(self, strength: float | None, carrier: int | None) -> None:
        project = replace(self._project(), strength=strength, carrier=carrier)
        shown, name = figures.percent_text(strength), self._model.names.carrier(carrier)
        what = tr("finished at {strength}", strength=shown)
        if name:
            what = tr("finished at {strength} in {carrier}", strength=shown, carrier=name)
        self._session.put(what, project)

    def _set_odorant(self, text: str) -> None:
        share = parse_strength(text)
        made = self._model.composition
        if made is None or not made.neat_parts:
            raise refuse("all-carrier")
        self._put_finished(made.strength_for_odorant(share), self._project().carrier)

    def _set_total(self, text: str) -> None:
        self._model.set_total(parse_number(text.casefold().strip().removesuffix("parts").removesuffix(tr("parts").casefold())))
