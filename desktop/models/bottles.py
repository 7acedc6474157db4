# SPDX-License-Identifier: MIT
"""The shelf as rows: every bottle with what is left in it, what is due on it, and what it is losing; found while typing."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from PySide6.QtCore import QObject

from db import Book, BottleRow
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.shown import BOTTLES, shown
from desktop.models.table import TableModel
from perfumery import service
from perfumery.ledger import months_after
from perfumery.picking import off_label
from perfumery.shelf import offered_first
from perfumery.text import fold

# What is read on a label or a kitchen scale; the ledger keeps every digit.
LEFT_D_G = 0.01
# So many rows are made in one piece.
AT_ONCE = 400
# A bottle that passes the tolerance within so many months loses fast enough to be named before it has.
FAST_MONTHS = 3
# The kinds of bottles by the key of each filter.
KINDS = {
    "all": ("bought", "dilution", "accord", "batch", "product", "retained", "benchmark"),
    "as bought": ("bought",),
    "dilutions": ("dilution",),
    "accords": ("accord",),
    "trial vials": ("trial", "smelling"),
}
NO_BOTTLE = "no bottle"
FILTERS = {
    "all": tr("stock"), "as bought": tr("as bought"), "dilutions": tr("dilutions"), "accords": tr("accords"),
    "trial vials": tr("trial vials"), NO_BOTTLE: tr("no bottle"),
}  # fmt: skip
STATES = {
    "due": tr("due"), "low": tr("low"), "drifting": tr("drifting"), "off its label": tr("off its label"),
    "not weighed lately": tr("not weighed lately"),
}  # fmt: skip
_AT_LEAST = re.compile(r"(?:≥|>=|>)\s*([\d.,]+)\s*g?(?=\s|$)")


@dataclass(frozen=True, slots=True)
class State:
    """One thing to know of a bottle: the filter it belongs to, its words, the theme's token they are written in."""

    of: str
    words: str
    tone: str = "amber"


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One row: a bottle, or a material that has none. `repeats` where the row above names the same material; `hay` is the
    folded text of the bottle and of its material."""

    what: str
    material: int | None
    bottle: BottleRow | None = None
    states: tuple[State, ...] = ()
    next_text: str = ""
    repeats: bool = False
    hay: str = ""

    @property
    def is_gone(self) -> bool:
        """Whether the bottle is no longer there."""
        return self.bottle is not None and self.bottle.bottle.gone_on is not None

    @property
    def key(self) -> int | None:
        """The bottle's key; None for a material without a bottle."""
        return None if self.bottle is None else self.bottle.key


def strength_text(row: BottleRow) -> str:
    """What the label says of the strength: 'neat', '10 % in ethanol'; nothing for what is no material."""
    if row.bottle.material is None and row.bottle.strength == 1:
        return ""
    return figures.stock_text(row.bottle.strength, row.carrier_name)


def off_label_text(row: BottleRow, habits: Mapping[str, float]) -> str:
    """'89 % weaker than its label', where its true strength is off it by more than the tolerance of a drift; else ''."""
    off = off_label(row, habits["drift tolerance"])
    if off is None:
        return ""
    percent = figures.unit(figures.short(abs(off) * 100, 2), "%")
    if off < 0:
        return tr("{percent} weaker than its label", percent=percent)
    return tr("{percent} stronger than its label", percent=percent)


