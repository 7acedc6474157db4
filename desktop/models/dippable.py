# SPDX-License-Identifier: MIT
"""What a strip can be dipped in for one project: smelling dilutions and vials, the benchmark, bottles of raw materials."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, Qt

from db import Book
from desktop import figures
from desktop.language import tr
from desktop.models.shown import BOTTLES, shown
from perfumery import Bottle, Project, Version
from perfumery.text import fold, matches

# The order in which kinds stand within one version, then the others.
_KINDS = ("smelling", "product", "batch", "trial", "retained")
# So many rows are made in one piece.
AT_ONCE = 400
_DISPLAY, _CHECK, _SPOKEN = (
    Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.CheckStateRole, Qt.ItemDataRole.AccessibleTextRole,
)  # fmt: skip
CaptionRole = Qt.ItemDataRole.UserRole + 1
QuietRole = Qt.ItemDataRole.UserRole + 2
MarkRole = Qt.ItemDataRole.UserRole + 3


@dataclass(frozen=True, slots=True)
class Dippable:
    """One row. `make` is '' for a bottle that stands there, 'trial' or 'dilution' for one that would be made first."""

    text: str
    caption: str
    hay: str
    bottle: int | None = None
    version: int | None = None
    strength: float | None = None
    carrier: int | None = None
    make: str = ""

    @property
    def identity(self) -> tuple[str, int | None, int | None]:
        """What makes the row the same row in another list."""
        return (self.make, self.bottle, self.version)


def project_rows(book: Book, project: Project | None, version: int | None) -> list[Dippable]:
    """The rows of a project: those of the chosen version first, its smelling dilutions before its vials, then the other
    versions, newest first, then the benchmark."""
    if project is None or project.key is None:
        return []
    names = _names(book)
    heads = sorted(book.version_heads(project.key), key=lambda head: (head.key != version, -head.key))
    rows: list[Dippable] = []
    keys = tuple(head.key for head in heads)
    bottles, makings = book.bottles_of(keys), book.makings_of(keys)
    for head in heads:
        trials = {m.into_bottle: m.code for m in makings.get(head.key, ())}
        own = [b for b in bottles.get(head.key, ()) if b.gone_on is None]
        if head.key == version:
            rows += _offers(project, head.code, head.key, own)
        own.sort(key=lambda b: (_KINDS.index(b.kind) if b.kind in _KINDS else len(_KINDS), -(b.key or 0)))
        rows += [_version_row(names, bottle, head.code, trials) for bottle in own]
    if not any(head.key == version for head in heads) and version is not None:
        outside = book.get(Version, version)  # an accord of another project
        if outside is not None:
            own = [b for b in book.all(Bottle, version=version) if b.gone_on is None]
            rows = [*(_version_row(names, b, outside.code, {}) for b in own), *rows]
    benchmark = None if project.benchmark is None else book.get(Bottle, project.benchmark)
    if benchmark is not None:
        rows.append(_row(names, benchmark, benchmark.label, shown(BOTTLES, "benchmark")))
    return rows


def other_rows(book: Book, known: Iterable[Dippable], into: list[Dippable]) -> Iterator[None]:
    """The bottles of raw materials, their dilutions and everything else that is not among the known rows, by name, in pieces of
    some ms."""
    taken = {row.bottle for row in known}
    for vials in (False, True):
        yield from book.bottles.reading(vials=vials)
    standing = [row.bottle for vials in (False, True) for row in book.bottles.rows(vials=vials)]
    names = _names(book)
    for at, bottle in enumerate(standing, 1):
        if bottle.key not in taken:
            name = names.get(bottle.material or 0) or bottle.label or bottle.code
            into.append(_row(names, bottle, name, shown(BOTTLES, bottle.kind) if bottle.kind != "bought" else ""))
        if not at % AT_ONCE:
            yield
    into.sort(key=lambda row: row.hay)


def _offers(project: Project, code: str, version: int, own: Sequence[Bottle]) -> list[Dippable]:
    """What could be made first where the chosen version has nothing to dip at the project's strength."""
    can_thin = project.strength is not None and project.strength < 1 and project.carrier is not None
    strength = figures.strength_text(project.strength) if can_thin else ""
    if not own:
        amount = figures.unit(figures.parts(project.amount_g), "g")
        text = tr("{code}: make a trial, not weighed", code=code)
        caption = tr("{amount} as intended; freezes {code}", amount=amount, code=code)
        if can_thin:
            caption = tr(
                "{amount} as intended and its smelling dilution, {strength}; freezes {code}",
                amount=amount, strength=strength, code=code,
            )  # fmt: skip
        return [Dippable(text, caption, fold(text), version=version, make="trial", strength=project.strength)]
    vials = [b for b in own if b.kind == "trial"]
    if can_thin and vials and not any(b.kind in ("smelling", "product", "batch") for b in own):
        vial = max(vials, key=lambda b: b.key or 0)
        text = tr("{code}: make a smelling dilution, not weighed", code=code)
        caption = tr("{strength} from {bottle}", strength=strength, bottle=vial.code)
        return [Dippable(text, caption, fold(text), vial.key, version, project.strength, project.carrier, "dilution")]
    return []


