# SPDX-License-Identifier: MIT
"""Materials as rows of a table with headings, out and in: what each column is, and what each row would become.

Nothing is guessed in silence and nothing is dropped: a row that cannot be read stays with its reason, a column that is not
known is named. What `rows_of` writes, `read_rows` reads back the same.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

from perfumery import cas as cas_numbers
from perfumery.findings import Finding, Refused, refuse
from perfumery.numbers import parse_number
from perfumery.text import fold
from perfumery.values import Material, Property

_YES = ("yes", "y", "true", "1", "x", "ja", "oui", "carrier", "solvent")
_NO = ("", "no", "n", "false", "0", "nein", "non", "-", "\u2013", "\u2014")
# One datum of the column 'data': 'boiling_point_c 176 (CRC; measured)', kept apart by '|'; what a text could break is escaped.
_DATUM = re.compile(r"(?P<kind>[^=]+)=(?P<value>.*?)(?:\{(?P<source>.*?)\;(?P<basis>.*?)\})?")
_ESCAPES = {"%": "%25", "|": "%7C", "=": "%3D", "{": "%7B", "}": "%7D", ";": "%3B", '"': "%22"}


@dataclass(frozen=True, slots=True)
class Heading:
    """One thing a column can be: the field of Material, the heading we write, other headings it is known by (folded)."""

    field: str
    title: str
    also: tuple[str, ...] = ()


HEADINGS: tuple[Heading, ...] = (
    Heading(
        "name", "name",
        ("material", "materials", "raw material", "ingredient", "substance", "product", "bezeichnung", "rohstoff", "nom"),
    ),
    Heading("bench_name", "bench name", ("short name", "kurzname", "nickname")),
    Heading("cas", "CAS", ("cas no", "cas no.", "cas number", "cas nr", "cas nr.", "cas-nr.", "cas-number", "cas #")),
    Heading("form", "form", ("state", "type", "kind", "zustand", "forme")),
    Heading("is_carrier", "carrier", ("is carrier", "solvent", "losungsmittel", "solvant")),
    Heading("inci", "INCI", ("inci name",)),
    Heading("botanical", "botanical name", ("botanical", "latin name", "species")),
    Heading("synonyms", "synonyms", ("synonym", "other names", "also")),
    Heading("words", "smell words", ("words", "odour", "odor", "smell", "descriptors", "geruch", "odeur")),
    Heading("retest_months", "re-test months", ("retest months", "re-test", "shelf life", "shelf life months")),
    Heading("storage", "storage", ("store", "lagerung")),
    Heading("properties", "data", ()),
    Heading("retired_on", "retired", ("retired on",)),
)  # fmt: skip
TITLES = tuple(heading.title for heading in HEADINGS)
FIELDS = tuple(heading.field for heading in HEADINGS)


@dataclass(frozen=True, slots=True)
class Imported:
    """One row: `number` counts from the headings (1 the first below), `material` what it would become, None where `findings`
    forbid it. `standing` is the material of the book that has this name or CAS number, with what earlier rows filled in it,
    `is_twice` whether an earlier row has the name; `beside` is a natural of the book that has the same CAS number under another
    name, and so may be another quality. `name` is the one that stands in the row."""

    number: int
    cells: tuple[str, ...]
    material: Material | None = None
    standing: Material | None = None
    findings: tuple[Finding, ...] = ()
    is_twice: bool = False
    beside: Material | None = None
    name: str = ""

    @property
    def synonym(self) -> str:
        """The row's own name, where it becomes a synonym of the material that stands."""
        if self.material is None or self.standing is None or self.name in self.standing.synonyms:
            return ""
        return self.name if self.name in self.material.synonyms else ""

    @property
    def is_new(self) -> bool:
        """Whether it would be a material of its own."""
        return self.material is not None and self.standing is None and not self.is_twice


def guessed(head: Sequence[str]) -> tuple[str, ...]:
    """The field of Material that each column is, '' where it is none; each field once, the first column that fits."""
    known = {fold(word): heading.field for heading in HEADINGS for word in (heading.title, *heading.also)}
    found: list[str] = []
    for title in head:
        field = known.get(fold(title), "")
        found.append("" if field in found else field)
    return tuple(found)


def read_rows(
    rows: Sequence[Sequence[str]], columns: Sequence[str], known: Sequence[Material] = ()
) -> tuple[Imported, ...]:
    """The rows below the headings; `columns` says what each cell is ('' is left alone), `known` are the book's materials.

    A row of a known name or CAS number fills what is empty in the material that stands, and changes nothing else of it.
    """
    return tuple(reading(rows, columns, known))


def reading(
    rows: Sequence[Sequence[str]], columns: Sequence[str], known: Sequence[Material] = ()
) -> Iterator[Imported]:
    """As `read_rows`, a row at a time."""
    book = list(known)
    by_name = {fold(name): at for at, one in enumerate(book) for name in (*one.synonyms, one.bench_name, one.name) if name}
    by_cas = {one.cas: at for at, one in enumerate(book) if one.cas}
    seen: set[str] = set()
    for number, cells in enumerate(rows, 1):
        texts = {field: cell.strip() for field, cell in zip(columns, cells, strict=False) if field}
        row = _read(number, tuple(cells), texts)
        if row.material is not None:
            at, of_cas = by_name.get(fold(row.material.name)), by_cas.get(row.material.cas)
            beside = None if of_cas is None else book[of_cas]
            if at is not None or (beside is not None and not beside.is_mixture):
                # of a natural the qualities share the number, and only a name tells them apart
                at, beside = of_cas if at is None else at, None
            standing = None if at is None else book[at]
            is_twice = fold(row.material.name) in seen
            seen.add(fold(row.material.name))
            material = row.material if standing is None else filled(standing, row.material)
            if at is not None and not is_twice:
                # a further name of it in a later row adds to what this one fills
                book[at] = material
            row = replace(row, material=material, standing=standing, is_twice=is_twice, beside=beside)
        yield row


