# SPDX-License-Identifier: MIT
"""A dilution asked for: which material at which strength in what, and the amount in one of four ways."""

from __future__ import annotations

from PySide6.QtWidgets import QButtonGroup, QRadioButton, QVBoxLayout, QWidget

from desktop import figures
from desktop.language import tr
from desktop.models.mix import WAYS, Plan, is_true_to_label
from desktop.models.shelf_names import ShelfNames
from desktop.pages.shelf.mix_ask import Ask, MaterialPick
from desktop.pages.shelf.mix_parts import UNBOOKED, BottleBox, read
from desktop.session import Session
from desktop.widgets.emptied import empty
from perfumery import Bottle, Finding
from perfumery.findings import refuse

# Most stocks of a bench stand at a tenth: our own choice.
USUAL = 0.1


class DilutionAsk(Ask):
    """Material, strength, source, carrier, amount."""

    def __init__(
        self, session: Session, material: int | None, source: int | None, strength: float | None, carrier: int | None,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(session, parent)
        book = session.book
        given = None if source is None else book.get(Bottle, source)
        if given is not None and material is None:
            material = given.material
        self._source_wanted = source
        self._names = ShelfNames(book)
        self._filled = ""
        self.material = MaterialPick(session, self)
        self._add(
            "material", tr("material"), self.material, (0, 0, 1, 1), tr("Type a part of its name; Enter takes the one chosen")
        )
        self.strength = self._line("strength", tr("strength wanted, %"), (0, 1, 1, 1), tr("10, 0.1; by mass"), self._show_sources)
        self.source = BottleBox(self)
        self._add("source", tr("taken from"), self.source, (1, 0, 1, 2))
        self.carrier = MaterialPick(session, self, carriers=True)
        self._add("carrier", tr("carrier"), self.carrier, (2, 0, 1, 1), tr("What it is diluted in"))
        self.carrier_box = BottleBox(self)
        self._add("carrier bottle", tr("taken from"), self.carrier_box, (2, 1, 1, 1))
        self._add_ways()
        self.amount = self._line("amount", WAYS[0][2], (4, 0, 1, 1))
        self.material.show_key(material)
        self.carrier.show_key(carrier if carrier is not None else self._names.usual_carrier(session.project, material))
        self.strength.setText(strength_typed(_usual(given) if strength is None else strength))
        for pick, slot in ((self.material, self._on_material_taken), (self.carrier, self._on_carrier_taken)):
            pick.taken.connect(slot)
        self.source.changed.connect(self._on_source_changed)
        self.carrier_box.changed.connect(self.edited)
        self.refresh()

    def _add_ways(self) -> None:
        rows = QVBoxLayout()
        rows.setSpacing(4)
        self.ways: dict[str, QRadioButton] = {}
        self._group = QButtonGroup(self)
        for way, sentence, _ in WAYS:
            button = self.ways[way] = QRadioButton(sentence[0].upper() + sentence[1:], self)
            self._group.addButton(button)
            rows.addWidget(button)
        self.ways["total"].setChecked(True)
        self.ways["thinned"].setToolTip(tr("The same as choosing a stronger dilution above"))
        self._group.buttonToggled.connect(lambda _, on: self._on_way_chosen() if on else None)
        self._grid.addLayout(rows, 3, 0, 1, 2)

    # answers ----------------------------------------------------------------------------------------------------------

    @property
    def title(self) -> str:
        return tr("A dilution")

    @property
    def first(self) -> QWidget:
        return self.material if self.material.key is None else self.amount

    @property
    def way(self) -> str:
        """How the amount is asked for: a key of `WAYS`."""
        return next(way for way, button in self.ways.items() if button.isChecked())

    def _plan(self) -> Plan | None:
        material, carrier, strength = self._picked("material"), self._picked("carrier"), self._strength()
        amount = read(self.fields["amount"])
        self._tell_source()
        self._tell_gone("carrier bottle")
        if material is None or carrier is None or strength is None or self.source.is_gone:
            return None
        if amount is None:
            self._check_reach(strength)
            return None
        if self.carrier_box.is_gone:
            return None
        return self.mixing.dilution(material, strength, self.way, amount, self.source.row, self.carrier_box.row, carrier)

    def _check_reach(self, strength: float) -> None:
        """A strength out of reach is said before an amount is typed."""
        row = self.source.row
        most = 1.0 if row is None else self.mixing.strength_now(row)
        if strength >= most:
            raise refuse("strength-out-of-reach", wanted=strength, most=most)

    def _tell_source(self) -> None:
        row = self.source.row
        told = ""
        if row is not None and not is_true_to_label(row):
            told = tr("It truly holds {strength}; the masses follow from that.", strength=figures.percent_text(row.strength))
        elif row is None and not self.source.is_none:
            told = tr("It is written into the book as a bottle of the neat material, without its mass.")
        self._tell_gone("source", told)

    def base(self) -> Bottle:
        strength = self.wished or 1.0
        return Bottle(code="?", kind="dilution", material=self.material.key, strength=strength, carrier=self.carrier.key)

    def proposed(self) -> dict[str, str]:
        found = {"code": self.mixing.known.next_code("K")}
        strength = self.wished
        if self.material.key is not None and strength is not None:
            known = self.mixing.known.material(self.material.key)
            carrier = self.mixing.carrier_name(self.carrier.key)
            found["label"] = f"{'' if known is None else known.short} {strength_typed(strength)} % {carrier}".strip()
        return found

    def field_of(self, finding: Finding) -> str | None:
        by_code = {"strength-out-of-reach": "strength", "strength-range": "strength", "carrier-itself": "carrier",
                   "mass-not-positive": "amount", "carrier-missing": "carrier"}  # fmt: skip
        if finding.code in ("too-little", "beyond-left", "contents-unknown"):
            boxes = (("source", self.source), ("carrier bottle", self.carrier_box))
            return next((n for n, box in boxes if box.row and box.row.bottle.code == finding.data.get("code")), None)
        return by_code.get(finding.code)

    # bottles ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        self._show_carriers()
        self._show_sources()

    def _show_sources(self) -> None:
        material = self.material.key
        strength = self.wished
        standing = self.mixing.sources(material)
        stronger = self.mixing.sources(material, strength)
        # the one chosen stays to be seen, even where it is too weak for what is wished for
        keep = self._source_wanted if self._source_wanted is not None else self.source.currentData()
        rows = [row for row in standing if row in stronger or row.key == keep]
        self.source.show_rows(rows, self._source_wanted, of=material, unbooked=material is not None, telling=material)
        self._source_wanted = None
        self.ways["thinned"].setEnabled(any(row.bottle.strength < 1 for row in rows))
        self._follow_source()
        self.edited.emit()

    def _show_carriers(self) -> None:
        key = self.carrier.key
        self.carrier_box.show_rows(self.mixing.carriers(key), of=key, unbooked=key is not None)

    @property
    def _is_thinned(self) -> bool:
        return self.source.row is not None and self.source.row.bottle.strength < 1

    def _follow_source(self) -> None:
        """The sentence that is marked follows the kind of source that is chosen."""
        if self.source.is_gone:
            return
        if self._is_thinned and self.way == "total":
            self.ways["thinned"].setChecked(True)
        elif not self._is_thinned and self.way == "thinned":
            self.ways["total"].setChecked(True)

    def _on_source_changed(self) -> None:
        self._follow_source()
        self._fill_amount()
        self.edited.emit()

    def _on_way_chosen(self) -> None:
        field = self.fields["amount"]
        field.caption.setText(next(caption for way, _, caption in WAYS if way == self.way))
        self.amount.setAccessibleName(field.caption.text())
        thinned = {row.key for row in self.mixing.sources(self.material.key) if row.bottle.strength < 1}
        keys = [self.source.itemData(at) for at in range(self.source.count())]
        if self.way == "thinned" and not self._is_thinned:
            self.source.choose(next((key for key in keys if key in thinned), UNBOOKED))
        elif self.way == "total" and self._is_thinned:
            self.source.choose(next((key for key in keys if key not in thinned), UNBOOKED))
        self._fill_amount()
        self.edited.emit()

    def _fill_amount(self) -> None:
        """All the material there is: what the book says is left, until it is typed over."""
        row = self.source.row
        typed = self.amount.text().strip()
        if self.way == "source" and row is not None and row.left_g is not None and typed in ("", self._filled):
            self._filled = figures.mass(row.left_g)
            self.amount.setText(self._filled)
        elif self.way != "source" and typed and typed == self._filled:
            self._filled = ""
            empty(self.amount)

    def _on_material_taken(self) -> None:
        if self.carrier.key is None:
            self.carrier.show_key(self._names.usual_carrier(self._session.project, self.material.key))
            self._show_carriers()
        self._show_sources()

    def _on_carrier_taken(self) -> None:
        self._show_carriers()
        self.edited.emit()


def strength_typed(strength: float) -> str:
    """A strength as it is typed: '10', '0.1'."""
    return figures.strength_text(strength).partition(figures.THIN)[0]


def _usual(source: Bottle | None) -> float:
    """The strength offered first: a tenth, or a tenth of a source that is not stronger than that."""
    return USUAL if source is None or source.strength > USUAL else source.strength * USUAL
