# SPDX-License-Identifier: MIT
"""Limits as they stand on versions: rows of ready strings, and what is told of one of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.shown import LIMITS
from desktop.models.table import TableModel
from perfumery import Limit, LimitsFound, Material, Shelf, Version, limits, most_parts, resolved
from perfumery.limits import FINE, OVER, BudgetState, LimitState

TONES = {"over": "brick", "close": "amber", "fine": "ink"}


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit or shared budget over all versions; `limit` None for a budget."""

    key: int
    name: str
    allowed: str
    states: tuple[LimitState | BudgetState, ...]
    limit: Limit | None = None

    def text(self, place: int) -> str:
        """'≥ 0.2400 % close' of one version: what is not known makes it at least so much."""
        state = self.states[place]
        figure = figures.percent_text(state.share) if isinstance(state, LimitState) else figures.fixed(state.ratio, 2)
        least = "≥ " if state.unknown else ""
        word = "" if state.state == FINE else f" {LIMITS[state.state]}"
        return f"{least}{figure}{word}"


@dataclass(frozen=True, slots=True)
class Standing:
    """Versions against the limits of a category at a strength: the shelf they were worked out on, and what was found of each."""

    versions: tuple[Version, ...]
    shelf: Shelf
    strength: float
    found: tuple[LimitsFound, ...]
    rows: tuple[LimitRow, ...]


def limits_of(book: Book, category: str) -> tuple[Limit, ...]:
    """The limits in force for a category: its own and those for every product."""
    wanted = category.strip().casefold()
    return tuple(
        one for one in book.all(Limit) if one.retired_on is None and one.category.strip().casefold() in ("", wanted)
    )


def categories(book: Book) -> tuple[str, ...]:
    """The categories that limits were typed for, by name."""
    return tuple(sorted({one.category.strip() for one in book.all(Limit) if one.category.strip()}, key=str.casefold))


def shelf_for(book: Book, versions: Sequence[Version], given: Sequence[Limit]) -> Shelf:
    """What the versions reach, and the materials that limits name beside it."""
    shelf = book.shelf(*versions)
    named = {one.material for one in given if one.material is not None and one.material not in shelf.materials}
    more = {key: material for key in named if (material := book.get(Material, key)) is not None}
    return replace(shelf, materials={**shelf.materials, **more})


def standing(book: Book, versions: Sequence[Version], category: str, strength: float) -> Standing:
    """Versions against the limits of a category at a finished strength. Raises Refused."""
    given = limits_of(book, category)
    shelf = shelf_for(book, versions, given)
    found = tuple(limits(version, shelf, strength, given) for version in versions)
    rows = [
        LimitRow(limit.key or 0, limit.name, figures.percent(limit.share_max), tuple(one.states[at] for one in found), limit)
        for at, limit in enumerate(given)
    ]
    for at, budget in enumerate(found[0].budgets if found else ()):
        rows.append(LimitRow(-1 - at, tr("budget {name}", name=budget.budget), "1", tuple(one.budgets[at] for one in found)))
    return Standing(tuple(versions), shelf, strength, found, tuple(rows))


def _why(place: int, row: LimitRow) -> str:
    state = row.states[place]
    if not isinstance(state, LimitState) or not row.limit:
        return ""
    share, most = figures.percent_text(state.share), figures.percent_text(row.limit.share_max)
    return tr("{share} of the product, {most} allowed", share=share, most=most)


def columns(versions: Sequence[Version]) -> tuple[Column[LimitRow], ...]:
    """The limit, what it lets, and a cell for each version."""

    def of(place: int, code: str) -> Column[LimitRow]:
        def plain(row: LimitRow) -> float:
            state = row.states[place]
            return state.share * 100 if isinstance(state, LimitState) else state.ratio

        return Column(f"v{place}", code, lambda row: row.text(place), 116, plain=plain, sum="limits", why=partial(_why, place))

    return (
        Column("name", tr("limit on"), lambda row: row.name, 150),
        Column("allowed", tr("allowed"), lambda row: row.allowed, 76, right=True, unit="%",
               tip=tr("of the finished product, as you typed it")),
        *(of(place, version.code) for place, version in enumerate(versions)),
    )  # fmt: skip