def filled(standing: Material, given: Material) -> Material:
    """The material that stands with what is empty in it taken from another; its name, bench name and marks stay, and another
    name becomes one more synonym, so that it is found by it."""
    changes: dict[str, Any] = {}
    for spec in fields(Material):
        if spec.name in ("name", "key", "is_carrier", "retired_on", "form"):
            continue
        if not getattr(standing, spec.name) and getattr(given, spec.name):
            changes[spec.name] = getattr(given, spec.name)
    synonyms = changes.get("synonyms", standing.synonyms)
    names = (standing.name, standing.bench_name, standing.inci, standing.botanical, *synonyms)
    if fold(given.name) not in map(fold, names):
        changes["synonyms"] = (*synonyms, given.name)
    return replace(standing, **changes) if changes else standing


def rows_of(materials: Sequence[Material]) -> tuple[tuple[str | float | None, ...], ...]:
    """The cells of each material under `TITLES`."""
    return tuple(tuple(_WRITE.get(field, str)(getattr(one, field)) for field in FIELDS) for one in materials)


def _read(number: int, cells: tuple[str, ...], texts: Mapping[str, str]) -> Imported:
    wrong: list[Finding] = []
    values: dict[str, Any] = {}
    for field, text in texts.items():
        if not text:
            continue
        try:
            values[field] = _READ.get(field, str)(text)
        except Refused as refused:
            wrong += refused.findings
    if not values.get("name"):
        return Imported(number, cells, findings=(Finding("name-empty"), *wrong))
    name = values["name"]
    try:
        material = Material(**values)
    except Refused as refused:
        return Imported(number, cells, findings=(*wrong, *refused.findings), name=name)
    if material.cas:
        wrong += cas_numbers.findings(material.cas)
    return Imported(number, cells, None if wrong else material, findings=tuple(wrong), name=name)


# cells ----------------------------------------------------------------------------------------------------------------


def _listed(text: str) -> tuple[str, ...]:
    mark = ";" if ";" in text else ","
    return tuple(dict.fromkeys(unescaped(part.strip()) for part in text.split(mark) if part.strip()))


def _flag(text: str) -> bool:
    if fold(text) in _YES:
        return True
    if fold(text) in _NO:
        return False
    raise refuse("kind-unknown", kind=text, known=("yes", "no"))


def _months(text: str) -> int:
    value = parse_number(text)
    if value != int(value):
        raise refuse("number-unreadable", text=text)
    return int(value)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise refuse("day-unreadable", text=text) from None


def is_data(text: str) -> bool:
    """Whether a cell holds data as `rows_of` writes them: many a table has a column called so that is something else."""
    return all(_DATUM.fullmatch(part.strip()) for part in text.split("|"))


def _data(text: str) -> tuple[Property, ...]:
    found = []
    for part in text.split("|"):
        match = _DATUM.fullmatch(part.strip())
        if match is None:
            raise refuse("data-unreadable", text=part)
        said = unescaped(match["value"])
        marks = {"source": unescaped(match["source"] or ""), "basis": unescaped(match["basis"] or "")}
        kind = unescaped(match["kind"])
        if said.startswith("'"):
            found.append(Property(kind, None, said[1:], **marks))
        else:
            found.append(Property(kind, parse_number(said) if said else None, "", **marks))
    return tuple(found)


def _data_text(data: tuple[Property, ...]) -> str:
    parts = []
    for one in data:
        # a text has an apostrophe before it, so that a text of digits is no figure
        value = f"{one.value!r}" if one.value is not None else f"'{one.text}" if one.text else ""
        parts.append(f"{escaped(one.kind)}={escaped(value)}{{{escaped(one.source)};{escaped(one.basis)}}}")
    return " | ".join(parts)


def escaped(text: str) -> str:
    """A text in which no mark of these columns stands."""
    return "".join(_ESCAPES.get(letter, letter) for letter in text)


def unescaped(text: str) -> str:
    """The text that `escaped` made this of."""
    for letter, written in reversed(_ESCAPES.items()):
        text = text.replace(written, letter)
    return text


_READ: Mapping[str, Callable[[str], Any]] = {
    "cas": cas_numbers.tidy, "is_carrier": _flag, "synonyms": _listed, "words": _listed, "retest_months": _months,
    "properties": _data, "retired_on": _day,
}  # fmt: skip
_WRITE: Mapping[str, Callable[[Any], str | float | None]] = {
    "is_carrier": lambda value: "yes" if value else "",
    "synonyms": lambda texts: "; ".join(map(_part, texts)) + (";" if len(texts) == 1 and "," in texts[0] else ""),
    "words": lambda texts: "; ".join(map(_part, texts)) + (";" if len(texts) == 1 and "," in texts[0] else ""),
    "retest_months": lambda value: value,
    "properties": _data_text,
    "retired_on": lambda value: "" if value is None else value.isoformat(),
}


def _part(text: str) -> str:
    return text.replace("%", "%25").replace(";", "%3B")
