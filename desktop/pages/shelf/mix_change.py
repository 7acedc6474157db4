# SPDX-License-Identifier: MIT
"""A bottle brought to a strength by what is added to it: topped up, weakened, strengthened."""

from __future__ import annotations

import re
from dataclasses import replace

from PySide6.QtWidgets import QWidget

from db import BottleRow
from desktop import figures
from desktop.language import tr
from desktop.models.mix import Plan
from desktop.models.shelf_names import ShelfNames
from desktop.pages.shelf.mix_ask import Ask, MaterialPick
from desktop.pages.shelf.mix_dilution import strength_typed
from desktop.pages.shelf.mix_parts import BottleBox
from desktop.session import Session
from desktop.widgets.labels import label
from perfumery import Bottle, Finding
from perfumery.findings import refuse


class ChangeAsk(Ask):
    """A bottle brought to a strength by what is added to it; `settle` first takes a loss for carrier."""

    brief = True

    def __init__(
        self, session: Session, bottle: int, *, top_up: bool, settle: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(session, parent)
        self._key, self._top_up, self.settle = bottle, top_up, settle
        self._row = self._looked_up()
        self.told = label("", wrap=True)
        self._grid.addWidget(self.told, 0, 0, 1, 2)
        above = tr("Above what it has now: stronger is added")
        self.strength = self._line("strength", tr("strength wanted, %"), (1, 0, 1, 1), above, self.refresh)
        self.carrier = MaterialPick(session, self, carriers=True)
        self._add("carrier", tr("carrier"), self.carrier, (1, 1, 1, 1))
        self.box = BottleBox(self)
        self._add("bottle", tr("taken from"), self.box, (2, 0, 1, 2))
        own = self._row.bottle
        self.carrier.show_key(own.carrier or ShelfNames(session.book).usual_carrier(session.project, own.material))
        self.fields["carrier"].setVisible(own.carrier is None)
        self.fields["strength"].setVisible(not settle)
        if top_up and not settle:
            self.strength.setText(strength_typed(own.strength))
        self.carrier.taken.connect(self.refresh)
        self.box.changed.connect(self.edited)
        self.refresh()

    def _looked_up(self) -> BottleRow:
        row = self.mixing.known.row(self._key)
        if row is None:
            raise refuse("reference-missing", kind="Bottle", key=self._key)
        return row

    @property
    def title(self) -> str:
        code = self._row.bottle.code
        return tr("{code} topped up", code=code) if self._top_up else tr("{code} strengthened or weakened", code=code)

    @property
    def first(self) -> QWidget:
        return self.box if self.settle else self.strength

    @property
    def wanted(self) -> float | None:
        """The strength to come to."""
        if self.settle:
            return None if self._row.drift is None else self._row.drift.strength_low
        return self.wished

    @property
    def _weakens(self) -> bool:
        wanted = self.wanted
        return self.settle or wanted is None or wanted < self.mixing.strength_now(self._row)

    def refresh(self) -> None:
        self._row = self._looked_up()
        self._tell()
        own, wanted = self._row.bottle, self.wanted
        if self._weakens:
            key = self.carrier.key
            self.box.show_rows(self.mixing.carriers(key), of=("carrier", key), unbooked=key is not None)
        elif own.material is not None:
            rows = [row for row in self.mixing.sources(own.material, wanted) if row.key != self._key]
            self.box.show_rows(rows, of=("stronger", own.material), unbooked=True, telling=own.material)
        else:
            rows = [row for row in self.mixing.of_version(own.version, vials=True) if row.key != self._key]
            self.box.show_rows(rows, of=("version", own.version))
        self.edited.emit()

    def _tell(self) -> None:
        row, drift = self._row, self._row.drift
        code, now = row.bottle.code, figures.percent_text(self.mixing.strength_now(row, settle=self.settle))
        if self.settle and drift is not None and drift.missing_g > 0:
            low = figures.percent_text(drift.strength_low)
            # what was drawn since it was weighed took its part of the loss along
            needed = figures.mass_text(row.top_up_g)
            self.told.setText(tr(
                "{mass} are missing from {code}. If all of it was {carrier}, what is left has risen from {low} to {now}. "
                "{needed} {carrier} bring it back.",
                mass=figures.mass_text(drift.missing_g), code=code, carrier=row.carrier_name, low=low, now=now, needed=needed,
            ))  # fmt: skip
            return
        facts = {"code": code, "now": now, "strength": figures.strength_text(row.bottle.strength)}
        if row.left_g is None:
            told = tr("{code} holds an unknown mass at {now}; its label says {strength}.", **facts)
        else:
            left = figures.mass_text(row.left_g)
            told = tr("{code} holds {left} at {now}; its label says {strength}.", left=left, **facts)
        self.told.setText(told)

    def _plan(self) -> Plan | None:
        self._strength()
        wanted = self.wanted
        self._tell_gone("bottle")
        if self.settle and (self._row.drift is None or not self._row.drift.missing_g > 0):
            raise refuse("left-unknown", code=self._row.bottle.code)
        if wanted is None:
            return None
        material = self.carrier.key if self._weakens else self._row.bottle.material
        if self.box.is_gone:
            return None
        if self.box.is_none:
            self.fields["bottle"].say(tr("No bottle stands here that would bring it to this strength."), "amber")
            return None
        plan = self.mixing.change(self._row, wanted, self.box.row, material, settle=self.settle)
        if self.settle and plan.into is not None:
            # its label stays what it was: it is brought back to it
            plan = replace(plan, into=replace(plan.into, strength=self._row.bottle.strength))
        return plan

    def base(self) -> Bottle:
        plan = self.plan()
        return self._row.bottle if plan is None or plan.into is None else plan.into

    def proposed(self) -> dict[str, str]:
        own, wanted = self._row.bottle, self.wanted
        named = own.label
        if wanted is not None and not self.settle:
            old = re.escape(strength_typed(own.strength))
            named = re.sub(rf"(?<![\d.]){old}\s*%", f"{strength_typed(wanted)} %", own.label)
        volume = "" if own.volume_ml is None else figures.parts(own.volume_ml)
        return {"code": own.code, "label": named, "volume": volume}

    def field_of(self, finding: Finding) -> str | None:
        where = "bottle" if self.settle else "strength"
        if finding.code == "beyond-left":
            return "bottle"
        codes = ("strength-out-of-reach", "strength-range", "left-unknown", "contents-unknown", "loss-beyond-carrier")
        return where if finding.code in codes else None
