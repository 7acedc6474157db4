# SPDX-License-Identifier: MIT
"""A parcel as it is typed, one row a bottle: understood after every cell, and put into the book as one delivery."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, Qt, Signal

from db import Arrival, Change
from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.delivery_rows import CELLS, NUMBERS, DeliveryRow, Known, reckoned
from desktop.models.shelf_names import Candidate, ShelfNames
from desktop.models.stock_words import read_stock
from desktop.models.table import TableModel
from desktop.session import Session
from perfumery import Balance, Bottle, Finding, Material, Refused
from perfumery.findings import refuse
from perfumery.numbers import readings_of
from perfumery.text import fold
from perfumery.weighing import found_u

STEM = "B"
HINT = tr("type a material…")
NOON = time(12)
_EDIT = Qt.ItemDataRole.EditRole
_COPIED = tuple(cell for cell in CELLS if cell != "code")


def _figure(cell: str, row: DeliveryRow) -> str:
    """A figure as typed, its mark a point; an offer with its question mark."""
    text = row.typed.get(cell, "")
    if cell == "tare" and row.tare_inferred:
        return figures.mass(row.tare_g, 10.0**-row.decimals)
    if not text and cell in row.offers:
        return f"{row.offers[cell]}{figures.THIN}?"
    return text if row.wrong_in(cell) else text.replace(",", ".")


def _ordered(row: DeliveryRow) -> str:
    return row.typed.get("ordered", "") if row.ordered is None else row.ordered.text


def _opened(row: DeliveryRow) -> str:
    return row.typed.get("opened", "") if row.opened_on is None else figures.day(row.opened_on)


def _number(row: DeliveryRow) -> str:
    offer = row.offers.get("number", "")
    return row.typed.get("number", "") or (f"{offer}{figures.THIN}?" if offer else "")


def _material(row: DeliveryRow) -> str:
    if row.is_blank:
        return HINT
    return tr("new: {name}", name=row.name) if row.new_name else row.name or row.typed.get("material", "")


def _sure(text: str) -> str:
    """A pasted figure; one that can be read two ways ('1,234') with a mark that asks for it to be written again."""
    try:
        return f"{text}?" if len(readings_of(text)) > 1 else text
    except Refused:
        return text


def _told(row: DeliveryRow) -> str:
    if row.is_blank:
        return ""
    return row.waits_for or row.mass_words


def columns(currency: str) -> tuple[Column[DeliveryRow], ...]:
    """The columns of a delivery in a currency."""
    plain = lambda cell: lambda row: row.typed.get(cell, "")
    return (
        Column("material", tr("material"), _material, 160, tip=tr("Any of its names; a new name becomes a new material"),
               plain=lambda row: row.name or row.typed.get("material", "")),
        Column("strength", tr("strength"), lambda row: "" if row.is_blank else row.typed.get("strength", "")
               if row.wrong_in("strength") else row.strength_text, 108,
               tip=tr("neat, or as 10 % in DPG")),
        Column("code", tr("code"), lambda row: row.code, 54,
               tip=tr("What stands on the label; counted up until you write your own")),
        Column("ordered", tr("ordered"), _ordered, 72, right=True, tip=tr("As 50 g or 50 ml")),
        Column("density", "g/ml", lambda row: _figure("density", row), 54, right=True, hidden=True,
               tip=tr("The density: makes grams of what was ordered in ml")),
        Column("gross", tr("gross"), lambda row: _figure("gross", row), 60, right=True, unit="g",
               tip=tr("What the balance shows for the full bottle")),
        Column("tare", tr("tare"), lambda row: _figure("tare", row), 54, right=True, unit="g", plain=plain("tare"),
               tip=tr("The empty bottle with its cap; without it, gross less what was ordered")),
        Column("price", tr("paid"), lambda row: _figure("price", row), 54, right=True,
               unit=figures.SYMBOLS.get(currency, currency),
               plain=plain("price"), tip=tr("For the whole bottle")),
        Column("lot", tr("lot"), plain("lot"), 80),
        Column("number", tr("order no."), _number, 76, plain=plain("number"), tip=tr("The supplier's own number")),
        Column("container", tr("container"), plain("container"), 136),
        Column("liner", tr("cap liner"), plain("liner"), 82),
        Column("place", tr("place"), plain("place"), 54, hidden=True),
        Column("opened", tr("opened"), _opened, 84, hidden=True),
        Column("remark", tr("remark"), plain("remark"), 120, hidden=True),
        Column("told", tr("net"), _told, 150, tip=tr("What will be booked, or what has to be mended first"),
               plain=lambda row: row.mass_g),
    )  # fmt: skip


class DeliveryModel(TableModel[DeliveryRow]):
    """The rows of one parcel; the last one is always empty. `judged` after every change."""

    judged = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(columns(session.book.currency), parent)
        self._session = session
        self._names = ShelfNames(session.book)
        self._bought: dict[int, list[Bottle]] = {}
        self._taken: dict[str, bool] = {}
        self._taken_back: tuple[DeliveryRow, ...] = ()
        self.supplier = ""
        # the book is not read before the sheet is shown
        self.show_rows([DeliveryRow(1)])

    # rows -------------------------------------------------------------------------------------------------------------

    @property
    def bottles(self) -> tuple[DeliveryRow, ...]:
        """The rows in which something was typed."""
        return tuple(row for row in self.rows if not row.is_blank)

    def begin(self) -> None:
        """Begins anew; the rows typed before can be brought back."""
        self._taken_back = self.bottles
        self._judge([])

    def remove(self, places: Iterable[int]) -> int:
        """Takes rows out; how many. They can be brought back."""
        gone = {place for place in places if not self.row(place).is_blank}
        if gone:
            before = self.bottles
            self._judge([row for place, row in enumerate(self.rows) if place not in gone])
            self._taken_back = before
        return len(gone)

    def bring_back(self) -> None:
        """Brings back the rows as they stood before the last removal, and keeps what was typed since."""
        before, self._taken_back = self._taken_back, ()
        numbers = {row.number for row in before}
        self._judge([*before, *(row for row in self.bottles if row.number not in numbers)])

    def kept(self) -> list[dict[str, Any]]:
        """What was typed, so that it can be taken up again: texts by cell, and what each row was taken for."""
        return [{"typed": dict(row.typed), "material": row.material, "new_name": row.new_name} for row in self.bottles]

    def take_up(self, kept: Iterable[Mapping[str, Any]]) -> None:
        """Rows as they were kept; a material that is no longer in the book is asked for again."""
        known = {row.key for row in self._session.book.material_rows()}
        rows = []
        for number, row in enumerate(kept, 1):
            material = row["material"] if row["material"] in known else None
            rows.append(DeliveryRow(number, dict(row["typed"]), material, str(row["new_name"])))
        self._judge(rows)

    def set_supplier(self, supplier: str) -> None:
        """Who it comes from: what was ordered there last is offered."""
        if supplier != self.supplier:
            self.supplier = supplier
            self._judge(self.rows)

    def suppliers(self) -> tuple[str, ...]:
        """Everybody something was bought from, by name."""
        bought = (row.bottle for row in self._session.book.bottles.rows(gone=True) if row.bottle.kind == "bought")
        found = {fold(b.supplier): b.supplier for b in bought if b.supplier}
        return tuple(found[name] for name in sorted(found))

    def candidates(self, text: str) -> tuple[Candidate, ...]:
        """The materials a typed name could mean; a new one last."""
        return tuple(one for one in self._names.candidates(text.strip(), None) if one.accord is None)

    def forget(self, change: Change) -> None:
        """Drops what a change of the book has made stale."""
        if change.touches(Material, Bottle):
            self._names.forget(change)
            self._bought.clear()
            self._taken.clear()

    def refresh(self) -> None:
        """Understands what is typed by the book as it stands now."""
        self._judge(self.rows)

    # what is typed ----------------------------------------------------------------------------------------------------

    def choose(self, place: int, candidate: Candidate) -> None:
        """Takes a row for this material, or for a new one of this name."""
        row = self.row(place)
        typed = {cell: text for cell, text in row.typed.items() if cell != "material"}
        self._change(replace(row, typed=typed, material=candidate.material, new_name=candidate.new_name))

    def copy_above(self, place: int, cell: str) -> bool:
        """Writes into a cell what stands in the one above; whether there was something."""
        if place < 1 or cell not in _COPIED:
            return False
        above, row = self.row(place - 1), self.row(place)
        if cell == "material":
            typed = {**row.typed, "material": above.typed.get("material", "")}
            self._change(replace(row, typed=typed, material=above.material, new_name=above.new_name))
            return True
        text = above.typed.get(cell, "")
        if text:
            self._change(replace(row, typed={**row.typed, cell: text}))
        return bool(text)

    def take_offer(self, place: int, cell: str) -> bool:
        """Writes what is offered in a cell; whether anything was."""
        row = self.row(place)
        offer = row.offers.get(cell, "")
        if offer:
            self._change(replace(row, typed={**row.typed, cell: offer}))
        return bool(offer)

    def paste(self, place: int, cells: Sequence[str], text: str) -> int:
        """Writes rows of a sheet over the table from a row on, into these cells or those its first line names; how many.

        Fields for which there is no cell go into the remark: nothing is dropped.
        """
        lines = [[" ".join(cell.split()) for cell in line.split("\t")] for line in text.splitlines() if line.strip()]
        heads = {fold(name): column.key for column in self.columns for name in (column.head, column.title)}
        named = [heads.get(fold(cell), "remark") for cell in lines[0]] if lines else []
        if sum(key != "remark" for key in named) > 1:
            cells, lines = named, lines[1:]
        rows = list(self.rows)
        for at, line in enumerate(lines, place):
            if at == len(rows):
                rows.append(DeliveryRow(rows[-1].number + 1))
            rows[at] = self._pasted(rows[at], cells, line)
        self._judge(rows)
        return len(lines)

    def _pasted(self, row: DeliveryRow, cells: Sequence[str], line: Sequence[str]) -> DeliveryRow:
        typed, material, over = dict(row.typed), row.material, []
        for at, text in enumerate(line):
            cell = cells[at] if at < len(cells) else "remark"
            if cell == "remark" and text:
                over.append(text)
            elif cell == "material":
                match = self._names.matcher.match(text).found if text else None
                material, typed[cell] = (None, text) if match is None else (match.key, "")
            elif cell != "told" and text:
                typed[cell] = _sure(text) if cell in NUMBERS else text
        if over:
            typed["remark"] = " · ".join(over)
        return replace(row, typed=typed, material=material, new_name=row.new_name if material is None else "")

    def setData(self, index: QModelIndex, value: object, role: int = _EDIT) -> bool:
        """Keeps what was typed, whatever it is; False where it cannot be read, so that the cursor stays."""
        if role != _EDIT or not index.isValid():
            return False
        row, column = self.row(index.row()), self.columns[index.column()]
        text = " ".join(str(value).split())
        if text == self.edit_text(row, column):
            return not row.wrong_in(column.key)
        if column.key == "material":
            match = self._names.matcher.match(text).found if text else None
            row = replace(row, material=None if match is None else match.key, new_name="")
            text = text if match is None else ""
        self._change(replace(row, typed={**row.typed, column.key: text}))
        fresh = self.row(index.row())
        return not fresh.wrong_in(column.key) and not (column.key == "material" and bool(text))

    def _change(self, row: DeliveryRow) -> None:
        self._judge([row if other.number == row.number else other for other in self.rows])

    # what it is taken for ---------------------------------------------------------------------------------------------

    def _judge(self, rows: Sequence[DeliveryRow]) -> None:
        """Understands every row anew: a code or a supplier concerns all of them."""
        rows = list(rows)
        while rows and rows[-1].is_blank:
            rows.pop()
        # the empty row keeps its number while it stays empty: the cursor stands in it
        standing = {row.number for row in self.rows} | {row.number for row in (*rows, *self._taken_back)}
        last = self.rows[-1].number if self.rows else 0
        number = last if last and last not in {row.number for row in rows} else max(standing, default=0) + 1
        today = self._session.book.now().date()
        coded = self._coded([*rows, DeliveryRow(number)])
        self.show_rows([self._understood(row, today) for row in coded])
        self.judged.emit()

    def _understood(self, row: DeliveryRow, today: date) -> DeliveryRow:
        if row.is_blank:
            return DeliveryRow(row.number, code=row.code)
        known = self._known(row.material)
        row = replace(row, name=row.new_name or known.name)
        if row.material is None and not row.new_name:
            text = row.typed.get("material", "")
            ask = tr("Which material is it?")
            if text:
                ask = tr("Which material is “{typed}”? Choose it from the list.", typed=text)
            row = replace(row, asks=(("material", ask),))
        return reckoned(self._diluted(row, known), known, today)

    def _coded(self, rows: list[DeliveryRow]) -> list[DeliveryRow]:
        """The rows with their codes: the typed ones, else the next free ones; a code that stands already is refused."""
        used = {row.typed["code"] for row in rows if row.typed.get("code")}
        stem, count, width = self._first_code()
        seen: set[str] = set()
        coded = []
        for row in rows:
            code, wrong = row.typed.get("code", ""), ""
            if not code:
                code = row.code
                while not code or code in used or self._is_taken(code):
                    code = f"{stem}{count:0{width}d}"
                    count += 1
                used.add(code)
            elif self._is_taken(code):
                wrong = wording.sentence(Finding("code-taken", {"code": code}))
            elif code in seen:
                wrong = tr("The code {code} stands twice in this delivery. Choose another one.", code=code)
            seen.add(code)
            problems = (("code", wrong),) if wrong else ()
            # nothing of what was reckoned before is kept: only what was typed and chosen
            coded.append(DeliveryRow(row.number, row.typed, row.material, row.new_name, code, problems=problems))
        return coded

    def _is_taken(self, code: str) -> bool:
        if code not in self._taken:
            self._taken[code] = self._session.book.get(Bottle, code) is not None
        return self._taken[code]

    def _first_code(self) -> tuple[str, int, int]:
        code = self._session.book.next_code(Bottle, STEM)
        match = re.fullmatch(rf"({STEM})(\d+)", code)
        assert match is not None
        return match[1], int(match[2]), len(match[2])

    def _diluted(self, row: DeliveryRow, known: Known) -> DeliveryRow:
        """The row with its strength and carrier: as typed, else as it was bought last."""
        text = row.typed.get("strength", "")
        strength, carrier = known.last_strength, known.last_carrier
        try:
            if text:
                wanted, name = read_stock(text)
                strength = known.last_strength if wanted is None else wanted
                carrier = self._names.carrier_key(name) if name else None
                if strength == 1 and carrier is not None:
                    raise refuse("carrier-unneeded")
                if carrier is not None and carrier == row.material:
                    raise refuse("carrier-itself")
        except Refused as fault:
            return replace(row, problems=(*row.problems, ("strength", wording.sentences(fault.findings))))
        row = replace(row, strength=strength, carrier=carrier, carrier_name=self._names.carrier(carrier))
        if strength < 1 and carrier is None:
            ask = tr("Diluted in what? Write the carrier behind it, as 10 % in DPG.")
            row = replace(row, asks=(*row.asks, ("strength", ask)))
        return row

    def _known(self, material: int | None) -> Known:
        value = None if material is None else self._session.book.get(Material, material)
        if value is None or material is None:
            return Known()
        density = next((p.value for p in value.properties if p.kind == "density_kg_m3" and p.value), None)
        own = self._of(material)
        here = [bottle for bottle in own if bottle.supplier and fold(bottle.supplier) == fold(self.supplier)]
        last = own[-1] if own else None
        priced = [bottle for bottle in (*own, *here) if bottle.price_per_g is not None]
        return Known(
            name=value.short,
            density=None if density is None else density / 1000,
            last_strength=1.0 if last is None else last.strength,
            last_carrier=None if last is None else last.carrier,
            last_number=next((bottle.supplier_no for bottle in reversed(here) if bottle.supplier_no), ""),
            priced=priced[-1] if priced else None,
            standing=tuple((bottle.code, bottle.lot) for bottle in own if bottle.gone_on is None),
        )

    def _of(self, material: int) -> list[Bottle]:
        """What was bought of a material, oldest first; read again when a bottle changed."""
        if material not in self._bought:
            own = self._session.book.all(Bottle, material=material, kind="bought")
            self._bought[material] = sorted(own, key=lambda b: (b.received_on or date.min, b.key or 0))
        return self._bought[material]

    # what a view asks -------------------------------------------------------------------------------------------------

    def identity(self, row: DeliveryRow) -> Hashable:
        return row.number

    def tone(self, row: DeliveryRow, column: Column[DeliveryRow]) -> str:
        key = column.key
        if row.is_blank or (key == "code" and not row.typed.get("code")):
            return "quiet"
        if key == "told":
            return "brick" if row.problems else "amber" if row.asks else "quiet" if row.estimated else "ink"
        if row.wrong_in(key):
            return "brick"
        if any(cell == key for cell, _ in row.asks):
            return "amber"
        is_own = row.typed.get(key) or key == "material"
        return "ink" if is_own else "quiet"

    def tip(self, row: DeliveryRow, column: Column[DeliveryRow]) -> str:
        return row.wrong_in(column.key)

    def edit_text(self, row: DeliveryRow, column: Column[DeliveryRow]) -> str:
        if column.key == "material":
            return row.new_name or row.name or row.typed.get("material", "")
        if column.key == "code" and not row.is_blank:
            return row.code
        return row.typed.get(column.key, "")

    def flags(self, index: QModelIndex) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return flags if self.columns[index.column()].key == "told" else flags | Qt.ItemFlag.ItemIsEditable

    # booking ----------------------------------------------------------------------------------------------------------

    def receive(self, on: date, balance: Balance | None) -> tuple[Bottle, ...]:
        """Puts every bottle and the materials that are new in one transaction, and begins anew; nothing where the book
        could not write. Raises Refused."""
        made: dict[str, Material] = {}
        arrivals = [self._arrival(row, on, balance, made) for row in self.bottles]
        now = self._session.book.now()
        at = now if on == now.date() else datetime.combine(on, NOON, tzinfo=now.tzinfo)
        if self.supplier:
            what = tr("delivery from {supplier}", supplier=self.supplier)
        else:
            what = tr_count(len(arrivals), "delivery of {n} bottle", "delivery of {n} bottles")
        put = self._session.do(self._session.book.bottles.receive, *arrivals, at=at, what=what, also=tuple(made.values()))
        if put:
            self._judge([])
            self._taken_back = ()
        return put or ()

    def _arrival(self, row: DeliveryRow, on: date, balance: Balance | None, made: dict[str, Material]) -> Arrival:
        material, typed = row.material, row.typed
        if row.new_name:
            fresh = Material(name=row.new_name, key=self._session.book.new_key())
            material = made.setdefault(fold(row.new_name), fresh).key
        bottle = Bottle(
            code=row.code, label=row.name, material=material, price_per_g=row.price_per_g, tare_g=row.tare_g,
            strength=row.strength, carrier=row.carrier, lot=typed.get("lot", ""), supplier=self.supplier,
            supplier_no=typed.get("number", ""),
            received_on=on, opened_on=row.opened_on, container=typed.get("container", ""), liner=typed.get("liner", ""),
            place=typed.get("place", ""), remark=typed.get("remark", ""), tare_inferred=row.tare_inferred,
        )  # fmt: skip
        is_weighed = row.mass_g is not None and not row.estimated
        return Arrival(
            bottle, row.mass_g, row.estimated, read_g=row.gross_g,
            u_g=found_u(balance) if is_weighed and balance is not None else None,
        )  # fmt: skip
