# SPDX-License-Identifier: MIT
"""Versions side by side as rows of ready strings: by line or by material, intended or as weighed, and their totals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.table import TableModel
from perfumery import Composition, Making, Material, Project, Shelf, Version, aligned_materials, side_by_side
from perfumery.side_by_side import AlignedLine, SideBySide, parts_moved, per_thousand, ratio

# What can be chosen, {name: as it is shown}: what a row is, which figures, in what.
LINES, MATERIALS = "lines", "materials"
ROWS = {LINES: tr("lines"), MATERIALS: tr("materials")}
INTENDED, WEIGHED = "intended", "as weighed"
KINDS = {INTENDED: tr("intended"), WEIGHED: tr("as weighed")}
PARTS, PERCENT, PER_THOUSAND = "parts", "%", "‰"
UNITS = {PARTS: tr("parts"), PERCENT: "%", PER_THOUSAND: "‰"}
NEW, GONE, NEAT = tr("new"), tr("gone"), tr("neat")
FIGURE_WIDTH, BAR_WIDTH, CHANGE_WIDTH = 84, 76, 70


@dataclass(frozen=True, slots=True)
class SideRow:
    """One line or material over all versions: `shares` are parts per 1000 of each concentrate, `parts` as written; None where a
    version lacks it. `is_changed` whether any differs in what is written or shared."""

    key: int
    name: str
    stock: str
    shares: tuple[float | None, ...]
    parts: tuple[float | None, ...]
    is_carrier: bool = False
    is_changed: bool = True

    @property
    def spread(self) -> float:
        """The largest share less the smallest, parts per 1000."""
        known = [share or 0.0 for share in self.shares]
        return max(known) - min(known)

    @property
    def change(self) -> float | None:
        """The last share beside the first, as a part of it: 0.222 for 22.2 % more; None for what is new."""
        found = ratio(self.shares[0] or 0.0, self.shares[-1] or 0.0)
        return None if found is None else found - 1

    @property
    def change_text(self) -> str:
        """'+22.2', 'new', 'gone'; '' where nothing of it changed."""
        if not self.is_changed:
            return ""
        if not self.shares[0]:
            return NEW
        if not self.shares[-1]:
            return GONE
        return figures.signed_fixed((self.change or 0.0) * 100, 1)


@dataclass(frozen=True, slots=True)
class Total:
    """One figure of each version as a whole, ready to be shown; `sum` names the sum in the help that it is worked out by."""

    name: str
    texts: tuple[str, ...]
    sum: str = ""


@dataclass(frozen=True, slots=True)
class Side:
    """Everything that stands at the left: the rows by line and by material, the totals, and what is told of two versions.

    `trials` {version: the trial taken as weighed}; `lacking` the codes of versions that were never weighed.
    """

    whole: SideBySide
    lines: tuple[SideRow, ...]
    materials: tuple[SideRow, ...]
    weighed: tuple[SideRow, ...]
    totals: tuple[Total, ...]
    trials: Mapping[int, Making]
    lacking: tuple[str, ...] = ()

    @property
    def versions(self) -> tuple[Version, ...]:
        """The versions from the left."""
        return self.whole.versions

    def rows(self, by: str, kind: str) -> tuple[SideRow, ...]:
        """The rows of a choice."""
        return self.lines if by == LINES else self.materials if kind == INTENDED else self.weighed


def side_of(book: Book, versions: Sequence[Version]) -> Side:
    """Works versions out beside each other. Raises Refused."""
    shelf = book.shelf(*versions)
    whole = side_by_side(versions, shelf)
    names = {key: material.short for key, material in shelf.materials.items()}
    trials = newest_trials(book, versions)
    columns = [per_thousand(one) for one in whole.compositions]
    weighed = [
        book.as_weighed(trials[version.key].key) if version.key in trials else column
        for version, column in zip(versions, columns, strict=True)
    ]
    project = book.get(Project, versions[0].project)
    return Side(
        whole=whole,
        lines=tuple(_line(place, line, shelf) for place, line in enumerate(whole.lines)),
        materials=_materials(columns, shelf, names),
        weighed=_materials(weighed, shelf, names, book),
        totals=_totals(book, whole.compositions, columns, project),
        trials=trials,
        lacking=tuple(version.code for version in versions if version.key not in trials),
    )


def newest_trials(book: Book, versions: Sequence[Version]) -> dict[int, Making]:
    """{version: its trial that was finished last}; those that were never weighed are left out."""
    done = book.weighings.done(version.key for version in versions if version.key is not None)
    trials = {key: next((one for one in own if one.kind == "trial"), None) for key, own in done.items()}
    found = ((version.key, trials.get(version.key or 0)) for version in versions)
    return {key: trial for key, trial in found if key is not None and trial is not None}


def _line(place: int, line: AlignedLine, shelf: Shelf) -> SideRow:
    rows = [row for row in line.rows if row is not None]
    last = rows[-1].line
    if last.accord is not None:
        accords = list(dict.fromkeys(shelf.accords[row.line.accord].code for row in rows if row.line.accord is not None))
        version = shelf.accords[last.accord]
        name, stock = version.name or version.code, " → ".join(accords)
    else:
        name = shelf.materials[last.material or 0].short
        stock = " → ".join(dict.fromkeys(_stock(row.line.strength, row.line.carrier, shelf) for row in rows))
    return SideRow(
        place, name, stock, tuple(None if row is None else row.per_thousand for row in line.rows),
        tuple(None if row is None else row.line.parts for row in line.rows), is_changed=line.is_edited,
    )  # fmt: skip


def _stock(strength: float, carrier: int | None, shelf: Shelf) -> str:
    return figures.stock_text(strength, "" if carrier is None else shelf.materials[carrier].carrier_name) or NEAT


def _materials(
    columns: Sequence[Mapping[int, float]], shelf: Shelf, names: Mapping[int, str], book: Book | None = None
) -> tuple[SideRow, ...]:
    known = dict(names)
    carriers = {key for key, material in shelf.materials.items() if material.is_carrier}
    for key in {key for column in columns for key in column} - known.keys():
        # a trial may hold what its version does not write: what else a bottle was thinned with
        material = None if book is None else book.get(Material, key)
        known[key] = "" if material is None else material.short
        carriers |= {key} if material is not None and material.is_carrier else set()
    return tuple(
        SideRow(
            one.material, known[one.material], tr("carrier") if one.is_carrier else "",
            tuple(value or None for value in one.per_thousand), tuple(value or None for value in one.per_thousand),
            one.is_carrier, one.is_changed,
        )
        for one in aligned_materials(columns, carriers)
    )  # fmt: skip


def _totals(
    book: Book, compositions: Sequence[Composition], columns: Sequence[Mapping[int, float]], project: Project | None
) -> tuple[Total, ...]:
    first = columns[0]
    moved = ["" if column is first else figures.fixed(parts_moved(first, column), 2) for column in columns]
    costs = [
        # in the width of a figure: the sign says "at least"
        f"{'≥ ' if one.unpriced and one.cost_per_g is not None else ''}{figures.money(one.cost_per_g, book.currency, per='')}"
        if one.rows else figures.UNKNOWN
        for one in compositions
    ]
    made = [
        Total(tr("parts moved, ‰"), tuple(moved), "parts-moved"),
        Total(tr("total, parts"), tuple(figures.parts(round(one.total_parts, 6)) for one in compositions)),
        Total(tr("odorants, ‰"), tuple(_odorants(one) for one in compositions), "neat-parts-and-carriers"),
        Total(tr("carriers, ‰"), tuple(_carriers(one) for one in compositions), "neat-parts-and-carriers"),
        Total(tr("cost of 1 g"), tuple(costs), "cost"),
    ]
    if project is not None and project.strength is not None:
        strength = project.strength
        name = tr("odorants at {strength}", strength=figures.strength_text(strength))
        texts = tuple(figures.percent_text(one.odorant_share(strength)) for one in compositions)
        made.append(Total(name, texts, "odorant-strength"))
    return tuple(made)


def _why_change(row: SideRow) -> str:
    if row.change is None or not row.change_text or not row.shares[-1]:
        return ""
    last, first = figures.per_thousand(row.shares[-1]), figures.per_thousand(row.shares[0])
    return f"{last} ÷ {first} − 1 = {row.change_text}\u2009%"


def _odorants(one: Composition) -> str:
    return figures.fixed(one.neat_share * 1000, 2) if one.total_parts else figures.UNKNOWN


def _carriers(one: Composition) -> str:
    return figures.fixed((1 - one.neat_share) * 1000, 2) if one.total_parts else figures.UNKNOWN


# columns --------------------------------------------------------------------------------------------------------------


def columns(side: Side, by: str, kind: str, unit: str) -> tuple[Column[SideRow], ...]:
    """The columns of a choice: what a row is, a figure for each version, and between two versions the change."""
    heads = [_head(side, version, by, kind) for version in side.versions]
    made: list[Column[SideRow]] = [Column("name", tr("line") if by == LINES else tr("material"), lambda row: row.name, 150)]
    if by == LINES and len(heads) <= 3:
        made.append(Column("stock", tr("stock"), lambda row: "" if row.stock == NEAT else row.stock, 116))
    made += [_figure(place, head, unit) for place, head in enumerate(heads)]
    if len(heads) == 2:
        tip = tr("the change beside the first, as far as half of the column")
        made.append(Column("bar", "", lambda row: "", BAR_WIDTH, tip=tip))
        # beside parts as typed, which are of different totals, it would be taken for a change of those
        head = tr("share ±") if unit == PARTS else tr("change")
        made.append(
            Column("change", head, lambda row: row.change_text, CHANGE_WIDTH, right=True, unit="%",
                   tip=tr("of the share of the concentrate"), plain=lambda row: None if row.change is None else row.change * 100,
                   sum="change", why=_why_change)
        )  # fmt: skip
    else:
        made.append(
            Column("spread", tr("apart"), lambda row: figures.per_thousand(row.spread), CHANGE_WIDTH, right=True, unit="‰",
                   tip=tr("the largest share less the smallest"), plain=lambda row: row.spread,
                   figure=lambda row: row.spread, decimals=(2, 3), sum="share")
        )  # fmt: skip
    return tuple(made)


def _head(side: Side, version: Version, by: str, kind: str) -> str:
    trial = side.trials.get(version.key or 0)
    if by == LINES or kind == INTENDED:
        return version.code
    return version.code if trial is None else f"{version.code} {trial.code}"


def _figure(place: int, head: str, unit: str) -> Column[SideRow]:
    factor = 0.1 if unit == PERCENT else 1.0

    def figure(row: SideRow) -> float | None:
        value = row.shares[place]
        return None if value is None else value * factor

    def text(row: SideRow) -> str:
        return _text(figure(row), unit)

    def typed(row: SideRow) -> str:
        value = row.parts[place]
        return figures.UNKNOWN if value is None else figures.parts(round(value, 6))

    if unit == PARTS:
        return Column(f"v{place}", head, typed, FIGURE_WIDTH, right=True, plain=lambda row: row.parts[place])
    return Column(f"v{place}", head, text, FIGURE_WIDTH, right=True, figure=figure, decimals=(2, 3), plain=figure, sum="share")


def _text(value: float | None, unit: str) -> str:
    if value is None:
        return figures.UNKNOWN
    return figures.percent(value / 100) if unit == PERCENT else figures.per_thousand(value)


class SideModel(TableModel[SideRow]):
    """Read only; what did not change is quiet, what is new or gone stands out."""

    def __init__(self, made: Sequence[Column[SideRow]], parent: QObject | None = None) -> None:
        super().__init__(made, parent)

    def identity(self, row: SideRow) -> int:
        """The line's place, or the material."""
        return row.key

    def tone(self, row: SideRow, column: Column[SideRow]) -> str:
        """Quiet what stayed as it was, and what a version lacks."""
        if column.key == "stock" or not row.is_changed:
            return "quiet"
        if column.key.startswith("v") and row.shares[int(column.key[1:])] is None:
            return "quiet"
        return "ink"

    def tip(self, row: SideRow, column: Column[SideRow]) -> str:
        """The change in both ways of saying it; of a line its stock."""
        if column.key == "name":
            return "" if row.stock == NEAT else row.stock
        if column.key not in ("change", "bar") or row.shares[0] is None or row.shares[-1] is None:
            return ""
        more = tr("{change}\u2009‰ of the concentrate", change=figures.signed(round(row.shares[-1] - row.shares[0], 4)))
        return more if row.change is None else f"{more}, × {figures.short(row.change + 1, 4)}"