def states_of(row: BottleRow, today: date, habits: Mapping[str, float]) -> tuple[State, ...]:
    """What is due, low, drifting, off its label or long unweighed on a bottle that is not gone, the most pressing first."""
    bottle, found = row.bottle, []
    if bottle.gone_on is not None:
        return (State("gone", tr("gone since {day}", day=figures.day(bottle.gone_on, today)), "quiet"),)
    state = service.state(row.retest_on, today)
    if state:
        day = figures.day(row.retest_on, today)
        found.append(State("due", tr("re-test due") if state == "due" else tr("re-test {day}", day=day)))
    state = service.state(row.dropper_on, today)
    if state:
        day = figures.day(row.dropper_on, today)
        found.append(State("due", tr("dropper cap due") if state == "due" else tr("dropper cap {day}", day=day)))
    if bottle.ready_on is not None and bottle.ready_on > today:
        found.append(State("ready", tr("ready {day}", day=figures.day(bottle.ready_on, today)), "quiet"))
    off = off_label(row, habits["drift tolerance"])
    if off is not None:
        # shorter than on the card: the column is narrow
        part = figures.unit(figures.short(abs(off) * 100, 2), "%")
        words = tr("{percent} too weak", percent=part) if off < 0 else tr("{percent} too strong", percent=part)
        found.append(State("off its label", words))
    drift = row.drift
    if drift is not None and not drift.is_noise and bottle.carrier is not None:
        if drift.risen > habits["drift tolerance"]:
            risen = figures.unit(figures.fixed(drift.risen * 100, 1), "%")
            found.append(State("drifting", tr("{percent} stronger", percent=risen)))
        elif drift.passes_on is not None and drift.passes_on <= months_after(today, FAST_MONTHS):
            found.append(State("drifting", tr("past tolerance {day}", day=figures.day(drift.passes_on, today))))
    if row.left_g is not None and row.arrived_g and bottle.kind in ("bought", "dilution", "accord"):
        if row.left_g <= 0:
            found.append(State("low", tr("empty")))
        elif row.left_g < habits["low share"] * row.arrived_g:
            found.append(State("low", tr("low")))
    months = int(habits["weigh again months"])
    if months and row.weighed_at is not None and bottle.kind in ("bought", "dilution", "accord"):
        weighed = row.weighed_at.date()
        if months_after(weighed, months) < today and (row.left_g or 0) > 0:
            found.append(State("not weighed lately", tr("weighed {month}", month=figures.month(weighed)), "quiet"))
    return tuple(found)


def _next_text(row: BottleRow, today: date) -> str:
    """The next day that comes on a bottle, with what it is."""
    if row.bottle.gone_on is not None or (row.retest_on is None and row.dropper_on is None):
        return ""
    if row.retest_on is None or (row.dropper_on is not None and row.dropper_on <= row.retest_on):
        return tr("dropper {day}", day=figures.day(row.dropper_on, today))
    return tr("re-test {day}", day=figures.day(row.retest_on, today))


