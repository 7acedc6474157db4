# SPDX-License-Identifier: MIT
"""A line typed into one cell: found on the shelf, completed by what is usual, asked for what only the person can say."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QObject

from desktop import figures, wording
from desktop.language import tr
from desktop.models.forms import form_text
from desktop.models.lines import LinesModel
from desktop.models.shelf_names import Candidate
from desktop.models.stock_words import as_read
from desktop.session import Session
from perfumery import Line, Material, Refused
from perfumery.entry import Entry, parse_entry, sought_name, with_in
from perfumery.findings import refuse
from perfumery.text import fold


@dataclass(frozen=True, slots=True)
class Asked:
    """What is still missing: the text to go on from, where the cursor stands in it, and the question."""

    text: str
    cursor: int
    sentence: str


class LineEntry(QObject):
    """Adds typed lines to the model's version, and exchanges the material of a line."""

    def __init__(self, session: Session, model: LinesModel, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._model = model

    def candidates(self, text: str) -> tuple[Candidate, ...]:
        """What a text typed into the entry row could name."""
        parts = None
        try:
            entry = self._read(text)
            name, parts = entry.name, entry.parts
        except Refused:
            name = sought_name(text)
        found = self._model.names.candidates(name, self._model.version)
        if name != text.strip():
            # 'ethanol 96 % 500': a name may end in figures itself
            whole = [row for row in self._session.book.material_rows() if not row.retired and _begins(text, row.short)]
            whole = [row for row in whole if len(row.short) > len(name)]
            first = tuple(Candidate(row.short, material=row.key, hint=form_text(row.form)) for row in whole)
            found = first + tuple(one for one in found if one not in first)
        return (*found[:-1], _new(found[-1], parts, is_first=len(found) == 1)) if found and found[-1].new_name else found

    def _read(self, text: str) -> Entry:
        return parse_entry(with_in(as_read(text), self._model.names.is_carrier))

    def enter(self, text: str, candidate: Candidate | None) -> Asked | None:
        """Adds the line; or says what is missing, with the text to go on from."""
        try:
            return self._enter(text, candidate)
        except Refused as fault:
            return Asked(text, len(text), wording.sentences(fault.findings))

    def exchange(self, place: int, text: str, candidate: Candidate | None) -> Asked | None:
        """Puts another material or accord into a line, its parts kept."""
        try:
            return self._exchange(place, text, candidate)
        except Refused as fault:
            return Asked(text, len(text), wording.sentences(fault.findings))

    def _enter(self, text: str, candidate: Candidate | None) -> Asked | None:
        if candidate is None:
            return Asked(text, len(text), tr("Type the name of a material, then its parts."))
        entry = self._taken_apart(text, candidate)
        label = candidate.new_name or candidate.label
        project = self._session.project
        strength = entry.strength
        if candidate.accord is not None:
            if strength is not None and strength < 1:
                raise refuse("accord-strength")
            strength = 1.0
        elif strength is None:
            strength = 1.0 if candidate.material is None else self._model.names.usual_strength(project, candidate.material)
        if strength is None:
            parts = "" if entry.parts is None else figures.parts(entry.parts)
            solid = tr("{name} is solid: type the strength of your dilution, for example 10 %, and then the parts.", name=label)
            return Asked(f"{label}  {parts}", len(label) + 1, solid)
        if entry.parts is None:
            # as it is read, in any language
            kept = "" if entry.strength is None else f" {figures.parts(strength * 100)} %"
            kept += f" in {entry.carrier}" if entry.carrier else ""
            asked = f"{label}{kept} "
            return Asked(asked, len(asked), tr("How many parts of {name}?", name=label))
        line = Line(
            parts=entry.parts, material=candidate.material, accord=candidate.accord,
            strength=strength, carrier=self._carrier(entry, strength, candidate.material),
        ) if candidate.new_name == "" else None  # fmt: skip
        others: tuple[Material, ...] = ()
        if line is None:
            made = Material(name=candidate.new_name, key=self._session.book.new_key())
            others = (made,)
            carrier = self._carrier(entry, strength, None)
            line = Line(parts=entry.parts, material=made.key, strength=strength, carrier=carrier)
        # a line that was put leaves nothing typed behind, so that the row repainted by it is empty already
        before, self._model.entry_text = self._model.entry_text, ""
        shown = figures.stock_text(strength, self._model.names.carrier(line.carrier))
        named, parts = f"{f'“{label}”' if others else label} {shown}".rstrip(), figures.parts(entry.parts)
        what = tr("new material {name}, {parts} parts", name=named, parts=parts) if others else tr(
            "add {name}, {parts} parts", name=named, parts=parts
        )  # fmt: skip
        try:
            done = self._model.add_line(line, what, *others)
        except Refused:
            self._model.entry_text = before
            raise
        return None if done else Asked(text, len(text), self._session.why_not)

    def _exchange(self, place: int, text: str, candidate: Candidate | None) -> Asked | None:
        if candidate is None:
            return Asked(text, len(text), tr("Type the name of a material, and choose it from the list."))
        assert self._model.version is not None
        line = self._model.version.lines[place]
        old = self._model.names.of_line(line, self._model.shelf)
        others: tuple[Material, ...] = ()
        material = candidate.material
        if candidate.new_name:
            made = Material(name=candidate.new_name, key=self._session.book.new_key())
            material, others = made.key, (made,)
        if candidate.accord is not None:
            changed = replace(line, material=None, accord=candidate.accord, strength=1.0, carrier=None)
        else:
            changed = replace(line, material=material, accord=None)
        lines = list(self._model.version.lines)
        lines[place] = changed
        what = tr("{new} for {old}", new=candidate.label, old=old)
        if others:
            what = tr("new material “{new}” for {old}", new=candidate.new_name, old=old)
        done = self._model.put_lines(lines, what, *others)
        return None if done else Asked(text, len(text), self._session.why_not)

    def _carrier(self, entry: Entry, strength: float, material: int | None) -> int | None:
        if strength == 1:
            return None
        if entry.carrier:
            return self._model.names.carrier_key(entry.carrier)
        return self._model.names.usual_carrier(self._session.project, material)

    def _taken_apart(self, text: str, candidate: Candidate) -> Entry:
        """The figures behind the candidate's name, where the text begins with it; else behind what was typed of it."""
        label = candidate.new_name or candidate.label
        if not _begins(text, label):
            return self._read(text)
        rest = " ".join(text.split())[len(" ".join(label.split())) :]
        return self._read(f"x {rest}") if rest.strip() else Entry(label)


def _begins(text: str, label: str) -> bool:
    typed, name = fold(text), fold(label)
    return typed == name or typed.startswith(f"{name} ")


def _new(candidate: Candidate, parts: float | None, *, is_first: bool) -> Candidate:
    """The offer of a new material: what Enter would do with it, said so that it is taken for no other."""
    if parts is None:
        return candidate
    shown = figures.parts(parts)
    if is_first:
        return replace(candidate, label=tr("Enter makes a {offer}, {parts} parts", offer=candidate.label, parts=shown))
    return replace(candidate, label=tr("{offer}, {parts} parts", offer=candidate.label, parts=shown))
