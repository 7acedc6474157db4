# SPDX-License-Identifier: MIT
"""A pour that the nose leads: what can be poured, and what is in the vessel so far; no widget in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book, BottleRow
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.table import TableModel
from desktop.models.weigh import PlanRow
from perfumery import Making
from perfumery.text import fold

AT_MOST = 9


@dataclass(frozen=True, slots=True)
class Pourable:
    """A bottle as it is offered: by its code and what is in it, with what is left and where it stands."""

    row: BottleRow
    label: str
    hint: str


def pourable(book: Book, text: str, without: int | None = None) -> tuple[Pourable, ...]:
    """Bottles in which every word typed stands, its own code before all; at most nine."""
    wanted = fold(text)
    if not wanted:
        return ()
    rows = [*book.bottles.rows(), *book.bottles.rows(vials=True)]
    found = [row for row in rows if row.key != without and all(word in row.hay for word in wanted.split())]
    found.sort(key=lambda row: (fold(row.bottle.code) != wanted, not fold(row.what).startswith(wanted), fold(row.bottle.code)))
    return tuple(_offered(row) for row in found[:AT_MOST])


def _offered(row: BottleRow) -> Pourable:
    bottle = row.bottle
    stock = "" if bottle.material is None else figures.stock_text(bottle.strength, row.carrier_name)
    left = tr("mass not known") if row.left_g is None else tr("{mass} left", mass=figures.mass_text(row.left_g))
    named, standing = (bottle.code, f"{row.what} {stock}".strip()), (left, bottle.place)
    return Pourable(row, " · ".join(filter(None, named)), " · ".join(filter(None, standing)))


def is_free(making: Making) -> bool:
    """Whether a weighing is led by the nose: a trial of no version, whose plan only says what was poured."""
    return making.kind == "trial" and making.version is None


@dataclass(frozen=True, slots=True)
class PouredRow:
    """One pour that is in, and what it is of the whole so far."""

    place: int
    name: str
    stock: str
    bottle: str
    read_g: float
    share: float


COLUMNS: tuple[Column[PouredRow], ...] = (
    Column("name", tr("poured"), lambda row: row.name, 190),
    Column("stock", tr("strength"), lambda row: row.stock, 120),
    Column("bottle", tr("bottle"), lambda row: row.bottle, 76),
    Column("read", tr("read"), lambda row: figures.mass(row.read_g), 80, right=True, unit="g"),
    Column("share", tr("of it"), lambda row: figures.per_thousand(row.share * 1000), 80, right=True, unit="‰"),
)


class PouredModel(TableModel[PouredRow]):
    """Read only, in the order it was poured."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: PouredRow) -> int:
        """The place in the order."""
        return row.place


def poured_rows(rows: Sequence[PlanRow]) -> list[PouredRow]:
    """What is in, in the order it was poured."""
    done = [row for row in rows if row.is_done]
    total = math.fsum(row.read_g for row in done)
    return [
        PouredRow(
            place, row.name, row.stock, "" if row.bottle is None else row.bottle.bottle.code, row.read_g,
            row.read_g / total if total else 0.0,
        )
        for place, row in enumerate(done)
    ]  # fmt: skip
