# SPDX-License-Identifier: MIT
"""A vial thinned for smelling: so much of it, at which strength, in what."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from db import BottleRow
from desktop import figures
from desktop.language import tr
from desktop.models.mix import Plan, project_of
from desktop.models.shelf_names import ShelfNames
from desktop.pages.shelf.mix_ask import Ask, MaterialPick
from desktop.pages.shelf.mix_dilution import strength_typed
from desktop.pages.shelf.mix_parts import BottleBox, read
from desktop.session import Session
from desktop.widgets.labels import label
from perfumery import Bottle, Finding
from perfumery.findings import refuse

# How much of a vial goes into a smelling dilution where nothing else is said: our own choice.
VIAL_G = 1.0


class SmellingAsk(Ask):
    """So much of a vial, at which strength, in what."""

    vessels = ("smelling",)

    def __init__(
        self, session: Session, vial: int, strength: float | None, carrier: int | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(session, parent)
        self._key = vial
        self._row = self._looked_up()
        names = ShelfNames(session.book)
        project = project_of(session.book, self._row.bottle.version) or session.project
        wanted = strength or (None if project is None else project.strength)
        thinner = carrier if carrier is not None else names.usual_carrier(project, None)
        self.told = label("", wrap=True)
        self._grid.addWidget(self.told, 0, 0, 1, 2)
        self.amount = self._line("amount", tr("of {code}, g", code=self._row.bottle.code), (1, 0, 1, 1))
        self.strength = self._line("strength", tr("strength wanted, %"), (1, 1, 1, 1))
        self.carrier = MaterialPick(session, self, carriers=True)
        self._add("carrier", tr("carrier"), self.carrier, (2, 0, 1, 1))
        self.carrier_box = BottleBox(self)
        self._add("carrier bottle", tr("taken from"), self.carrier_box, (2, 1, 1, 1))
        left = self._row.left_g
        self.amount.setText(figures.mass(VIAL_G if left is None or not left > 0 else min(VIAL_G, left)))
        self.strength.setText("" if wanted is None else strength_typed(wanted))
        self.carrier.show_key(thinner)
        self.carrier.taken.connect(self.refresh)
        self.carrier_box.changed.connect(self.edited)
        self.refresh()

    def _looked_up(self) -> BottleRow:
        row = self.mixing.known.row(self._key)
        if row is None:
            raise refuse("reference-missing", kind="Bottle", key=self._key)
        return row

    @property
    def title(self) -> str:
        return tr("{code} thinned for smelling", code=self._row.bottle.code)

    @property
    def first(self) -> QWidget:
        return self.amount

    def refresh(self) -> None:
        self._row = self._looked_up()
        what, mass = self._row.bottle.label or self._row.what, self._row.left_g
        if mass is None:
            self.told.setText(tr("{bottle}: its mass is not in the book.", bottle=what))
        else:
            self.told.setText(tr("{bottle}: {mass} left.", bottle=what, mass=figures.mass_text(mass)))
        key = self.carrier.key
        self.carrier_box.show_rows(self.mixing.carriers(key), of=key, unbooked=key is not None)
        self.edited.emit()

    def _plan(self) -> Plan | None:
        amount, strength, carrier = read(self.fields["amount"]), self._strength(), self._picked("carrier")
        self._tell_gone("carrier bottle")
        if amount is None or strength is None or carrier is None or self.carrier_box.is_gone:
            return None
        return self.mixing.smelling(self._row, strength, amount, self.carrier_box.row, carrier)

    def base(self) -> Bottle:
        vial = self._row.bottle
        return Bottle(code="?", kind="smelling", version=vial.version, strength=self.wished or 1.0, carrier=self.carrier.key)

    def proposed(self) -> dict[str, str]:
        strength = self.wished
        if strength is None:
            return {}
        vial, typed = self._row.bottle, strength_typed(strength)
        code = f"{vial.code}-{typed}"
        if self.mixing.known.is_taken(code):
            code = self.mixing.known.next_code(f"{code}-")
        return {"code": code, "label": f"{vial.label or vial.code} {typed} %"}

    def field_of(self, finding: Finding) -> str | None:
        if finding.code in ("too-little", "beyond-left", "contents-unknown"):
            if finding.data.get("code") == self._row.bottle.code:
                return "amount"
            box = self.carrier_box.row
            return "carrier bottle" if box and box.bottle.code == finding.data.get("code") else None
        by_code = {"strength-out-of-reach": "strength", "strength-range": "strength", "mass-not-positive": "amount"}
        return by_code.get(finding.code)
