# SPDX-License-Identifier: MIT
"""Where a stock went that a line still names: a bottle that held it, and is labelled another strength since.

A bottle that rose, was topped up or weakened gets another label, and a line that names the strength of before finds no bottle.
"""

from __future__ import annotations

from collections.abc import Iterable

from db import Book, BottleRow
from desktop import figures
from desktop.language import tr
from perfumery import Contents

StockKey = tuple[int, float, int | None]
MOST_TOLD = 3


def sentences(book: Book, stocks: Iterable[StockKey]) -> list[str]:
    """What each stock (material, strength, carrier) that no bottle holds was in, and what that is labelled now; nothing of those
    that no bottle ever was."""
    told, tolerance = [], book.bottles.habits()["drift tolerance"]
    wanted = tuple(dict.fromkeys(stocks))
    for stock in wanted:
        own = book.bottles.holding((stock[0],))
        found = [one for row in own if (one := _before(book, row, stock, tolerance)) is not None]
        told += [_sentence(book, row, last, stock) for row, last in found]
    return told[:MOST_TOLD]


def _before(book: Book, row: BottleRow, stock: StockKey, tolerance: float) -> tuple[BottleRow, Contents] | None:
    """A bottle of the material with the state that followed the one in which it was this stock."""
    material, strength, carrier = stock
    bottle = row.bottle
    if (bottle.material, bottle.carrier, bottle.gone_on) != (material, carrier, None) or row.left_g == 0:
        return None
    states = book.bottles.states(row.key)
    for state, after in zip(states[-2::-1], states[:0:-1], strict=True):
        if abs(state.shares.get(material, 0.0) / strength - 1) <= tolerance:
            return row, after
    return None


def _sentence(book: Book, row: BottleRow, after: Contents, stock: StockKey) -> str:
    return tr(
        "{code} was {name} {before} until {day} and is labelled {now} now: exchange the stock on the Bench, or bring the bottle "
        "back on the Shelf.",
        code=row.bottle.code, name=row.what, before=figures.stock_text(stock[1], row.carrier_name),
        day=figures.day(after.at, book.now()), now=figures.strength_text(row.bottle.strength),
    )  # fmt: skip
