# SPDX-License-Identifier: MIT
"""A pasted text taken apart into fields: rows, columns and what each column is, before any figure is read."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from perfumery import cas as cas_numbers
from perfumery.findings import Finding, Refused
from perfumery.numbers import readings_of
from perfumery.text import fold

# What heads a column, folded; German and French heads are met in suppliers' and schools' sheets.
_HEADS = {
    "name": "name|material|materials|raw material|ingredient|ingredients|substance|component|item|product|odorant"
    "|bezeichnung|rohstoff|nom|matiere|matiere premiere",
    "cas": "cas|cas no|cas no.|cas number|cas nr|cas nr.|cas-nr.|cas-no.|cas #|cas-number",
    "strength": "strength|dilution|concentration|conc|conc.|dil|dil.|dilution strength|verdunnung|starke|konzentration",
    "carrier": "carrier|solvent|diluent|diluted in|in|losungsmittel|losemittel|trager|solvant",
    "quantity": "parts|part|quantity|qty|amount|weight|mass|share|dose|teile|menge|gewicht|anteil|parties|quantite"
    "|poids",
    "remark": "remark|remarks|note|notes|comment|comments|bemerkung|bemerkungen|notiz|remarque|remarques|what",
}
_KIND = {head: kind for kind, heads in _HEADS.items() for head in heads.split("|")}
UNITS = {
    "g": ("g", 1.0), "gr": ("g", 1.0), "gram": ("g", 1.0), "grams": ("g", 1.0), "gramm": ("g", 1.0), "mg": ("g", 1e-3),
    "kg": ("g", 1e3), "part": ("parts", 1.0), "parts": ("parts", 1.0), "teile": ("parts", 1.0), "%": ("%", 1.0),
    "% w/w": ("%", 1.0), "percent": ("%", 1.0), "prozent": ("%", 1.0), "\u2030": ("\u2030", 1.0),
    "ppt": ("\u2030", 1.0), "per thousand": ("\u2030", 1.0),
}  # fmt: skip
_FRACTIONS = ("fraction", "0..1", "0-1", "0\u20131", "w/w fraction")
_FIGURE = r"[+\-\u2212]?(?:\d[\d.,]*|[.,]\d+)"
_UNIT_WORD = r"mg|kg|grams?|gramm|gr|g|parts?|teile|ml|drops?|tropfen|\u2030|%"
QUANTITY = re.compile(rf"(?P<figure>{_FIGURE})\s*(?P<unit>{_UNIT_WORD})?", re.IGNORECASE)
_LAST = re.compile(rf"(?P<rest>.*\S)[\s:=\u2026_]+(?P<figure>{_FIGURE})\s*(?P<unit>{_UNIT_WORD})?", re.IGNORECASE)
_FIRST = re.compile(
    rf"(?P<figure>{_FIGURE})\s*(?P<unit>mg|kg|grams?|gramm|gr|g|parts?|teile)?\s+(?P<rest>[^\W\d].*)", re.IGNORECASE
)
_DILUTED = re.compile(
    r"(?P<name>.*[^\s(@,])(?:[\s(@]|,\s)+(?P<figure>[\d.,]+)\s*%(?:\s*w/w)?"
    r"(?:\s+(?:in\s+)?(?P<carrier>[^\d\s()%][^()]*?))?\s*\)?",
    re.IGNORECASE,
)
_DILUTED_FIRST = re.compile(
    r"(?P<figure>[\d.,]+)\s*%\s+(?P<name>[^\d\s].*?)(?:\s+in\s+(?P<carrier>.+))?", re.IGNORECASE
)
_DILUTED_IN = re.compile(r"(?P<name>.*\S)\s+(?P<figure>[\d.,]+)\s+in\s+(?P<carrier>[^\d\s].*)", re.IGNORECASE)
_NEAT = re.compile(r"(?P<name>.*[^\s(,])[\s(,]+(?:neat|pure)\)?", re.IGNORECASE)
_TWO_FIGURES = re.compile(r"(?P<name>.*\S)\s+(?P<figure>[\d.,]+)")
# '2,6-nonadienal' holds no separator; outside a regular table '110,5' holds none either.
_LOCANT_COMMA = re.compile(r"(?<=\d),(?=\d+['\u2019]?-[A-Za-z(])")
_INNER_COMMA = re.compile(r"(?<=\d),(?=\d)")
_IS_CSV = re.compile(r"(?<!\d),|,(?!\d)")
_KEPT_COMMA = "\ue000"
# A title may stand above the heads; further down a row of words is a row.
_HEAD_WITHIN = 6


@dataclass(slots=True)
class Column:
    """What one column was taken for."""

    kind: str
    unit: str = ""
    title: str = ""


@dataclass(slots=True)
class Fields:
    """One row on its way: texts by kind, before figures are read."""

    text: str
    whole: str = ""
    name: str = ""
    cas: str = ""
    strength: str = ""
    carrier: str = ""
    quantity: str = ""
    remark: str = ""
    unit: str = ""
    finding: Finding | None = None


def fields_of(text: str) -> tuple[list[Fields], list[Column]]:
    """(each row's fields by kind, the columns they were taken from; none for a plain list)."""
    mark, records = _records(text.replace("\r\n", "\n").replace("\r", "\n").lstrip("\ufeff"))
    at, columns = _heads(records)
    body = [record for place, record in enumerate(records) if place != at]
    if not columns and mark:
        columns = _columns_by_content([cells for _, cells in body])
    return [_sorted(raw, cells, columns) for raw, cells in body], columns


def _records(text: str) -> tuple[str, list[tuple[str, list[str]]]]:
    """(the separator or '', each row that holds anything as (its text, its fields))."""
    mark, kept = _separator(text)
    safe = kept.sub(_KEPT_COMMA, text) if kept else text
    try:
        found = _split(safe, mark or "\t", csv.QUOTE_MINIMAL)
    except csv.Error:
        # a stray inch mark or an unclosed quote would swallow the rows after it
        found = _split(safe, mark or "\t", csv.QUOTE_NONE)
    return mark, [(raw, cells) for raw, cells in found if any(cells)]


def _split(text: str, mark: str, quoting: Literal[0, 3]) -> list[tuple[str, list[str]]]:
    lines = text.split("\n")
    reader = csv.reader(io.StringIO(text), delimiter=mark, quoting=quoting, strict=True)
    found, start = [], 0
    for cells in reader:
        raw = "\n".join(lines[start : reader.line_num]).strip("\n")
        start = reader.line_num
        found.append((_with_commas(raw), [" ".join(_with_commas(cell).split()) for cell in cells]))
    return found


def _with_commas(text: str) -> str:
    return text.replace(_KEPT_COMMA, ",")


def _separator(text: str) -> tuple[str, re.Pattern[str] | None]:
    """(the separator or '', which commas are no separators though it is the comma)."""
    lines = [re.sub(r'"[^"]*"', '""', line) for line in text.split("\n") if line.strip()]
    if any("\t" in line.strip() for line in lines):
        return "\t", None
    if lines and sum(";" in line for line in lines) * 2 >= len(lines):
        return ";", None
    counts = {len(_LOCANT_COMMA.sub("", line).split(",")) for line in lines}
    headed = lines and "," in lines[0] and _heads([("", [cell.strip() for cell in lines[0].split(",")])])[1]
    if headed or (len(lines) > 1 and len(counts) == 1 and all(_IS_CSV.search(line) for line in lines)):
        return ",", _LOCANT_COMMA
    # '110,5' is a decimal comma, 'Lemon oil,110' is not
    if lines and all(_IS_CSV.search(line) for line in lines):
        return ",", _INNER_COMMA
    return "", None


def _heads(records: Sequence[tuple[str, list[str]]]) -> tuple[int | None, list[Column]]:
    """(place of the row of heads, its columns), or (None, []) where there is none."""
    for place, (_, cells) in enumerate(records[:_HEAD_WITHIN]):
        columns = [_head(cell) for cell in cells]
        known = [column for column in columns if column.kind]
        if len(known) >= 2 or (known and len(known) == len([c for c in cells if c]) and len(records) > 1):
            return place, _one_of_each(columns)
    return None, []


def _head(cell: str) -> Column:
    bare = fold(cell)
    match = re.fullmatch(r"(.*?)\s*[(\[]\s*(.*?)\s*[)\]]", bare)
    word, unit = (match[1], match[2]) if match else (bare, "")
    if not match:
        for tail in (*UNITS, *_FRACTIONS):
            if re.fullmatch(rf".+[\s,/]+(in )?{re.escape(tail)}", bare):
                word, unit = re.sub(rf"[\s,/]+(in )?{re.escape(tail)}$", "", bare), tail
    kind = _KIND.get(word, "")
    if not kind and bare in UNITS:
        kind, unit = "quantity", bare
    if kind == "quantity" and not unit and word in UNITS:
        unit = word
    if kind == "strength" and unit in _FRACTIONS:
        unit = "fraction"
    return Column(kind, unit, cell)


def _one_of_each(columns: list[Column]) -> list[Column]:
    """Of several columns of a kind the one that says most: parts before grams before percent; else the first."""
    rank = {"parts": 0, "": 1, "g": 2, "\u2030": 3, "%": 4}

    def unit_rank(column: Column) -> int:
        return rank.get(UNITS.get(column.unit, ("", 1.0))[0], 1)

    best: dict[str, int] = {}
    for place, column in enumerate(columns):
        held = best.get(column.kind)
        own = unit_rank(column)
        better = column.kind == "quantity" and held is not None and own < unit_rank(columns[held])
        if held is None or better:
            best[column.kind] = place
    return [c if best.get(c.kind) == place else Column("", "", c.title) for place, c in enumerate(columns)]


def _columns_by_content(rows: Sequence[Sequence[str]]) -> list[Column]:
    """What each column is, where no heads say so: by what most of its cells look like."""
    width = max((len(cells) for cells in rows), default=0)
    columns = [Column("", "", f"column {place + 1}") for place in range(width)]
    looks = []
    for place in range(width):
        cells = [row[place] for row in rows if place < len(row) and row[place]]
        counts = Counter(_looks_like(cell) for cell in cells)
        # one word among figures is a figure to be mended, one figure among words is a name
        looks.append(max(counts, key=lambda look: (counts[look], look == "figure")) if counts else "")
    words = [place for place, look in enumerate(looks) if look == "words"]
    figures = [place for place, look in enumerate(looks) if look == "figure"]
    percents = [place for place, look in enumerate(looks) if look in ("percent", "dilution")]
    for place in [place for place, look in enumerate(looks) if look == "cas"][:1]:
        columns[place].kind = "cas"
    if words:
        columns[words[0]].kind = "name"
    for place in words[1:]:
        cells = [row[place] for row in rows if place < len(row) and row[place]]
        kind = "carrier" if percents and place == percents[0] + 1 else "remark"
        if all(cell.casefold().startswith("in ") for cell in cells):
            kind = "carrier"
        if kind not in [column.kind for column in columns]:
            columns[place].kind = kind
    if percents and (figures or looks[percents[0]] == "dilution"):
        columns[percents[0]].kind = "strength"
        figures = [place for place in figures if place > percents[0]] or figures
    elif percents:
        columns[percents[0]].kind, columns[percents[0]].unit = "quantity", "%"
    elif len(figures) == 2 and not _proportional(rows, *figures):
        columns[figures[0]].kind = "strength"
        figures = figures[1:]
    if figures:
        columns[figures[0]].kind = "quantity"
    return columns


def _looks_like(cell: str) -> str:
    if re.fullmatch(r"\d{2,7}-\d{2}-\d", cas_numbers.tidy(cell)):
        return "cas"
    if re.fullmatch(rf"{_FIGURE}\s*%", cell):
        return "percent"
    if re.fullmatch(r"neat|pure|[\d.,]+\s*%?\s+in\s+\D.*|[\d.,]+\s*%\s*\D.*", cell, re.IGNORECASE):
        return "dilution"
    return "figure" if QUANTITY.fullmatch(cell) else "words"


def _proportional(rows: Sequence[Sequence[str]], first: int, second: int) -> bool:
    """Whether two columns of figures say the same thing in two units: their ratio is the same on every row."""
    ratios = []
    for row in rows:
        try:
            one, two = (readings_of(row[place])[0] for place in (first, second))
        except (Refused, IndexError):
            continue
        if one and two:
            ratios.append(two / one)
    return len(ratios) > 1 and max(ratios) <= 1.02 * min(ratios)


def _sorted(raw: str, cells: Sequence[str], columns: Sequence[Column]) -> Fields:
    """The cells of one row put to their kinds; what stands in the name's cell beside the name is taken apart."""
    row = Fields(raw)
    if not columns:
        row.whole = " ".join(cell for cell in cells if cell)
    for cell, column in zip(cells, columns, strict=False):
        if column.kind == "name":
            row.whole = cell
        elif column.kind:
            setattr(row, column.kind, cell)
    if len(cells) > len(columns) > 0 and any(cells[len(columns) :]):
        row.finding = Finding("row-too-wide", {"text": " ".join(c for c in cells[len(columns) :] if c)})
    row.name = row.whole
    # 'Total 1000' typed into the name's cell, or a list without columns
    if not row.quantity and not any(column.kind == "quantity" and column.unit for column in columns):
        _take_quantity(row)
    if not row.strength:
        _take_dilution(row, figures_too=not columns)
    return row


def _take_quantity(row: Fields) -> None:
    if QUANTITY.fullmatch(row.name):
        row.name, row.quantity = "", row.name
        return
    match = _LAST.fullmatch(row.name) or _FIRST.fullmatch(row.name)
    if match is None:
        return
    if match["unit"] == "%" and _LAST.fullmatch(match["rest"]) is None:
        # 'Ambroxide 10 %': left to be read as a strength, or as a share where every row says it so
        return
    row.name, row.quantity = match["rest"].rstrip(" :=\u2026_."), match["figure"]
    row.unit = (match["unit"] or "").casefold()


def _take_dilution(row: Fields, figures_too: bool) -> None:
    if match := _NEAT.fullmatch(row.name):
        row.name, row.strength = match["name"], "neat"
        return
    match = _DILUTED_FIRST.fullmatch(row.name) or _DILUTED.fullmatch(row.name) or _DILUTED_IN.fullmatch(row.name)
    if match is None and figures_too and row.quantity:
        match = _TWO_FIGURES.fullmatch(row.name)
    if match is not None:
        groups = match.groupdict()
        row.name, row.strength = groups["name"].strip(), f"{groups['figure']}%"
        row.carrier = row.carrier or (groups.get("carrier") or "").strip()
