# SPDX-License-Identifier: MIT
"""The other questions of the mixing sheet: an accord made up, a vial thinned for smelling, a bottle brought to a strength."""

from __future__ import annotations

import re
from dataclasses import replace

from PySide6.QtWidgets import QWidget

from db import BottleRow
from desktop import figures
from desktop.models.mix import Plan, project_of
from desktop.models.shelf_names import ShelfNames
from desktop.pages.shelf.mix_ask import Ask, MaterialPick
from desktop.pages.shelf.mix_dilution import strength_typed
from desktop.pages.shelf.mix_parts import BottleBox, Box, read_mass
from desktop.session import Session
from desktop.widgets.labels import label
from perfumery import Bottle, Finding, Version
from perfumery.findings import refuse

# How much of a vial goes into a smelling dilution where nothing else is said: our own choice.
VIAL_G = 1.0
ACCORD_G = 10.0


class AccordAsk(Ask):
    """Which version, and how much of it."""

    kind = "accord"

    def __init__(self, session: Session, version: int | None, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self._chosen: dict[int, int] = {}
        self._version: Version | None = None
        self.version = Box(self)
        self._add("version", "version", self.version, (0, 0, 1, 2), "Those used as accords come first")
        self.amount = self._line("amount", "amount, g", (1, 0, 1, 1))
        self.amount.setText(figures.parts(ACCORD_G))
        self.refresh()
        at = self.version.findData(version)
        self.version.setCurrentIndex(max(at, 0) if self.version.count() else -1)
        self.version.currentIndexChanged.connect(lambda _: self._on_version_changed())
        self._on_version_changed()

    @property
    def title(self) -> str:
        return "An accord"

    @property
    def first(self) -> QWidget:
        return self.amount

    def refresh(self) -> None:
        chosen = self.version.currentData()
        self.version.blockSignals(True)
        self.version.clear()
        for version in self.mixing.accords():
            self.version.addItem(" ".join(filter(None, (version.name, version.code))), version.key)
        self.version.setCurrentIndex(max(self.version.findData(chosen), 0) if self.version.count() else -1)
        self.version.blockSignals(False)
        self._version = self._looked_up()
        self.edited.emit()

    def _looked_up(self) -> Version | None:
        key = self.version.currentData()
        return None if key is None else self._session.book.get(Version, key)

    def _on_version_changed(self) -> None:
        self._version = self._looked_up()
        self._chosen.clear()
        self.edited.emit()

    def _plan(self) -> Plan | None:
        amount = read_mass(self.fields["amount"])
        told = ""
        if self._version is not None and not self._version.is_frozen:
            told = f"Once weighed, the lines of {self._version.code} never change again; a later edit makes a new version."
        self.fields["version"].say(told, "quiet")
        if self._version is None or amount is None:
            return None
        return self.mixing.accord(self._version, amount, self._chosen)

    def choose(self, line: int, bottle: int) -> None:
        self._chosen[line] = bottle
        self.edited.emit()

    def base(self) -> Bottle:
        return Bottle(code="?", kind="accord", version=self.version.currentData())

    def proposed(self) -> dict[str, str]:
        known = self._version
        name = "" if known is None else known.name or known.code
        return {"code": self._session.book.next_code(Bottle, "A-"), "label": name}

    def field_of(self, finding: Finding) -> str | None:
        return {"reason-missing": "version", "no-lines": "version", "mass-not-positive": "amount"}.get(finding.code)


class SmellingAsk(Ask):
    """So much of a vial, at which strength, in what."""

    kind = "smelling"
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
        self.amount = self._line("amount", f"of {self._row.bottle.code}, g", (1, 0, 1, 1))
        self.strength = self._line("strength", "strength wanted, %", (1, 1, 1, 1))
        self.carrier = MaterialPick(session, self, carriers=True)
        self._add("carrier", "carrier", self.carrier, (2, 0, 1, 1))
        self.carrier_box = BottleBox(self)
        self._add("carrier bottle", "taken from", self.carrier_box, (2, 1, 1, 1))
        left = self._row.left_g
        self.amount.setText(figures.mass(VIAL_G if left is None or not left > 0 else min(VIAL_G, left)))
        self.strength.setText("" if wanted is None else strength_typed(wanted))
        self.carrier.show_key(thinner)
        self.carrier.taken.connect(self.refresh)
        self.carrier_box.changed.connect(self.edited)
        self.refresh()

    def _looked_up(self) -> BottleRow:
        row = self._session.book.bottles.row(self._key)
        if row is None:
            raise refuse("reference-missing", kind="Bottle", key=self._key)
        return row

    @property
    def title(self) -> str:
        return f"{self._row.bottle.code} thinned for smelling"

    @property
    def first(self) -> QWidget:
        return self.amount

    def refresh(self) -> None:
        self._row = self._looked_up()
        left = "its mass is not in the book" if self._row.left_g is None else f"{figures.mass_text(self._row.left_g)} left"
        self.told.setText(f"{self._row.bottle.label or self._row.what}: {left}.")
        self.carrier_box.show_rows(self.mixing.carriers(self.carrier.key), unbooked=self.carrier.key is not None)
        self.edited.emit()

    def _plan(self) -> Plan | None:
        amount, strength, carrier = read_mass(self.fields["amount"]), self._strength(), self._picked("carrier")
        self.fields["carrier bottle"].say("")
        if amount is None or strength is None or carrier is None:
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
        if self._session.book.get(Bottle, code) is not None:
            code = self._session.book.next_code(Bottle, f"{code}-")
        return {"code": code, "label": f"{vial.label or vial.code} {typed} %"}

    def field_of(self, finding: Finding) -> str | None:
        if finding.code in ("too-little", "beyond-left", "contents-unknown"):
            if finding.data.get("code") == self._row.bottle.code:
                return "amount"
            box = self.carrier_box.row
            return "carrier bottle" if box and box.bottle.code == finding.data.get("code") else None
        by_code = {"strength-out-of-reach": "strength", "strength-range": "strength", "mass-not-positive": "amount"}
        return by_code.get(finding.code)


class ChangeAsk(Ask):
    """A bottle brought to a strength by what is added to it; `settle` first takes a loss for carrier."""

    kind = "top-up"
    brief = True

    def __init__(
        self, session: Session, bottle: int, *, top_up: bool, settle: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(session, parent)
        self._key, self._top_up, self.settle = bottle, top_up, settle
        self._row = self._looked_up()
        self.told = label("", wrap=True)
        self._grid.addWidget(self.told, 0, 0, 1, 2)
        self.strength = self._line("strength", "strength wanted, %", (1, 0, 1, 1), "Above what it has now: stronger is added")
        self.carrier = MaterialPick(session, self, carriers=True)
        self._add("carrier", "carrier", self.carrier, (1, 1, 1, 1))
        self.box = BottleBox(self)
        self._add("bottle", "taken from", self.box, (2, 0, 1, 2))
        own = self._row.bottle
        self.carrier.show_key(own.carrier or ShelfNames(session.book).usual_carrier(session.project, own.material))
        self.fields["carrier"].setVisible(own.carrier is None)
        self.fields["strength"].setVisible(not settle)
        if top_up and not settle:
            self.strength.setText(strength_typed(own.strength))
        self.strength.textChanged.connect(self.refresh)
        self.carrier.taken.connect(self.refresh)
        self.box.changed.connect(self.edited)
        self.refresh()

    def _looked_up(self) -> BottleRow:
        row = self._session.book.bottles.row(self._key)
        if row is None:
            raise refuse("reference-missing", kind="Bottle", key=self._key)
        return row

    @property
    def title(self) -> str:
        code = self._row.bottle.code
        return f"{code} topped up" if self._top_up else f"{code} strengthened or weakened"

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
            self.box.show_rows(self.mixing.carriers(self.carrier.key), unbooked=self.carrier.key is not None)
        elif own.material is not None:
            rows = [row for row in self.mixing.sources(own.material, wanted) if row.key != self._key]
            self.box.show_rows(rows, unbooked=True, telling=own.material)
        else:
            self.box.show_rows(row for row in self.mixing.of_version(own.version, vials=True) if row.key != self._key)
        self.edited.emit()

    def _tell(self) -> None:
        row, drift = self._row, self._row.drift
        code, now = row.bottle.code, figures.percent_text(self.mixing.strength_now(row, settle=self.settle))
        if self.settle and drift is not None and drift.missing_g > 0:
            low = figures.percent_text(drift.strength_low)
            self.told.setText(
                f"{figures.mass_text(drift.missing_g)} are missing from {code}. If all of it was {row.carrier_name}, what is "
                f"left has risen from {low} to {now}. That much {row.carrier_name} brings it back."
            )
        else:
            left = "an unknown mass" if row.left_g is None else figures.mass_text(row.left_g)
            self.told.setText(f"{code} holds {left} at {now}; its label says {figures.strength_text(row.bottle.strength)}.")

    def _plan(self) -> Plan | None:
        self._strength()
        wanted = self.wanted
        self.fields["bottle"].say("")
        if self.settle and (self._row.drift is None or not self._row.drift.missing_g > 0):
            raise refuse("left-unknown", code=self._row.bottle.code)
        if wanted is None:
            return None
        material = self.carrier.key if self._weakens else self._row.bottle.material
        if self.box.is_none:
            self.fields["bottle"].say("No bottle stands here that would bring it to this strength.", "amber")
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