class LimitsModel(TableModel[LimitRow]):
    """Read only; over is brick, close is amber, and both are said in a word."""

    def __init__(self, versions: Sequence[Version], parent: QObject | None = None) -> None:
        super().__init__(columns(versions), parent)

    def identity(self, row: LimitRow) -> int:
        """The limit, or the budget."""
        return row.key

    def tone(self, row: LimitRow, column: Column[LimitRow]) -> str:
        """The tone of a state."""
        return TONES[row.states[int(column.key[1:])].state] if column.key.startswith("v") else "ink"

    def tip(self, row: LimitRow, column: Column[LimitRow]) -> str:
        """Why a share is only at least so much."""
        if not column.key.startswith("v") or not row.states[int(column.key[1:])].unknown:
            return ""
        return tr("at least: of some naturals it is not known whether they hold it")


def told(stand: Standing, place: int, row: LimitRow) -> tuple[str, ...]:
    """What is said of one limit on one version: where it comes from, what is not known, what would keep to it."""
    state = row.states[place]
    names = {key: material.short for key, material in stand.shelf.materials.items()}
    if isinstance(state, BudgetState):
        parts = " + ".join(f"{part.limit.name} {figures.fixed(part.ratio, 3)}" for part in state.parts)
        sum_of = tr("{parts} = {ratio} of {whole}.", parts=parts, ratio=figures.fixed(state.ratio, 2), whole=figures.parts(1))
        return (sum_of, _unknown(state.unknown, names))
    said = []
    if state.sources:
        by_share = sorted(state.sources.items(), key=lambda item: -item[1])
        sources = [f"{names[key]} {figures.percent_text(share)}" for key, share in by_share]
        said.append(tr("From {materials}.", materials=figures.listed(sources, most=6)))
    else:
        said.append(tr("None of it is in this formula, as far as is known."))
    said.append(_unknown(state.unknown, names))
    strength = figures.strength_text(stand.strength)
    most = figures.unit(_down(state.most_per_thousand), "‰")
    said.append(tr("Most at {strength}: {share} of the concentrate.", strength=strength, share=most))
    if state.highest_strength is not None and state.highest_strength < 1:
        highest = figures.unit(figures.parts(round(state.highest_strength * 100, 3)), "%")
        said.append(tr("Highest strength of this formula: {strength}.", strength=highest))
    said += _most_parts(stand, place, state)
    return tuple(filter(None, said))


def _down(value: float) -> str:
    return figures.fixed(math.floor(value * 1000 + 1e-9) / 1000, 3)


def _unknown(keys: Sequence[int], names: dict[int, str]) -> str:
    if not keys:
        return ""
    unknown = figures.listed([names[key] for key in keys], most=8)
    return tr("Not known whether in: {materials}. So it is at least this much.", materials=unknown)


def _most_parts(stand: Standing, place: int, state: LimitState) -> list[str]:
    """The most parts of the lines that bring it in, the largest first, while it is close or over."""
    if state.state == FINE:
        return []
    version = stand.versions[place]
    told_lines = []
    lines = resolved(version)
    for at, most in most_parts(version, stand.shelf, stand.strength, state.limit).items():
        line = lines[at]
        if most is None:
            continue
        accord = None if line.accord is None else stand.shelf.accords[line.accord]
        named = stand.shelf.materials[line.material or 0].short if accord is None else accord.name or accord.code
        if most < line.parts or (most != math.inf and _brings(line.material, line.accord, stand, state)):
            told_lines.append(tr(
                "{name} {most} parts instead of {parts}",
                name=named, most=figures.parts(most), parts=figures.parts(round(line.parts, 6)),
            ))  # fmt: skip
    if not told_lines:
        return [tr("No line by itself can bring it under: several bring it in.")] if state.state == OVER else []
    return [tr("Most with the other lines as they are: {lines}.", lines=figures.listed(told_lines, most=4))]


def _brings(material: int | None, accord: int | None, stand: Standing, state: LimitState) -> bool:
    if material is not None:
        return material in state.sources
    return accord is not None and any(line.material in state.sources for line in stand.shelf.accords[accord].lines)