def _names(book: Book) -> dict[int, str]:
    """What a bottle of a material is called, and a carrier behind a strength."""
    return {row.key: row.carrier_name or row.short for row in book.material_rows()}


def _version_row(names: Mapping[int, str], bottle: Bottle, code: str, trials: dict[int, str | None]) -> Dippable:
    trial = trials.get(bottle.key or 0) or ""
    row = _row(names, bottle, code, " · ".join(filter(None, (shown(BOTTLES, bottle.kind), trial))))
    return Dippable(
        row.text, row.caption, fold(f"{row.hay} {bottle.label}"), row.bottle, bottle.version, row.strength, row.carrier
    )


def _row(names: Mapping[int, str], bottle: Bottle, name: str, kind: str) -> Dippable:
    carrier = names.get(bottle.carrier or 0, "")
    stock = figures.stock_text(bottle.strength, carrier)
    stock = stock or (tr("neat") if bottle.version is None else tr("concentrate"))
    unknown = bottle.material is None and bottle.version is None
    caption = " · ".join(filter(None, (kind, tr("contents not known") if unknown else stock, bottle.place)))
    text = f"{name} · {bottle.code}" if name != bottle.code else bottle.code
    hay = fold(f"{text} {caption} {bottle.lot}")
    # what is not known is left for the hand to fill in: a bought perfume has no strength on its label
    strength = None if unknown else bottle.strength
    return Dippable(text, caption, hay, bottle.key, None, strength, bottle.carrier)


class DippableModel(QAbstractListModel):
    """Rows that can be sought in and marked, one strip for each mark."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._all: list[Dippable] = []
        self._needle = ""
        self._marked: list[tuple[str, int | None, int | None]] = []
        self.rows: list[Dippable] = []

    def show_rows(self, rows: Iterable[Dippable]) -> None:
        """Shows these rows, no mark left on them."""
        self._marked.clear()
        self._all = list(rows)
        self.seek(self._needle)

    def add_rows(self, rows: Iterable[Dippable]) -> None:
        """Puts more rows behind, but for bottles that stand there already."""
        known = {row.bottle for row in self._all if not row.make}
        self._all += [row for row in rows if row.bottle not in known]
        self.seek(self._needle)

    def seek(self, text: str) -> None:
        """Shows the rows in which every word of the text stands."""
        self._needle = fold(text)
        self.beginResetModel()
        self.rows = [row for row in self._all if matches(row.hay, self._needle)]
        self.endResetModel()

    @property
    def marked(self) -> tuple[Dippable, ...]:
        """The marked rows in the order of their marks, shown or not."""
        by_identity = {row.identity: row for row in self._all}
        return tuple(by_identity[identity] for identity in self._marked if identity in by_identity)

    def toggle(self, place: int) -> None:
        """Marks a row or takes its mark off."""
        identity = self.rows[place].identity
        if identity in self._marked:
            self._marked.remove(identity)
        else:
            self._marked.append(identity)
        self.dataChanged.emit(self.index(place), self.index(place), [_CHECK, _SPOKEN])

    def unmark(self, row: Dippable) -> None:
        """Takes the mark off a row."""
        if row.identity in self._marked:
            self._marked.remove(row.identity)
            if self.rows:
                self.dataChanged.emit(self.index(0), self.index(len(self.rows) - 1), [_CHECK, _SPOKEN])

    def rowCount(self, parent: QModelIndex = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: QModelIndex, role: int = _DISPLAY) -> Any:
        if not index.isValid():
            return None
        row = self.rows[index.row()]
        if role == _DISPLAY:
            return row.text
        if role == CaptionRole:
            return row.caption
        if role == _CHECK:
            return Qt.CheckState.Checked if row.identity in self._marked else Qt.CheckState.Unchecked
        if role == QuietRole:
            return False
        if role == MarkRole:
            return self._marked.index(row.identity) + 1 if row.identity in self._marked else 0
        if role == _SPOKEN:
            spoken = f"{row.text}, {row.caption}"
            if row.identity not in self._marked:
                return spoken
            return tr("marked {place}, {row}", place=self._marked.index(row.identity) + 1, row=spoken)
        return None
