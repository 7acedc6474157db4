# SPDX-License-Identifier: MIT
"""The lines of a version as a table: typed cells become one edit each, worked-out cells come back as ready strings.

A frozen version is never changed: its first edit puts a draft child that holds the edit, in the same step. What cannot be
taken stays in its cell as typed, with the reason, until it is mended or given up.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, Qt, Signal

from db import Change
from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.line_rows import COLUMNS, HELD, LineRow, parts_text
from desktop.models.shelf_names import ShelfNames
from desktop.models.stock_words import read_stock
from desktop.models.table import TableModel
from desktop.models.weigh import TOLERANCE
from desktop.session import Session
from perfumery import Balance, Composition, Line, Material, Refused, Shelf, Version, compose, line_error, weighable
from perfumery.numbers import parse_number

READABILITY_G = 0.001
_EDIT, _SPOKEN = Qt.ItemDataRole.EditRole, Qt.ItemDataRole.AccessibleTextRole


class LinesModel(TableModel[LineRow]):
    """The chosen version's lines. `worked_out` after every change; `refused(sentence)` while a typed cell cannot be taken,
    '' when it is mended."""

    decimals = {"share": 4}
    worked_out = Signal()
    refused = Signal(str)

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)
        self._session = session
        self.names = ShelfNames(session.book)
        session.changed.connect(self.names.forget)
        self.version: Version | None = None
        self.shelf = Shelf()
        self.composition: Composition | None = None
        self.rounded_g: tuple[float, float] = (0.0, 0.0)
        self.d_g = READABILITY_G
        self._balance: Balance | None = None
        self.entry_text = ""
        self._open: set[tuple[int, ...]] = set()
        self._held: dict[tuple[Hashable, str], tuple[str, str]] = {}
        self._fault: Refused | None = None

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self, change: Change | None = None) -> None:
        """Reads the chosen version and works everything out anew; `change` is what brought it about, where something did."""
        version = self._session.version
        if version is None or self.version is None or version.key != self.version.key:
            self._forget_held()
        self.version = version
        project = self._session.project
        if version is None:
            self.shelf, self.composition = Shelf(), None
            self.show_rows(())
        else:
            if change is None or not self._shelf_still_holds(version, change):
                self.shelf = self._session.book.shelf(version)
            self.composition = compose(
                version, self.shelf, project.amount_g if project else None, project.strength if project else None
            )
            balances = [b for b in self._session.book.all(Balance) if b.retired_on is None]
            self._balance = balances[0] if balances else None
            self.d_g = READABILITY_G if self._balance is None else self._balance.d_g
            self.show_rows(self._worked_rows())
        self.worked_out.emit()

    def concerns(self, change: Change) -> bool:
        """Whether a change can be seen here: of materials only those that the formula reaches, and they may be thousands."""
        values = (old if new is None else new for old, new in change.pairs)
        return any(not isinstance(value, Material) or value.key in self.shelf.materials for value in values)

    def _shelf_still_holds(self, version: Version, change: Change) -> bool:
        """Whether nothing on the shelf can have changed: only this version was touched, and it names nothing new."""
        if any((new if new is not None else old) != version for old, new in change.pairs):
            return False
        named = {key for line in version.lines for key in (line.material, line.carrier) if key is not None}
        accords = {line.accord for line in version.lines if line.accord is not None}
        return named <= self.shelf.materials.keys() and accords <= self.shelf.accords.keys()

    def _decimals(self, rows: Sequence[LineRow]) -> dict[int, int]:
        places = super()._decimals(rows)
        places[self.place_of("grams")] = max(0, -math.floor(math.log10(self.d_g) + 1e-9))
        return places

    def _worked_rows(self) -> list[LineRow]:
        assert self.composition is not None and self.version is not None
        masses = [row.grams for row in self.composition.rows if row.grams is not None]
        shown, total, difference = weighable(masses, self.d_g)
        self.rounded_g = total, difference
        known = self.composition.cost_per_g
        rows: list[LineRow] = []
        seen: dict[tuple[int | None, int | None], int] = {}
        for place, worked in enumerate(self.composition.rows):
            line = worked.line
            named = (line.material, line.accord)
            seen[named] = seen.get(named, -1) + 1
            head = self._row_of(
                line,
                place,
                (),
                seen[named],
                parts=line.parts,
                neat=worked.neat_parts,
                share=worked.share,
                grams=shown[place] if shown else None,
                error=self._error(worked.grams),
                cost=worked.cost,
                cost_share=worked.cost / known if worked.cost is not None and known else None,
            )
            rows.append(head)
            if head.is_open:
                rows += self._inside(line, (line.accord or 0, seen[named]), line.parts, worked.grams, head.share or 0.0)
        rows.append(LineRow(None, name=self.entry_text or (tr("type a material …") if self.version else "")))
        return rows

    def _inside(
        self, line: Line, path: tuple[int, ...], parts: float, grams: float | None, share: float
    ) -> list[LineRow]:
        """The lines of an opened accord, scaled to the line that holds it."""
        accord = self.shelf.accords[line.accord or 0]
        inner = compose(accord, self.shelf)
        rows = []
        for at, worked in enumerate(inner.rows):
            row = self._row_of(worked.line, None, path, at)
            rows.append(
                replace(
                    row,
                    parts=float(f"{worked.share * parts:.10g}"),
                    neat=worked.neat_parts / inner.total_parts * parts if inner.total_parts else 0.0,
                    share=worked.share * share,
                    grams=None if grams is None else worked.share * grams,
                    error=None if grams is None else self._error(worked.share * grams),
                    cost=None if worked.cost is None else worked.cost * share,
                )
            )
            if row.is_open:
                nested = (*path, worked.line.accord or 0, at)
                scaled = None if grams is None else worked.share * grams
                rows += self._inside(worked.line, nested, worked.share * parts, scaled, worked.share * share)
        return rows

    def _row_of(
        self, line: Line, place: int | None, path: tuple[int, ...], occurrence: int, **figures_of: float | None
    ) -> LineRow:
        currency = self._session.book.currency
        marks = (tr("held") if line.held and place is not None else "", tr("fills up") if line.fill_up else "")
        note = ", ".join(filter(None, marks))
        carrier = self.shelf.materials[line.carrier].carrier_name if line.carrier is not None else ""
        if line.accord is not None:
            accord = self.shelf.accords[line.accord]
            name = f"{accord.name} {accord.code}".strip()
            held = (*path, line.accord, occurrence)
            return LineRow(
                line, place, path, occurrence, name, name, is_open=held in self._open, currency=currency,
                note=note, **figures_of,
            )  # fmt: skip
        material = self.shelf.materials[line.material or 0]
        return LineRow(
            line, place, path, occurrence, material.short, material.name, material.cas, carrier, currency=currency,
            note=note, **figures_of,
        )  # fmt: skip

    def _error(self, grams: float | None) -> float | None:
        """What the balance leaves open of a mass, relative, k = 2."""
        return None if not grams or self._balance is None else line_error(grams, self._balance).relative

    def toggle(self, place: int) -> None:
        """Opens or closes the accord in a row of the table."""
        row = self.row(place)
        if row.line is not None and row.line.accord is not None:
            self._open ^= {(*row.path, row.line.accord, row.occurrence)}
            self.show_rows(self._worked_rows())

    # what the view asks -----------------------------------------------------------------------------------------------

    def identity(self, row: LineRow) -> Hashable:
        line = row.line
        return "entry" if line is None else (row.path, line.material, line.accord, row.occurrence)

    def cell(self, place: int, column: int) -> str:
        row, key = self._rows[place], self.columns[column].key
        held = self._held.get((self.identity(row), key))
        if held is not None:
            return held[0]
        if key == "strength" and row.note:
            return ", ".join(filter(None, (super().cell(place, column), row.note)))
        if key == "parts" and row.is_held:
            return f"{HELD}\u2009{super().cell(place, column)}"
        return super().cell(place, column)

    def tone(self, row: LineRow, column: Column[LineRow]) -> str:
        if self._held and (self.identity(row), column.key) in self._held:
            return "brick"
        if row.is_entry:
            # what waits here is no line yet, and must not look like one
            return "quiet" if not self.entry_text else "amber"
        if column.key == "error":
            return "amber" if row.error is not None and row.error > TOLERANCE else "quiet"
        if row.path or column.key in ("strength", "carrier", "cas", "remark", "fold"):
            return "quiet"
        return "ink"

    def tip(self, row: LineRow, column: Column[LineRow]) -> str:
        held = self._held.get((self.identity(row), column.key))
        if held is not None:
            return held[1]
        if column.key == "material" and row.full != row.name:
            return row.full
        if column.key == "parts" and row.line is not None:
            return "\n".join(filter(None, self._tips_of_parts(row, row.line)))
        return column.tip if row.is_entry else ""

    @staticmethod
    def _tips_of_parts(row: LineRow, line: Line) -> tuple[str, ...]:
        whole = figures.parts(row.parts)
        return (
            "" if whole == parts_text(row.parts) else tr("{parts} parts in full", parts=whole),
            tr("held: keeps its parts when the rest is rescaled. Ctrl+H lets it go.") if row.is_held else "",
            tr("This line takes what is left up to the total. Ctrl+U ends that.") if line.fill_up else "",
        )

    def data(self, index: QModelIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        spoken = super().data(index, role)
        if role == _SPOKEN and self.columns[index.column()].key == "parts" and self.row(index.row()).is_held:
            return tr("{parts}, held", parts=spoken)
        return spoken

    def edit_text(self, row: LineRow, column: Column[LineRow]) -> str:
        held = self._held.get((self.identity(row), column.key))
        if held is not None:
            return held[0]
        if row.line is None:
            return self.entry_text
        if column.key == "parts":
            return figures.parts(row.parts)
        if column.key == "strength":
            return figures.stock_text(row.line.strength, row.carrier) or tr("neat")
        return column.text(row).strip()

    def flags(self, index: QModelIndex) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if self._is_editable(self.row(index.row()), self.columns[index.column()].key):
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    @staticmethod
    def _is_editable(row: LineRow, key: str) -> bool:
        if row.is_entry:
            return key == "material"
        if row.place is None or row.line is None:
            return False
        if key == "parts":
            return not row.line.fill_up
        return key in ("material", "remark") or (key == "strength" and row.line.accord is None)

    # edits ------------------------------------------------------------------------------------------------------------

    def setData(self, index: QModelIndex, value: object, role: int = _EDIT) -> bool:
        if role != _EDIT or not index.isValid():
            return False
        row, key, text = self.row(index.row()), self.columns[index.column()].key, str(value).strip()
        if row.is_entry:
            self.entry_text = text
            self.show_rows(self._worked_rows())
            return True
        if row.place is None or not self._is_editable(row, key) or key == "material":
            return False
        held = (self.identity(row), key) in self._held
        if text == self.edit_text(row, self.columns[index.column()]) and not held:
            return True
        try:
            what, line = self._edited(row, key, text)
            if self.put_line(row.place, line, what):
                return True
            # what was typed outlives a full disk
            self.hold(index, text, self._session.why_not)
            return False
        except Refused as fault:
            self.hold(index, text, wording.sentences(fault.findings))
            return False

    def hold(self, index: QModelIndex, text: str, sentence: str) -> None:
        """Keeps a text that cannot be taken in its cell, with the reason."""
        row, column = self.row(index.row()), self.columns[index.column()]
        self._held[(self.identity(row), column.key)] = (text, sentence)
        self.dataChanged.emit(index, index)
        self.refused.emit(f"{row.name}, {column.head}, “{text}”: {sentence}")

    def give_up(self, index: QModelIndex) -> bool:
        """Drops a text held in a cell; whether there was one."""
        key = self.identity(self.row(index.row())), self.columns[index.column()].key
        if self._held.pop(key, None) is None:
            return False
        self.dataChanged.emit(index, index)
        self._say_held()
        return True

    def _forget_held(self) -> None:
        self._held.clear()
        self.refused.emit("")

    def _say_held(self) -> None:
        last = next(reversed(self._held.values()), None)
        self.refused.emit("" if last is None else f"“{last[0]}”: {last[1]}")

    def _edited(self, row: LineRow, key: str, text: str) -> tuple[str, Line]:
        """(what it is called, the line) after typing into one of its cells. Raises Refused."""
        line = row.line
        assert line is not None
        if key == "parts":
            parts = parse_number(text)
            before, after = figures.parts(line.parts), figures.parts(parts)
            return tr("{name} {before} to {after}", name=row.name, before=before, after=after), replace(line, parts=parts)
        if key == "strength":
            strength, carrier = self.stock(line, text)
            before = row.strength or tr("neat")
            after = figures.stock_text(strength, self.names.carrier(carrier)) or tr("neat")
            what = tr("{name} {before} to {after}", name=row.name, before=before, after=after)
            return what, replace(line, strength=strength, carrier=carrier)
        return tr("remark on {name}", name=row.name), replace(line, remark=text)

    def stock(self, line: Line, text: str) -> tuple[float, int | None]:
        """(strength, carrier) as typed for a line: what is not said stays, or is what is usual. Raises Refused."""
        strength, carrier = read_stock(text)
        wanted = line.strength if strength is None else strength
        key = self.names.carrier_key(carrier) if carrier else line.carrier
        if wanted < 1 and key is None:
            key = self.names.usual_carrier(self._session.project, line.material)
        return wanted, None if wanted == 1 else key

    def put_line(self, place: int, line: Line, what: str) -> bool:
        """Puts one line in the place of another."""
        lines = self._lines()
        lines[place] = line
        return self.put_lines(lines, what)

    def add_line(self, line: Line, what: str, *others: object) -> bool:
        """Adds a line at the end, with new materials it needs, as one step. Raises Refused."""
        return self.put_lines([*self._lines(), line], what, *others)

    def remove(self, places: set[int]) -> bool:
        """Takes lines out, as one step."""
        lines = self._lines()
        names = [self.names.of_line(lines[place], self.shelf) for place in sorted(places)]
        what = tr("remove {name}", name=names[0])
        if len(names) > 1:
            what = tr_count(len(names), "remove {n} line", "remove {n} lines")
        return self.put_lines([line for place, line in enumerate(lines) if place not in places], what)

    def move(self, place: int, by: int) -> bool:
        """Moves a line up or down."""
        lines = self._lines()
        if not 0 <= place + by < len(lines):
            return False
        lines.insert(place + by, lines.pop(place))
        name = self.names.of_line(lines[place + by], self.shelf)
        return self.put_lines(lines, tr("move {name} up", name=name) if by < 0 else tr("move {name} down", name=name))

    def set_total(self, total: float) -> bool:
        """Sets the total that the fill-up line fills up to. Raises Refused."""
        assert self.version is not None
        return self.put_version(replace(self.version, total=total), tr("fill up to {total}", total=figures.parts(total)))

    def put_lines(self, lines: list[Line], what: str, *others: object) -> bool:
        """Puts these lines as the version's, on a draft child where it is frozen. Raises Refused."""
        assert self.version is not None
        return self.put_version(replace(self.version, lines=tuple(lines)), what, *others)

    def put_version(self, wanted: Version, what: str, *others: object) -> bool:
        """Puts the version as it is wanted, as a draft child where it is frozen. Raises Refused."""
        if wanted.is_frozen:
            draft = self._session.book.draft_of(wanted.key)
            lines = tuple(replace(line, key=None) for line in wanted.lines)
            wanted = replace(draft, lines=lines, total=wanted.total, key=self._session.book.new_key())
            what = tr("{step}, as draft {code}", step=what, code=wanted.code)
        done = self._session.put(what, *others, wanted)
        if done is None:
            return False
        self._forget_held()
        if wanted.key != self._session.version_key:
            self._session.choose_version(wanted.key)
        return True

    def _lines(self) -> list[Line]:
        return [] if self.version is None else list(self.version.lines)
