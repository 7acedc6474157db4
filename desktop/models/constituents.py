# SPDX-License-Identifier: MIT
"""What naturals hold: which of a formula's are known, and the rows in which a composition is typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, Qt

from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.limit_rows import Standing
from desktop.models.table import TableModel
from perfumery import Constituent, Refused, parse_number
from perfumery.cas import tidy
from perfumery.findings import refuse


@dataclass(frozen=True, slots=True)
class NaturalRow:
    """A mixture of these formulas, and how much of its composition was written down."""

    key: int
    name: str
    known: str
    is_unknown: bool


NATURAL_COLUMNS: tuple[Column[NaturalRow], ...] = (
    Column("name", tr("natural in these formulas"), lambda row: row.name, 150),
    Column("known", tr("composition"), lambda row: row.known, 150),
)


class NaturalsModel(TableModel[NaturalRow]):
    """Read only; what is not known stands out."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(NATURAL_COLUMNS, parent)

    def identity(self, row: NaturalRow) -> int:
        """The material."""
        return row.key

    def tone(self, row: NaturalRow, column: Column[NaturalRow]) -> str:
        """Amber where nothing is known."""
        return "amber" if row.is_unknown and column.key == "known" else "ink" if column.key == "name" else "quiet"


def naturals(stand: Standing) -> list[NaturalRow]:
    """The mixtures of the formulas, those of unknown composition first."""
    used = {key for found in stand.found for key in found.unknown}
    rows = []
    for key, material in stand.shelf.materials.items():
        own = stand.shelf.constituents.get(key, ())
        if not material.is_mixture:
            continue
        applying = [one for one in own if one.applies and one.high is not None]
        known = tr("not known") if not applying else tr_count(len(applying), "{n} constituent", "{n} constituents")
        rows.append(NaturalRow(key, material.short, known, key in used or not applying))
    return sorted(rows, key=lambda row: (not row.is_unknown, row.name.casefold()))


# one composition ------------------------------------------------------------------------------------------------------

_SHARES = ("low", "typical", "high")
YES, NO = tr("yes"), tr("no")
# as it is typed or pasted, in English too
_YES, _NO = ("", YES.casefold(), "yes", "y", "x", "1", "true"), (NO.casefold(), "no", "n", "0", "false")


@dataclass(frozen=True, slots=True)
class CompositionRow:
    """One constituent, or the empty row (None) in which a name begins another."""

    one: Constituent | None = None


def _share(name: str) -> Callable[[CompositionRow], str]:
    def text(row: CompositionRow) -> str:
        value = None if row.one is None else getattr(row.one, name)
        return "" if value is None else figures.parts(float(f"{value * 100:.12g}"))

    return text


def _text(name: str) -> Callable[[CompositionRow], str]:
    return lambda row: "" if row.one is None else str(getattr(row.one, name))


COMPOSITION_COLUMNS: tuple[Column[CompositionRow], ...] = (
    Column("name", tr("constituent"), lambda row: tr("another…") if row.one is None else row.one.name, 120),
    Column("cas", "CAS", _text("cas"), 82),
    Column("low", tr("least"), _share("low"), 52, right=True, unit="%"),
    Column("typical", tr("typical"), _share("typical"), 60, right=True, unit="%"),
    Column("high", tr("most"), _share("high"), 52, right=True, unit="%", tip=tr("limits are kept to this one")),
    Column("applies", tr("of this one"), lambda row: "" if row.one is None else YES if row.one.applies else NO, 72,
           tip=tr("no: the data are of another quality of the same natural")),
    Column("source", tr("source"), _text("source"), 130),
)  # fmt: skip


class CompositionModel(TableModel[CompositionRow]):
    """The constituents of one natural. `keep(constituent)` says whether it was taken, `refused(fault)` is told why not."""

    def __init__(
        self, keep: Callable[[Constituent], bool], refused: Callable[[Refused], None], parent: QObject | None = None
    ) -> None:
        super().__init__(COMPOSITION_COLUMNS, parent)
        self._keep, self._refused = keep, refused
        self.whole = 0

    def identity(self, row: CompositionRow) -> int | None:
        """The constituent; nothing for the empty row."""
        return None if row.one is None else row.one.key

    def tone(self, row: CompositionRow, column: Column[CompositionRow]) -> str:
        """Quiet what does not apply, and the empty row."""
        return "ink" if row.one is not None and row.one.applies else "quiet"

    def edit_text(self, row: CompositionRow, column: Column[CompositionRow]) -> str:
        """What an editor starts with."""
        return "" if row.one is None else column.text(row)

    def flags(self, index: QModelIndex | QPersistentModelIndex) -> Qt.ItemFlag:
        can = super().flags(index)
        begun = self.row(index.row()).one is not None or self.columns[index.column()].key == "name"
        return can | Qt.ItemFlag.ItemIsEditable if begun else can

    def setData(self, index: QModelIndex | QPersistentModelIndex, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole:
            return False
        row, column = self.row(index.row()), self.columns[index.column()]
        text = " ".join(str(value).split())
        if text == self.edit_text(row, column):
            return True
        try:
            changes = edited(column.key, text)
            one = Constituent(self.whole, text) if row.one is None else replace(row.one, **changes)
        except Refused as fault:
            self._refused(fault)
            return False
        return self._keep(one)


def edited(key: str, text: str) -> dict[str, Any]:
    """The field a cell changes, as it is kept. Raises Refused for what cannot be read."""
    if key in _SHARES:
        return {key: None if not text else float(f"{parse_number(text.removesuffix('%').strip()) / 100:.12g}")}
    if key == "applies":
        if text.casefold() not in (*_YES, *_NO):
            raise refuse("kind-unknown", kind=text, known=(YES, NO))
        return {key: text.casefold() in _YES}
    return {key: tidy(text) if key == "cas" else text}
