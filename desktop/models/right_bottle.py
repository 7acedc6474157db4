# SPDX-License-Identifier: MIT
"""Whether the bottle in the hand is the right one: its code typed or scanned before its figure is taken.

A tenfold error comes from the bottle beside: so it is asked for where a material stands on the shelf in more than one strength.
"""

from __future__ import annotations

import math

from db import Book, BottleRow
from desktop import figures
from desktop.language import tr
from desktop.models.weigh import PlanRow
from perfumery import Bottle
from perfumery.preparing import SAME_STRENGTH, is_stock


def in_more_strengths(book: Book, row: PlanRow) -> bool:
    """Whether the material of a line stands on the shelf in more than one strength."""
    if row.planned.line is None or row.material is None:
        return False
    found = [each.bottle.strength for each in book.bottles.holding((row.material,))]
    return any(not math.isclose(found[0], other, rel_tol=SAME_STRENGTH) for other in found[1:])


def of_stock(book: Book, row: PlanRow) -> tuple[BottleRow, ...]:
    """Every bottle of the stock that a row is weighed from, its own first."""
    own = () if row.bottle is None else (row.bottle,)
    if row.choices or row.bottle is None or row.bottle.bottle.material is None:
        return (*own, *(each for each in row.choices if row.bottle is None or each.key != row.bottle.key))
    bottle = row.bottle.bottle
    assert bottle.material is not None
    stock = (bottle.material, bottle.strength, bottle.carrier)
    others = (each for each in book.bottles.holding((bottle.material,)) if each.key != row.bottle.key)
    return (*own, *(each for each in others if is_stock(each.bottle, *stock)))


def named(book: Book, code: str) -> Bottle | None:
    """The bottle of a code, in either case."""
    found = book.get(Bottle, code) or book.get(Bottle, code.upper())
    if found is not None:
        return found
    folded = code.casefold()
    key = next((key for key, other in book.bottle_codes() if other.casefold() == folded), None)
    return None if key is None else book.get(Bottle, key)


def wrong_bottle(book: Book, row: PlanRow, code: str) -> str:
    """What a bottle is that is not of the stock, and what is wanted."""
    wanted = _what(row.name, row.stock)
    codes = figures.either(each.bottle.code for each in of_stock(book, row))
    found = named(book, code)
    if found is None:
        return tr("No bottle is called {code}. Wanted is {wanted}: {codes}.", code=code, wanted=wanted, codes=codes)
    if found.gone_on is not None and any(found.key == each.key for each in of_stock(book, row)):
        facts = {"code": found.code, "day": figures.day(found.gone_on), "wanted": wanted, "codes": codes}
        return tr("{code} is gone since {day}. Wanted is {wanted}: {codes}.", **facts)
    held = book.bottles.row(found.key or 0)
    holds = found.label or found.code if held is None else _what(held.what, figures.stock_text(found.strength, held.carrier_name))
    return tr("{code} is {liquid}. Wanted is {wanted}: {codes}.", code=found.code, liquid=holds, wanted=wanted, codes=codes)


def _what(name: str, stock: str) -> str:
    return " ".join(filter(None, (name, stock or tr("neat"))))
