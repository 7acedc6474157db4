# SPDX-License-Identifier: MIT
"""What stands on the shelf of a material: its bottles, what is left in them, when each is due for a re-test."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from db import Book, BottleRow
from desktop import figures
from desktop.models.forms import form_text
from perfumery import Bottle, Material
from perfumery.ledger import months_after
from perfumery.shelf import offered_first


@dataclass(frozen=True, slots=True)
class Holding:
    """One bottle of a material: what is left in g (None where nothing was ever booked), the day of its re-test."""

    bottle: Bottle
    left_g: float | None
    retest_on: date | None


def holdings(book: Book, material: Material) -> tuple[Holding, ...]:
    """The bottles of a material that are not gone, the one offered first at the head, as bought before diluted."""
    own = _standing(book, material.key)
    left = book.left(*(bottle.key for bottle in own))
    return tuple(Holding(bottle, left.get(bottle.key), retest_on(material, bottle)) for bottle in own)


def _standing(book: Book, material: int | None) -> list[Any]:
    return _in_order(bottle for bottle in book.all(Bottle, material=material) if bottle.gone_on is None)


def _in_order(bottles: Iterable[Bottle]) -> list[Any]:
    return sorted(offered_first(bottles), key=lambda bottle: bottle.kind != "bought")


def retest_on(material: Material, bottle: Bottle) -> date | None:
    """The day of the next re-test: the one written on the bottle, else so many months after opening."""
    if bottle.retest_on is not None:
        return bottle.retest_on
    if bottle.opened_on is None or not material.retest_months:
        return None
    return months_after(bottle.opened_on, material.retest_months)


def captions(book: Book, rows: Sequence[Any]) -> list[str]:
    """The second lines of materials in a list: place, what is left, smell words: 'F-4 · 7.75 g · pine, fir'."""
    own: dict[int | None, list[BottleRow]] = {}
    for held in book.bottles.holding(row.key for row in rows):
        own.setdefault(held.bottle.material, []).append(held)
    told = []
    for row in rows:
        left = {held.key: held.left_g for held in own.get(row.key, ())}
        parts = []
        for first in _in_order(held.bottle for held in own.get(row.key, ()))[:1]:
            mass = left[first.key]
            parts = [first.place, "" if mass is None else figures.mass_text(mass, 0.01)]
        parts.append(", ".join(row.words) or form_text(row.form))
        told.append(" · ".join(filter(None, parts)))
    return told