def total_columns(side: Side) -> tuple[Column[Total], ...]:
    """What a total is, and a figure for each version, as wide as those of the table above."""

    def of(place: int, version: Version) -> Column[Total]:
        return Column(f"v{place}", version.code, lambda total: total.texts[place], FIGURE_WIDTH, right=True)

    room = BAR_WIDTH + CHANGE_WIDTH if len(side.versions) == 2 else CHANGE_WIDTH
    columns = (of(place, version) for place, version in enumerate(side.versions))
    return (Column("name", "", lambda total: total.name, 120), *columns, Column("room", "", lambda _: "", room))


class TotalsModel(TableModel[Total]):
    """Read only."""

    def __init__(self, side: Side, parent: QObject | None = None) -> None:
        super().__init__(total_columns(side), parent)
        self.show_rows(side.totals)

    def identity(self, row: Total) -> str:
        """What the figure is."""
        return row.name

    def sum_of(self, row: Total, column: Column[Total]) -> str:
        """A total has its own sum in every column."""
        return row.sum

    def tone(self, row: Total, column: Column[Total]) -> str:
        """Captions are quiet."""
        return "quiet" if column.key == "name" else "ink"


def shown_rows(rows: Sequence[SideRow], *, unchanged: bool, moved_first: bool) -> list[SideRow]:
    """The rows of a choice: without those that stayed unless they are wanted, what moved most first where that is wanted."""
    kept = [row for row in rows if unchanged or row.is_changed]
    return sorted(kept, key=lambda row: -row.spread) if moved_first else kept
