# SPDX-License-Identifier: MIT
"""A pasted sheet as it was understood, row by row, to be mended before any of it goes into the formula."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass, replace

from PySide6.QtCore import QModelIndex, QObject, Qt, Signal

from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.forms import form_text
from desktop.models.lines import LinesModel
from desktop.models.shelf_names import Candidate
from desktop.models.stock_words import read_stock
from desktop.models.table import TableModel
from desktop.session import Session
from perfumery import Finding, Line, Material, Refused
from perfumery.numbers import parse_number
from perfumery.sheet import Pasted, Sheet, read_sheet
from perfumery.text import fold

NEW_CARRIER_FORM = "solvent"
_EDIT = Qt.ItemDataRole.EditRole


@dataclass(frozen=True, slots=True)
class PastedRow:
    """One row: what stood there, what it is taken for, and what still has to be said. `carrier_name` is a carrier that is
    not on the shelf and will be made with the lines."""

    place: int
    pasted: Pasted
    taken: Candidate | None = None
    offered: tuple[Candidate, ...] = ()
    strength: float | None = 1.0
    carrier: int | None = None
    carrier_name: str = ""
    carrier_short: str = ""
    parts: float | None = None
    problems: tuple[tuple[str, str], ...] = ()
    note: str = ""

    @property
    def problem(self) -> str:
        """What cannot be taken, in sentences."""
        return " ".join(sentence for _, sentence in self.problems)

    def mended(self, cell: str, sentence: str = "") -> PastedRow:
        """The row with what was said about one of its cells taken back, or said anew."""
        others = tuple(one for one in self.problems if one[0] != cell)
        return replace(self, problems=(*others, (cell, sentence)) if sentence else others)

    @property
    def wants(self) -> str:
        """The cell to be mended first; empty when the row is ready."""
        if self.problems:
            return self.problems[0][0]
        if self.taken is None:
            return "material"
        return "parts" if self.parts is None else "strength" if self.strength is None else ""

    @property
    def is_ready(self) -> bool:
        """Whether it can become a line as it stands."""
        return not self.problem and self.taken is not None and self.strength is not None and self.parts is not None

    @property
    def asks(self) -> str:
        """What has to be answered or mended; empty when nothing."""
        if self.problem:
            return self.problem
        if self.taken is None:
            near = figures.listed([f"“{one.label}”" for one in self.offered if not one.new_name][:2])
            return tr("Which material? {near} come near.", near=near) if near else tr("Which material?")
        if self.parts is None and self.pasted.readings:
            return tr("Two readings: {figures}", figures=self.parts_text)
        if self.parts is None:
            return tr("How many parts?")
        if self.strength is None:
            return tr("{label} is solid: at which strength?", label=self.taken.label)
        return ""

    @property
    def strength_text(self) -> str:
        """The strength cell."""
        if self.pasted.fill_up:
            return tr("fills up")
        if self.taken is not None and self.taken.accord is not None:
            return tr("accord")
        if self.strength is None:
            return figures.UNKNOWN
        new = tr("{material} (new)", material=self.carrier_name) if self.carrier_name else ""
        return figures.stock_text(self.strength, self.carrier_short or new)

    @property
    def parts_text(self) -> str:
        """The parts cell; both readings where two are possible."""
        if self.parts is None and self.pasted.readings:
            first, second = map(figures.parts, self.pasted.readings)
            return tr("{first} or {second}?", first=first, second=second)
        return figures.parts(self.parts)


COLUMNS: tuple[Column[PastedRow], ...] = (
    Column("text", tr("as pasted"), lambda row: " · ".join(row.pasted.text.replace("\t", " · ").split("\n")), 120),
    Column("material", tr("taken for"), lambda row: row.taken.label if row.taken else "?", 136),
    Column("strength", tr("strength"), lambda row: row.strength_text, 90),
    Column("parts", tr("parts"), lambda row: row.parts_text, 104, right=True),
    Column("asks", tr("to be mended"), lambda row: row.asks or row.note, 150),
)


class PastedModel(TableModel[PastedRow]):
    """The rows of one paste. `judged` after every change."""

    judged = Signal()

    def __init__(self, session: Session, lines: LinesModel, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)
        self._session = session
        self._lines = lines
        self.sheet = Sheet(())

    # reading ----------------------------------------------------------------------------------------------------------

    def read(self, text: str) -> None:
        """Takes a pasted text apart and looks every name up."""
        for _ in self.reading(text):
            pass

    def reading(self, text: str) -> Iterator[tuple[int, int]]:
        """As `read`, a row at a time: (rows looked up, of how many). The rows are shown when all are."""
        sheet, rows = read_sheet(text), []
        yield from ((0, len(sheet.rows)) for _ in self._lines.names.getting_ready(self._lines.version))
        for place, pasted in enumerate(sheet.rows):
            rows.append(self._understood(place, pasted))
            yield place + 1, len(sheet.rows)
        self.sheet = sheet
        self.show_rows(rows)
        self.judged.emit()

    def _understood(self, place: int, pasted: Pasted) -> PastedRow:
        notes = [wording.sentence(finding) for finding in pasted.findings if finding.code.startswith("cas-")]
        row = PastedRow(place, pasted, parts=pasted.parts, note=" ".join(notes))
        for finding in pasted.findings:
            if not finding.code.startswith("cas-"):
                row = row.mended(_cell_of(finding), wording.sentence(finding))
        if any(cell in ("text", "material") for cell, _ in row.problems):
            return row
        row = self._named(row)
        if row.taken is not None and row.taken.label == pasted.whole != pasted.name:
            # 'Ethanol 96 %' is a name of this shelf, its figure no strength
            row = replace(row, pasted=replace(pasted, strength=None, carrier=""))
        if any(cell == "strength" for cell, _ in row.problems):
            return replace(row, strength=None)
        return self._diluted(row, row.pasted.strength, row.pasted.carrier)

    def _named(self, row: PastedRow) -> PastedRow:
        names, pasted = self._lines.names, row.pasted
        for name in dict.fromkeys((pasted.whole, pasted.name)):
            match = names.matcher.match(name, pasted.cas if name == pasted.name else "")
            if match.found is not None:
                sure = Candidate(match.found.short, material=match.found.key, hint=form_text(match.found.form))
                if fold(name) == fold(pasted.whole) and name != pasted.name:
                    sure = replace(sure, label=name)
                return replace(row, taken=sure)
        wanted = pasted.name or pasted.cas
        offered = names.candidates(wanted, self._lines.version)
        accords = [one for one in offered if one.accord is not None and _is_called(wanted, one.label)]
        if len(accords) == 1:
            return replace(row, taken=accords[0])
        near = tuple(Candidate(m.short, material=m.key, hint=form_text(m.form)) for m in match.candidates)
        known = tuple(one for one in offered if not one.new_name and one not in near)
        fresh = Candidate(tr("NEW material “{name}”", name=wanted), new_name=wanted)
        if near or known:
            return replace(row, offered=(*near, *known, fresh))
        return replace(row, taken=fresh, offered=(fresh,))

    def _diluted(self, row: PastedRow, strength: float | None, carrier: str) -> PastedRow:
        """The row with its strength and carrier settled as far as they can be."""
        project, names, taken = self._session.project, self._lines.names, row.taken
        material = None if taken is None else taken.material
        if taken is not None and taken.accord is not None:
            refused = tr("An accord is used as it is; add a line of its carrier to thin it.")
            row = replace(row, strength=1.0, carrier=None, carrier_name="", carrier_short="")
            return row.mended("strength", refused if strength not in (None, 1) else "")
        if strength is None:
            value = None if material is None else self._session.book.get(Material, material)
            strength = None if value is not None and value.is_solid else 1.0
        row = replace(row, strength=strength, carrier=None, carrier_name="", carrier_short="").mended("strength")
        if strength is None or strength == 1:
            return row
        if not carrier:
            key = names.usual_carrier(project, material)
            if key is None:
                return row.mended("strength", tr("Diluted in what? Write the carrier behind it, as 10 % in ethanol."))
            return replace(row, carrier=key, carrier_short=names.carrier(key))
        try:
            key = names.carrier_key(carrier)
        except Refused as fault:
            if fault.findings[0].data.get("names"):
                return row.mended("strength", wording.sentences(fault.findings))
            return replace(row, carrier_name=carrier)
        return replace(row, carrier=key, carrier_short=names.carrier(key))

    # mending ----------------------------------------------------------------------------------------------------------

    def identity(self, row: PastedRow) -> Hashable:
        return row.place

    def tone(self, row: PastedRow, column: Column[PastedRow]) -> str:
        if column.key == "asks":
            return "amber" if row.asks else "quiet"
        if column.key == "text":
            return "quiet"
        return "ink" if row.is_ready or column.key != "material" else "amber"

    def tip(self, row: PastedRow, column: Column[PastedRow]) -> str:
        return row.asks if column.key == "asks" else ""

    def edit_text(self, row: PastedRow, column: Column[PastedRow]) -> str:
        if column.key == "material":
            return "" if row.taken is None else row.taken.new_name or row.taken.label
        if column.key == "parts":
            return "" if row.parts is None else figures.parts(row.parts)
        return column.text(row)

    def flags(self, index: QModelIndex) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if self.columns[index.column()].key in ("material", "strength", "parts"):
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def setData(self, index: QModelIndex, value: object, role: int = _EDIT) -> bool:
        if role != _EDIT or not index.isValid():
            return False
        row, key, text = self.row(index.row()), self.columns[index.column()].key, str(value).strip()
        if not text or text == self.edit_text(row, self.columns[index.column()]):
            return True
        try:
            if key == "parts":
                parts = parse_number(text)
                self._change(replace(row.mended("parts"), parts=Line(parts=parts, material=0).parts))
            elif key == "strength":
                strength, carrier = read_stock(text)
                self._change(self._diluted(row, row.strength if strength is None else strength, carrier))
        except Refused as fault:
            self._change(row.mended(key, wording.sentences(fault.findings)))
            return False
        return True

    def choose(self, place: int, candidate: Candidate) -> None:
        """Takes a row for this material or accord."""
        row = replace(self.row(place), taken=candidate).mended("material")
        unread = any(cell == "strength" for cell, _ in row.problems) and row.strength is None
        self._change(row if unread else self._diluted(row, row.pasted.strength, row.pasted.carrier))

    def read_all(self, way: int) -> None:
        """Takes the first (0) or second (1) reading of every figure that has two."""
        rows = [
            replace(r, parts=r.pasted.readings[way]) if r.parts is None and r.pasted.readings else r for r in self.rows
        ]
        self.show_rows(rows)
        self.judged.emit()

    def candidates(self, place: int, text: str) -> tuple[Candidate, ...]:
        """What a row could be: what came near while its name is as pasted, else what is typed."""
        row = self.row(place)
        if not text.strip():
            return row.offered
        return self._lines.names.candidates(text.strip(), self._lines.version)

    def _change(self, row: PastedRow) -> None:
        self.show_rows([row if other.place == row.place else other for other in self.rows])
        self.judged.emit()

    # taking -----------------------------------------------------------------------------------------------------------

    def take(self) -> int:
        """Puts every ready row as one step and keeps the others; how many were taken. Raises Refused."""
        ready = [row for row in self.rows if row.is_ready]
        if not ready:
            return 0
        made: dict[str, Material] = {}
        lines = [self._line(row, made) for row in ready]
        assert self._lines.version is not None
        what = tr_count(len(lines), "paste {n} line", "paste {n} lines")
        if not self._lines.put_lines([*self._lines.version.lines, *lines], what, *made.values()):
            return 0
        self.show_rows([row for row in self.rows if not row.is_ready])
        self.judged.emit()
        return len(lines)

    def _line(self, row: PastedRow, made: dict[str, Material]) -> Line:
        assert row.taken is not None and row.strength is not None and row.parts is not None
        material, carrier = row.taken.material, row.carrier
        if row.taken.new_name:
            material = self._new_material(row.taken.new_name, made, cas=row.pasted.cas).key
        if row.carrier_name:
            carrier = self._new_material(row.carrier_name, made, form=NEW_CARRIER_FORM, is_carrier=True).key
        return Line(
            parts=0.0 if row.pasted.fill_up else row.parts, material=material, accord=row.taken.accord,
            strength=row.strength, carrier=carrier, remark=row.pasted.remark, fill_up=row.pasted.fill_up,
        )  # fmt: skip

    def _new_material(self, name: str, made: dict[str, Material], **more: object) -> Material:
        """The new material of this name; one for all rows that name it."""
        if fold(name) not in made:
            made[fold(name)] = Material(name=name, key=self._session.book.new_key(), **more)
        return made[fold(name)]


def _cell_of(finding: Finding) -> str:
    """The cell in which a finding can be mended; 'text' where only a new paste can."""
    return "material" if finding.code == "name-empty" else str(finding.data.get("field", "text"))


def _is_called(name: str, label: str) -> bool:
    """Whether an accord's label 'Wet slate WS-1' is meant by its code, its name or both."""
    called, (*words, code) = fold(name), fold(label).split()
    return called in (fold(label), code, " ".join(words))
