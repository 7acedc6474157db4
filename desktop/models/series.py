# SPDX-License-Identifier: MIT
"""Ladders and dose series: the steps as they would be made, what they take from the shelf, and the series made before."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.table import TableModel
from perfumery import Bottle, Line, Shelf, Version, compose
from perfumery.ladders import Step, needs
from perfumery.picking import Held

_SERIES = re.compile(r"(?P<step>.*) · (?P<what>.*), series (?P<number>\d+)")


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step: its name, its line's parts and share of the concentrate, the g of every line for the amount, and its label."""

    place: int
    name: str
    share: float
    masses: tuple[tuple[str, float], ...]
    label: str

    @property
    def weights(self) -> str:
        """'ambroxide 0.100 g, cedarwood oil 0.900 g' of a ladder; of a dose series the line that differs."""
        return ", ".join(f"{name} {figures.mass_text(mass)}" for name, mass in self.masses)


STEP_COLUMNS: tuple[Column[StepRow], ...] = (
    Column("name", tr("step"), lambda row: row.name, 90),
    Column("share", tr("share"), lambda row: figures.per_thousand(row.share * 1000), 84, right=True, unit="‰",
           figure=lambda row: row.share * 1000, decimals=(2, 4), sum="dose-series"),
    Column("weights", tr("to weigh"), lambda row: row.weights, 340),
    Column("label", tr("label"), lambda row: row.label, 170),
)  # fmt: skip