class ShelfRows:
    """The rows of a filter of `FILTERS`, gone bottles too, by name, the bottle offered first at the head of its material. A row
    stands until its bottle, its day or a habit changes."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._facts: object = None
        self._names: dict[str, str] = {}
        self._made: dict[int, tuple[BottleRow, str, ShelfRow]] = {}
        self.rows: tuple[ShelfRow, ...] = ()

    def reading(self, today: date, kind: str) -> Iterator[None]:
        """Makes the rows in pieces of some ms; they stand in `rows` at its end."""
        book, vials = self._book, kind == "trial vials"
        yield from book.bottles.reading(vials=vials, gone=True)
        if kind == NO_BOTTLE:
            held = {row.bottle.material for row in book.bottles.rows()}
            own = (m for m in book.material_rows() if not m.retired and m.key not in held)
            self.rows = tuple(ShelfRow(m.short, m.key, hay=m.hay) for m in own)
            return
        hays = {row.key: row.hay for row in book.material_rows()}
        habits, wanted = book.bottles.habits(), KINDS[kind]
        if self._facts != (today, habits):
            self._facts = today, habits
            self._made.clear()
        rows = [row for row in book.bottles.rows(vials=vials, gone=True) if row.bottle.kind in wanted]
        yield
        order = {bottle.key: place for place, bottle in enumerate(offered_first(row.bottle for row in rows))}
        yield
        rows.sort(key=lambda row: (self._folded(row.what), row.bottle.kind != "bought", order[row.bottle.key]))
        yield
        made: list[ShelfRow] = []
        for at, row in enumerate(rows, 1):
            repeats = bool(made) and row.bottle.material is not None and row.bottle.material == made[-1].material
            made.append(self._row(row, hays.get(row.bottle.material or 0, ""), repeats, today, habits))
            if not at % AT_ONCE:
                yield
        self.rows = tuple(made)

    def _folded(self, name: str) -> str:
        found = self._names.get(name)
        if found is None:
            found = self._names[name] = fold(name)
        return found

    def _row(self, row: BottleRow, hay: str, repeats: bool, today: date, habits: Mapping[str, float]) -> ShelfRow:
        known = self._made.get(row.key)
        if known is not None and known[0] is row and known[1] == hay:
            made = known[2] if known[2].repeats == repeats else replace(known[2], repeats=repeats)
        else:
            made = ShelfRow(
                row.what, row.bottle.material, row, states_of(row, today, habits), _next_text(row, today), repeats=repeats,
                hay=f"{row.hay}\n{hay}\n{fold(strength_text(row)).replace(figures.THIN, ' ')}",
            )  # fmt: skip
        self._made[row.key] = row, hay, made
        return made


def shelf_rows(book: Book, today: date, kind: str) -> tuple[ShelfRow, ...]:
    """The rows of a filter, all at once."""
    made = ShelfRows(book)
    deque(made.reading(today, kind), maxlen=0)
    return made.rows


def sought(rows: Iterable[ShelfRow], text: str) -> list[ShelfRow]:
    """Rows in which every word stands, of a bottle or of its material ('conifer' too); '≥ 5 g' asks for what is left. What is
    gone is found only when it is sought."""
    if not text.strip():
        return [row for row in rows if not row.is_gone]
    least = [_figure(found) for found in _AT_LEAST.findall(text)]
    words = fold(_AT_LEAST.sub(" ", text).replace("%", " % ")).split()
    found = []
    for row in rows:
        left = None if row.bottle is None else row.bottle.left_g
        if least and (left is None or left < max(least)):
            continue
        if all(word in row.hay for word in words):
            found.append(row)
    return found


def _figure(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return 0.0


def _of(read: Callable[[BottleRow], str]) -> Callable[[ShelfRow], str]:
    return lambda row: "" if row.bottle is None else read(row.bottle)


def _mass(read: Callable[[BottleRow], float | None]) -> Callable[[ShelfRow], str]:
    return lambda row: "" if row.bottle is None else figures.mass(read(row.bottle), LEFT_D_G)


def _plain(read: Callable[[BottleRow], object]) -> Callable[[ShelfRow], object]:
    return lambda row: None if row.bottle is None else read(row.bottle)


def _day(read: Callable[[BottleRow], date | None]) -> Callable[[ShelfRow], str]:
    return lambda row: "" if row.bottle is None or read(row.bottle) is None else str(read(row.bottle))


def _why_missing(row: ShelfRow) -> str:
    one = row.bottle
    if one is None or one.book_g is None or one.found_g is None:
        return ""
    booked, found = figures.mass(one.book_g, LEFT_D_G), figures.mass(one.found_g, LEFT_D_G)
    missing = figures.mass_text(one.missing_g, LEFT_D_G)
    return tr("{booked} by the book \u2212 {found} found = {missing}", booked=booked, found=found, missing=missing)


def _why_strength(row: ShelfRow) -> str:
    if row.bottle is None:
        return ""
    code, label, drift = row.bottle.bottle.code, strength_text(row.bottle) or tr("as made"), row.bottle.drift
    if any(state.of == "off its label" for state in row.states):
        share = figures.percent_text(row.bottle.strength)
        return tr("{code} by its label: {strength}; it truly holds {share}", code=code, strength=label, share=share)
    if drift is None:
        return tr("{code} by its label: {strength}", code=code, strength=label)
    return tr(
        "{code} by its label: {strength}; it may have risen to {high} since",
        code=code, strength=label, high=figures.percent_text(drift.strength_high),
    )  # fmt: skip


COLUMNS: tuple[Column[ShelfRow], ...] = (
    Column("what", tr("holds"), lambda row: row.what, 164, tip=tr("material, accord or version")),
    Column("code", tr("bottle"), _of(lambda b: b.bottle.code), 78),
    Column("strength", tr("strength"), _of(strength_text), 118, sum="drift-of-a-bottle", why=_why_strength),
    Column("left", tr("left"), _mass(lambda b: b.left_g), 74, right=True, unit="g", plain=_plain(lambda b: b.left_g),
           tip=tr("mass last found, less what left since"), sum="what-is-left"),
    Column("place", tr("place"), _of(lambda b: b.bottle.place), 58),
    Column("state", tr("to know"), lambda row: ", ".join(state.words for state in row.states), 150),
    Column("next", tr("next"), lambda row: row.next_text, 146, tip=tr("the next re-test or change of dropper cap")),
    Column("kind", tr("kind"), _of(lambda b: shown(BOTTLES, b.bottle.kind)), 84, hidden=True),
    Column("lot", tr("lot"), _of(lambda b: b.bottle.lot), 90, hidden=True),
    Column("supplier", tr("supplier"), _of(lambda b: b.bottle.supplier), 100, hidden=True),
    Column("supplier_no", tr("supplier's no."), _of(lambda b: b.bottle.supplier_no), 90, hidden=True),
    Column("opened", tr("opened"), _day(lambda b: b.bottle.opened_on), 84, hidden=True),
    Column("made", tr("came or made"), _day(lambda b: None if b.made_at is None else b.made_at.date()), 96, hidden=True),
    Column("book", tr("by the book"), _mass(lambda b: b.book_g), 84, right=True, unit="g", plain=_plain(lambda b: b.book_g),
           hidden=True, sum="what-is-left"),
    Column("found", tr("found"), _mass(lambda b: b.found_g), 74, right=True, unit="g", plain=_plain(lambda b: b.found_g),
           hidden=True),
    Column("missing", tr("missing"), _mass(lambda b: b.missing_g), 74, right=True, unit="g", plain=_plain(lambda b: b.missing_g),
           hidden=True, tip=tr("book less found, at the last re-weighing"), sum="drift-of-a-bottle",
           why=_why_missing),
    Column("loss", tr("loss a month"), _mass(lambda b: None if b.drift is None else b.drift.per_month), 86, right=True, unit="g",
           plain=_plain(lambda b: None if b.drift is None else b.drift.per_month), hidden=True, sum="drift-of-a-bottle"),
    Column("container", tr("container"), _of(lambda b: b.bottle.container), 140, hidden=True),
)  # fmt: skip


class BottlesModel(TableModel[ShelfRow]):
    """The rows of the shelf, read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: ShelfRow) -> tuple[int | None, int | None]:
        """The bottle, or the material without one."""
        return row.key, None if row.bottle is not None else row.material

    def tone(self, row: ShelfRow, column: Column[ShelfRow]) -> str:
        """A name said by the row above is quiet; what has to be known is amber where it asks for something."""
        if column.key == "what":
            return "quiet" if row.repeats or (row.bottle is not None and row.bottle.bottle.gone_on) else "ink"
        if column.key == "state":
            return "amber" if any(state.tone == "amber" for state in row.states) else "quiet"
        return "quiet" if column.key in ("next", "place") else "ink"

    def place_of_bottle(self, key: int | None) -> int:
        """The place of a bottle, −1 where it is not shown."""
        return next((place for place, row in enumerate(self.rows) if key is not None and row.key == key), -1)


def counts(rows: Sequence[ShelfRow]) -> dict[str, int]:
    """{state of `STATES`: rows it is said of}."""
    return {name: sum(any(state.of == name for state in row.states) for row in rows) for name in STATES}
