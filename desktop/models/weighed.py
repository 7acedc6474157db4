# SPDX-License-Identifier: MIT
"""What became of a weighing: intended and as weighed, by line and by material, each with what the balance leaves open."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.table import TableModel
from perfumery import Balance, Bottle, Making, Material, Refused, Version, compose, resolved, share_errors, weighing


@dataclass(frozen=True, slots=True)
class WeighedRow:
    """One material, or one line, of what was weighed. Parts per thousand: `intended` None where nothing was meant (a pour that
    the nose led), `u` the expanded uncertainty (k = 2), None where it cannot be told. Masses in g, None for a material."""

    key: int
    name: str
    intended: float | None
    weighed: float
    u: float | None
    bottle: str = ""
    target_g: float | None = None
    read_g: float | None = None

    @property
    def change(self) -> float | None:
        """The relative change from what was meant, None where nothing was."""
        return None if not self.intended else self.weighed / self.intended - 1


def _change(row: WeighedRow) -> str:
    if row.intended is None:
        return ""
    return tr("new") if row.change is None else figures.on_point(figures.signed(round(row.change * 100, 2)), 2)


def _why_change(row: WeighedRow) -> str:
    if row.intended is None or row.change is None:
        return ""
    return f"{figures.per_thousand(row.weighed)} ÷ {figures.per_thousand(row.intended)} − 1 = {_change(row).strip()}\u2009%"


def _open(row: WeighedRow) -> str:
    return "—" if row.u is None else figures.on_point(figures.per_thousand(float(f"{row.u:.2g}")), 2)


def _thousandth(value: float | None) -> str:
    return "" if value is None else figures.per_thousand(value)


_SHARES: tuple[Column[WeighedRow], ...] = (
    Column("intended", tr("intended"), lambda row: _thousandth(row.intended), 90, right=True, unit="‰",
           figure=lambda row: row.intended, decimals=(2, 3), sum="share"),
    Column("weighed", tr("as weighed"), lambda row: figures.per_thousand(row.weighed), 96, right=True, unit="‰",
           figure=lambda row: row.weighed, decimals=(2, 3), sum="as-weighed"),
    Column("u", "±", _open, 76, right=True, unit="‰",
           tip=tr("What the balance, and the stocks weighed on it, leave open (k = 2); two figures of it say enough"),
           sum="error-of-a-share"),
    Column("change", tr("change"), _change, 80, right=True, unit="%", sum="as-weighed", why=_why_change),
)  # fmt: skip
BY_MATERIAL: tuple[Column[WeighedRow], ...] = (Column("name", tr("material"), lambda row: row.name, 240), *_SHARES)
BY_LINE: tuple[Column[WeighedRow], ...] = (
    Column("name", tr("line"), lambda row: row.name, 240),
    Column("bottle", tr("bottle"), lambda row: row.bottle, 80),
    Column("target", tr("target"), lambda row: "" if not row.target_g else figures.mass(row.target_g), 76, right=True, unit="g"),
    Column("read", tr("read"), lambda row: figures.mass(row.read_g), 76, right=True, unit="g"),
    *_SHARES,
)


class WeighedModel(TableModel[WeighedRow]):
    """Read only."""

    def __init__(self, columns: tuple[Column[WeighedRow], ...], parent: QObject | None = None) -> None:
        super().__init__(columns, parent)

    def identity(self, row: WeighedRow) -> int:
        """The material, or the place of the line."""
        return row.key


def by_material(book: Book, making: Making) -> list[WeighedRow]:
    """Every material of a vessel, the most first: what its version or its label means, and what it truly holds."""
    meant = {key: share * 1000 for key, share in _meant(book, making).items()}
    true = _true(book, making)
    known = book.bottles.uncertainty(making.into_bottle, making.finished_at)
    is_free = not meant
    rows = []
    for key in sorted({*meant, *true}, key=lambda key: -true.get(key, 0.0)):
        material = book.get(Material, key)
        u = None if known is None or key not in known else weighing.K * known[key] * 1000
        name = "" if material is None else material.short
        rows.append(WeighedRow(key, name, None if is_free else meant.get(key, 0.0), true.get(key, 0.0), u))
    return rows


def furthest(book: Book, making: Making) -> WeighedRow | None:
    """The material whose share differs most, relatively, from what was meant, of all that is in by now; None where nothing was
    meant, nothing is in, or nobody knows what a bottle holds that it came from."""
    assert making.key is not None
    try:
        meant, true = _meant(book, making), book.as_weighed(making.key)
    except Refused:
        return None
    if making.kind == "top-up" or not true:
        return None
    rows = []
    for key, share in meant.items():
        material = book.get(Material, key)
        rows.append(WeighedRow(key, "" if material is None else material.short, share * 1000, true.get(key, 0.0), None))
    return max(rows, key=lambda row: abs(row.change or 0.0), default=None)


def by_line(book: Book, making: Making) -> list[WeighedRow]:
    """Every liquid as it was weighed, in the order it went in, figures for one line together."""
    assert making.key is not None
    version = None if making.version is None else book.get(Version, making.version)
    lines = {} if version is None else _lines_of(book, version)
    together: dict[tuple[int | None, int | None], WeighedRow] = {}
    inside, held = book.weighings.inside(making.key, at_last=True), dict[int, float]()
    for move in book.weighings.poured(making.key):
        row = None if move.from_bottle is None else book.bottles.row(move.from_bottle)
        one = (move.line, None if move.line is not None else move.from_bottle)
        before = together.get(one)
        place = len(together) if before is None else before.key
        held[place] = held.get(place, 0.0) + inside[move.key or 0]
        if before is not None:
            together[one] = replace(before, read_g=(before.read_g or 0.0) + move.mass_g)
            continue
        known = lines.get(move.line or 0)
        if known is not None:
            name, intended = known[0], known[1] * 1000
        else:
            is_stock = row is not None and row.bottle.material is not None
            stock = figures.stock_text(row.bottle.strength, row.carrier_name) if row is not None and is_stock else ""
            name, intended = f"{'' if row is None else row.what} {stock}".strip(), None
        code = "" if row is None else row.bottle.code
        together[one] = WeighedRow(len(together), name, intended, 0.0, None, code, move.target_g, move.mass_g)
    # scaled to a figure that went over, the plan still means the same shares; the target of that figure alone would not
    meant = {row.key: math.fsum(p.target_g for p in making.plan if p.bottle == one[1]) or row.target_g or 0.0
             for one, row in together.items()}  # fmt: skip
    return _shared(book, making, list(together.values()), held, meant)


def _shared(
    book: Book, making: Making, rows: list[WeighedRow], held: Mapping[int, float], meant: Mapping[int, float]
) -> list[WeighedRow]:
    """The rows with their shares of the whole and what the balance leaves open of them; what was spilled out of the vessel took
    of what was in it by then, so that `held` counts and not what was read."""
    reads = [held[row.key] for row in rows]
    total = math.fsum(reads)
    if not total > 0:
        return rows
    balance = None if making.balance is None else book.get(Balance, making.balance)
    errors: tuple[float | None, ...] = (None,) * len(rows)
    if balance is not None and making.mode != "not weighed":
        errors = share_errors(reads, weighing.net_u(balance), running_total=making.mode == "running total")
    whole = math.fsum(meant.values())
    return [
        replace(
            row, intended=_intended(row, meant[row.key] / whole if whole else 0.0, making), weighed=read / total * 1000,
            u=None if error is None else error * 1000,
        )
        for row, read, error in zip(rows, reads, errors, strict=True)
    ]  # fmt: skip


def _intended(row: WeighedRow, share: float, making: Making) -> float | None:
    if row.intended is not None or making.version is not None or making.kind == "top-up":
        return row.intended
    return share * 1000 or None


def _lines_of(book: Book, version: Version) -> dict[int, tuple[str, float]]:
    """{line: (what it is called, its share of the whole)} of a version and, inside its accords, of theirs."""
    shelf = book.shelf(version)
    found: dict[int, tuple[str, float]] = {}

    def add(inner: Version, whole: float, inside: str) -> None:
        lines = resolved(inner)
        total = math.fsum(line.parts for line in lines)
        for line in lines:
            share = whole * line.parts / total if total else 0.0
            before = found.get(line.key or 0, ("", 0.0))[1]
            if line.accord is not None:
                accord = shelf.accords[line.accord]
                name = accord.name or accord.code
                add(accord, share, name)
            else:
                carrier = "" if line.carrier is None else shelf.materials[line.carrier].carrier_name
                name = f"{shelf.materials[line.material or 0].short} {figures.stock_text(line.strength, carrier)}".strip()
            found[line.key or 0] = (f"{name} ({inside})" if inside else name, before + share)

    add(version, 1.0, "")
    return found


def _meant(book: Book, making: Making) -> dict[int, float]:
    """{material: share} that the version, or the label, of what was weighed says; empty where neither does."""
    vessel = book.get(Bottle, making.into_bottle)
    if vessel is None:
        return {}
    if vessel.version is not None:
        version = book.get(Version, vessel.version)
        assert version is not None
        composed = compose(version, book.shelf(version))
        shares = {key: parts / composed.total_parts * vessel.strength for key, parts in composed.expanded.items()}
    elif vessel.material is not None:
        shares = {vessel.material: vessel.strength}
    else:
        return {}
    if vessel.strength < 1 and vessel.carrier is not None:
        shares[vessel.carrier] = shares.get(vessel.carrier, 0.0) + 1 - vessel.strength
    return shares


def _true(book: Book, making: Making) -> dict[int, float]:
    """{material: parts per thousand} it truly holds; of a top-up that is all of the bottle."""
    if making.kind == "top-up":
        return {key: share * 1000 for key, share in book.contents(making.into_bottle, making.finished_at).items()}
    assert making.key is not None
    return book.as_weighed(making.key)