class StepsModel(TableModel[StepRow]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(STEP_COLUMNS, parent)

    def identity(self, row: StepRow) -> int:
        """The place of the step."""
        return row.place


@dataclass(frozen=True, slots=True)
class NeedRow:
    """One stock or accord that all steps take together, from which bottle, and whether there is enough."""

    name: str
    need_g: float
    bottle: str
    left_g: float | None
    state: str


NEED_COLUMNS: tuple[Column[NeedRow], ...] = (
    Column("name", tr("takes"), lambda row: row.name, 180),
    Column("need", tr("needed"), lambda row: figures.mass(row.need_g), 76, right=True, unit="g"),
    Column("bottle", tr("from"), lambda row: row.bottle, 76),
    Column("left", tr("left"), lambda row: "" if row.left_g is None else figures.mass(row.left_g), 76, right=True, unit="g"),
    Column("state", "", lambda row: row.state, 130),
)


class NeedsModel(TableModel[NeedRow]):
    """Read only; what is short stands first and stands out."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(NEED_COLUMNS, parent)

    def identity(self, row: NeedRow) -> str:
        """What is taken."""
        return row.name

    def tone(self, row: NeedRow, column: Column[NeedRow]) -> str:
        """Amber what is short or not made yet."""
        return "amber" if column.key == "state" else "ink" if column.key in ("name", "need") else "quiet"


def line_name(line: Line, shelf: Shelf) -> str:
    """'Ambroxide 10 % in ethanol', 'Wet slate accord'."""
    if line.accord is not None:
        version = shelf.accords[line.accord]
        return version.name or version.code
    carrier = "" if line.carrier is None else shelf.materials[line.carrier].carrier_name
    return f"{shelf.materials[line.material or 0].short} {figures.stock_text(line.strength, carrier)}".strip()


def stocks(book: Book, version: Version | None) -> list[tuple[str, Line]]:
    """What a ladder can lead between: the lines of a version, and every stock and accord that stands on the shelf."""
    found: dict[Line, str] = {}
    if version is not None:
        shelf = book.shelf(version)
        found = {_bare(line): line_name(line, shelf) for line in version.lines if not line.fill_up}
    accords: list[Line] = []
    for row in book.bottles.rows():
        bottle = row.bottle
        if bottle.kind == "accord" and bottle.version is not None:
            accords.append(Line(1.0, accord=bottle.version))
        elif bottle.kind in ("bought", "dilution", "accord") and bottle.material is not None:
            carrier = bottle.carrier if bottle.strength < 1 else None
            if bottle.strength == 1 or carrier is not None:
                # the row knows its names already: a shelf of thousands is not asked for them
                line = Line(1.0, bottle.material, strength=bottle.strength, carrier=carrier)
                found.setdefault(line, f"{row.what} {figures.stock_text(bottle.strength, row.carrier_name)}".strip())
    shelf = book.shelf(Version(project=0, code="-", lines=tuple(dict.fromkeys(accords))))
    found |= {line: line_name(line, shelf) for line in accords}
    return sorted(((name, line) for line, name in found.items()), key=lambda one: one[0].casefold())


def _bare(line: Line) -> Line:
    """What is weighed of a line, whatever its parts."""
    return Line(1.0, line.material, line.accord, line.strength, line.carrier)


def step_rows(steps: Sequence[Step], shelf: Shelf, amount_g: float, place: int | None, code: str) -> list[StepRow]:
    """The steps as a table; of a dose series the line at a place is told, of a ladder both lines."""
    rows = []
    for at, step in enumerate(steps):
        made = compose(Version(project=0, code="-", lines=step.lines), shelf, amount_g=amount_g)
        own = made.rows if place is None else (made.rows[place],)
        masses = tuple((line_name(row.line, shelf), row.grams or 0.0) for row in own)
        head = line_name(own[0].line, shelf)
        name = step.name if place is None else tr("{parts} parts", parts=step.name)
        # the step first: it is what tells the vials apart where a narrow label or column cuts the rest
        rows.append(StepRow(at, name, own[0].share, masses, f"{code} {name} {head}".strip()))
    return rows


def need_rows(book: Book, steps: Sequence[Step], shelf: Shelf, amount_g: float) -> list[NeedRow]:
    """What all steps take together, what is short first."""
    taken = needs(steps, shelf, amount_g)
    named = tuple(taken)
    held = Held(book.bottles.holding({one[0] for one in named if one[0]}, {one[1] for one in named if one[1]}))
    rows = []
    for (material, accord, strength, carrier), mass in taken.items():
        line = Line(1.0, material, accord, strength, carrier)
        fit = held.choices(line)
        first = next((row for row in fit if (row.left_g or 0.0) >= mass), fit[0] if fit else None)
        left = None if first is None else first.left_g
        if first is None:
            state = tr("to be made up") if accord is not None or strength < 1 else tr("not on the shelf")
        elif left is None:
            state = tr("nobody knows what is left")
        else:
            state = "" if left >= mass else tr("short by {mass}", mass=figures.mass_text(mass - left))
        rows.append(NeedRow(line_name(line, shelf), mass, "" if first is None else first.bottle.code, left, state))
    return sorted(rows, key=lambda row: (not row.state, -row.need_g))


# series made before ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Series:
    """The versions that were made together, in their order; `vials` {version: its newest vial, or what was thinned of it}."""

    number: int
    what: str
    versions: tuple[int, ...]
    codes: tuple[str, ...]
    vials: dict[int, int]

    @property
    def state(self) -> str:
        """'5 steps, 2 weighed'."""
        steps, weighed = len(self.versions), len(self.vials)
        if weighed == steps:
            return tr_count(steps, "{n} step, all weighed", "{n} steps, all weighed")
        if not weighed:
            return tr_count(steps, "{n} step, none weighed", "{n} steps, none weighed")
        return tr_count(steps, "{n} step, {weighed} weighed", "{n} steps, {weighed} weighed", weighed=weighed)


SERIES_COLUMNS: tuple[Column[Series], ...] = (
    Column("number", tr("series"), lambda one: str(one.number), 48, right=True),
    Column("what", tr("of"), lambda one: one.what, 130),
    Column("codes", tr("versions"), lambda one: f"{one.codes[0]} … {one.codes[-1]}", 112),
    Column("state", "", lambda one: one.state, 150),
)


class SeriesModel(TableModel[Series]):
    """Read only, the newest first."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(SERIES_COLUMNS, parent)

    def identity(self, row: Series) -> int:
        """The number."""
        return row.number


def reason_for(step: str, what: str, number: int) -> str:
    """What stands as the reason of a version that is a step of a series; `series_of` reads it back."""
    return f"{step} · {what}, series {number}"


def series_of(book: Book, project: int) -> list[Series]:
    """The series of a project, the newest first."""
    found: dict[int, list[tuple[str, int, str]]] = {}
    for head in book.version_heads(project):
        match = _SERIES.fullmatch(head.reason)
        if match is not None and not head.retired:
            found.setdefault(int(match["number"]), []).append((match["what"], head.key, head.code))
    made = []
    for number, own in found.items():
        keys = tuple(key for _, key, _ in own)
        vials = {}
        for key in keys:
            bottles = [one for one in book.all(Bottle, version=key) if one.gone_on is None and one.kind in ("trial", "smelling")]
            # what was thinned for smelling before the vial it came from, the newest of each
            best = max(bottles, key=lambda one: (one.kind == "smelling", one.key or 0), default=None)
            if best is not None and best.key is not None:
                vials[key] = best.key
        made.append(Series(number, own[0][0], keys, tuple(code for _, _, code in own), vials))
    return sorted(made, key=lambda one: -one.number)


def codes_after(first: str, number: int) -> list[str]:
    """So many codes from a free one on: 'SR-6' gives 'SR-6', 'SR-7', …"""
    match = re.fullmatch(r"(.*?)(\d+)", first)
    assert match is not None
    stem, width = match[1], len(match[2])
    return [f"{stem}{int(match[2]) + at:0{width}d}" for at in range(number)]
