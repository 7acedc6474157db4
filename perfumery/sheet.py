# SPDX-License-Identifier: MIT
"""Formulas pasted as text from any spreadsheet, a mail or a list, read row by row.

Nothing is guessed in silence and nothing is dropped: a row that cannot be read stays, with its text and the reason; a
figure that could be read two ways ('1,234') keeps both readings for the caller to ask.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from perfumery import cas as cas_numbers
from perfumery.entry import parse_dilution
from perfumery.fields import QUANTITY, UNITS, Fields, fields_of
from perfumery.findings import Finding, Refused, refuse
from perfumery.numbers import readings_of
from perfumery.text import fold

_TOTALS = ("total", "sum", "totals", "summe", "gesamt", "somme", "totaux")

# What a strength column says where there is none: marks of nothing, and the words of our own copies.
_NO_STRENGTH = ("-", "\u2013", "\u2014", "accord")
_FILLS_UP = re.compile(r"(?i),?\s*fills up\s*$")


@dataclass(frozen=True, slots=True)
class Pasted:
    """One row: `text` as it stood, `whole` the name's field before anything was taken from it.

    `strength` 0..1 or None where the row says none; `parts` the quantity in the sheet's unit, None where it is missing
    or where `readings` holds the two values it could mean. `findings` say what could not be read; notes about a CAS
    number are among them and forbid nothing. What is wrong with a figure names its `field`, 'strength' or 'parts'. `fill_up` is
    a line that fills up, as our own tables say it in the column of strengths.
    """

    text: str
    whole: str = ""
    name: str = ""
    cas: str = ""
    strength: float | None = None
    carrier: str = ""
    parts: float | None = None
    readings: tuple[float, ...] = ()
    remark: str = ""
    findings: tuple[Finding, ...] = ()
    fill_up: bool = False

    @property
    def is_readable(self) -> bool:
        """Whether everything a line needs was read; a figure to be asked for counts as read."""
        return all(f.code.startswith("cas-") for f in self.findings)

    def taken(self, reading: float) -> Pasted:
        """The row with one of its readings taken for the quantity."""
        return replace(self, parts=reading, readings=())


@dataclass(frozen=True, slots=True)
class Sheet:
    """A pasted text read: its rows, the unit of quantities ('parts', 'g', '%', '‰'), the heads of columns not used."""

    rows: tuple[Pasted, ...]
    unit: str = "parts"
    unused: tuple[str, ...] = ()


def read_sheet(text: str) -> Sheet:
    """Reads a pasted text. Separators: tab, semicolon or comma, whichever the text uses; none for plain lists."""
    fields, columns = fields_of(text)
    fraction = any(column.kind == "strength" and column.unit == "fraction" for column in columns)
    head_unit = next((column.unit for column in columns if column.kind == "quantity"), "")
    _percents_are_quantities(fields)
    unit = _usual_unit(fields, head_unit)
    decimal = _proven_decimal(f.quantity for f in fields)
    rows = tuple(_read(f, unit, head_unit, fraction, decimal) for f in fields)
    unused = tuple(c.title for c in columns if c.kind == "" and c.title)
    return Sheet(rows, unit, unused)


def _percents_are_quantities(fields: Sequence[Fields]) -> None:
    """A list of nothing but 'Lemon oil 11 %' gives shares, not strengths."""
    if fields and all(f.quantity == "" and f.strength.endswith("%") and not f.carrier for f in fields):
        for f in fields:
            f.quantity, f.unit, f.strength = f.strength.removesuffix("%"), "%", ""


def _usual_unit(fields: Sequence[Fields], head_unit: str) -> str:
    if head_unit in UNITS:
        return UNITS[head_unit][0]
    units: Counter[str] = Counter()
    for f in fields:
        match = QUANTITY.fullmatch(f.quantity)
        unit = f.unit or (match["unit"] or "" if match else "").casefold()
        if unit in UNITS:
            units[UNITS[unit][0]] += 1
    return units.most_common(1)[0][0] if units else "parts"


def _proven_decimal(quantities: Iterable[str]) -> str:
    """The mark that some figure of the sheet can only use as a decimal one, '' where none or both are proven."""
    proven = set()
    for text in quantities:
        match = QUANTITY.fullmatch(text)
        bare = match["figure"] if match else ""
        marks = re.findall(r"[.,]", bare)
        if len(set(marks)) == 2 and marks.count(marks[-1]) == 1:
            proven.add(marks[-1])
        elif len(marks) == 1 and len(readings_of(bare)) == 1:
            proven.add(marks[0])
    return proven.pop() if len(proven) == 1 else ""


def _read(f: Fields, unit: str, head_unit: str, fraction: bool, decimal: str) -> Pasted:
    """The row with its figures read; what could not be is said by findings."""
    wrong: list[Finding] = [f.finding] if f.finding else []
    bare = _FILLS_UP.sub("", f.strength)
    row = Pasted(
        f.text, f.whole, f.name, cas_numbers.tidy(f.cas), carrier=_without_in(f.carrier), remark=f.remark,
        fill_up=bare != f.strength,
    )  # fmt: skip
    if fold(f.name).rstrip(":") in _TOTALS:
        return replace(row, findings=(Finding("row-total"),))
    if not f.name and not f.cas:
        wrong.append(Finding("name-empty"))
    if row.cas:
        wrong.extend(cas_numbers.findings(row.cas))
    try:
        strength, carrier = _strength(bare, fraction)
        row = replace(row, strength=strength, carrier=row.carrier or carrier)
    except Refused as refused:
        wrong.extend(_in_field("strength", refused))
    try:
        readings = _quantity(f, unit, head_unit, decimal)
        row = replace(row, parts=readings[0]) if len(readings) == 1 else replace(row, readings=readings)
    except Refused as refused:
        wrong.extend(_in_field("parts", refused))
    return replace(row, findings=tuple(wrong))


def _in_field(field: str, refused: Refused) -> list[Finding]:
    """The reasons, each with the field it is about, so that mending one field does not hide another."""
    return [Finding(finding.code, {**finding.data, "field": field}) for finding in refused.findings]


def _without_in(carrier: str) -> str:
    return re.sub(r"(?i)^in\s+", "", carrier.strip())


def _strength(text: str, fraction: bool) -> tuple[float | None, str]:
    if not text or fold(text) in _NO_STRENGTH:
        return None, ""
    if fraction and re.fullmatch(r"[\d.,]+", text):
        value = readings_of(text)[0]
        if not 0 < value <= 1:
            raise refuse("strength-range", percent=value * 100)
        return value, ""
    return parse_dilution(text)


def _quantity(f: Fields, unit: str, head_unit: str, decimal: str) -> tuple[float, ...]:
    """Every value the quantity could mean, in the sheet's unit."""
    match = QUANTITY.fullmatch(f.quantity)
    figure = match["figure"] if match else f.quantity
    own = f.unit or (match["unit"] or "" if match else "").casefold() or head_unit
    known, factor = UNITS.get(own, (own, 1.0))
    if known and known != unit:
        raise refuse("unit-unclear", unit=own, usual=unit)
    readings = readings_of(figure)
    if len(readings) == 2 and decimal:
        readings = readings[:1] if decimal in figure else readings[1:]
    # 250 mg are 0.25 g, not 0.25000000000000006
    readings = tuple(float(f"{value * factor:.12g}") if factor != 1 else value for value in readings)
    if readings[0] < 0:
        raise refuse("parts-negative", parts=readings[0])
    return readings
