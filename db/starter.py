# SPDX-License-Identifier: MIT
"""The materials and smell words a new book can begin with, read from resources into values.

Every physical datum says where it came from and how well it is known: measured, estimated, from memory, or no word at all
where the source does not tell.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from io import StringIO
from typing import TYPE_CHECKING

import resources
from perfumery import Material, Property, Value, Word
from perfumery.text import fold

if TYPE_CHECKING:
    from db.book import Book

BENCH_NAME_MAX = 24
MEASURED, ESTIMATED, FROM_MEMORY = "measured", "estimated", "from memory"

# (kind, column of the figure, column of its source)
_FIGURES = (
    ("boiling_point_c", "bp_C", "bp_source"),
    ("melting_point_c", "mp_C", "mp_source"),
    ("density_kg_m3", "density_kg_m3", "density_source"),
    ("vapour_pressure_pa", "vapour_pressure_25C_Pa", "vapour_pressure_source"),
    ("flash_point_c", "flash_point_C", "flash_point_source"),
    ("log_kow", "log_kow", "log_kow_source"),
    ("odour_threshold_ug_m3", "odour_threshold_ug_m3", "odour_threshold_source"),
)
# Collections of experimental values. Others (Wikidata, the DIPPR flash points) do not say how a value was found.
_MEASURED = (
    "CRC", "EPI Suite exp", "EPI Suite EXP", "EPI KOWWIN experimental", "CAS Common Chemistry", "NIST", "IEC", "NFPA",
    "Landolt", "Perry", "Abraham", "median of all listed",
)  # fmt: skip
_ESTIMATED = ("EXTRAPOLATED", "EPI Suite EXT")
_FORM_WORDS = ("absolute", "resinoid", "oil")
# What stands before the first letter that takes a capital: numbers, Greek letters, descriptors of the isomer.
_LEADING = re.compile(r"(?:(?:[\d,]+|d|l|o|m|p|cis|trans|tert|alpha|beta|gamma|omega)-)*")
_STEREO = re.compile(r"\((?:\d*[rsez])(?:,\d*[rsez])*\)")
_INDICATED_HYDROGEN = re.compile(r"\b\d+h(?=-)")
# Synonyms in the list that are INCI names.
_INCI = ("aqua", "triacetin", "ethoxydiglycol", "hexyl cinnamal", "amyl cinnamal")


def starter_materials() -> tuple[Material, ...]:
    """The starting materials, neat, without smell words: those are the perfumer's own."""
    rows = csv.DictReader(StringIO(resources.read_text("materials.csv")))
    return tuple(_material(row) for row in rows)


def starter_words(new_key: Callable[[], int] | None = None) -> tuple[Word, ...]:
    """The starting smell words. A family that is a smell word itself, such as woody, stands in its own group.

    Synonyms point to their word by key, so they come only where `new_key` gives keys.
    """
    lists = json.loads(resources.read_text("words.json"))
    words: dict[str, Word] = {}
    for group, texts in lists["groups"].items():
        for text in (group, *texts) if group.isalpha() else texts:
            words[text] = Word(text=text, group=group, key=new_key() if new_key else None)
    synonyms = []
    if new_key:
        for text, same in lists["synonyms"].items():
            synonyms.append(Word(text=text, group=words[same].group, same_as=words[same].key, key=new_key()))
    return (*words.values(), *synonyms)


def add_starter(book: Book) -> tuple[Value, ...]:
    """Puts the starting materials and words the book has not got yet, as one undo step; returns what was put.

    A material is in the book when its CAS number, its name or its bench name is.
    """
    known = {name for m in book.all(Material) for name in (m.cas, fold(m.name), fold(m.bench_name)) if name}
    wanted = [m for m in starter_materials() if known.isdisjoint((m.cas, fold(m.name)))]
    in_force = {fold(word.text): word for word in book.all(Word)}
    new: list[Value] = [*wanted, *_missing_words(book, in_force)]
    return book.put(*new, what="starter materials") if new else ()


def _missing_words(book: Book, in_force: dict[str, Word]) -> list[Word]:
    """The starting words not in the book; a synonym of a word that was there all along points to that one."""
    words = starter_words(book.new_key)
    standing = {word.key: in_force.get(word.text, word).key for word in words}
    missing = []
    for word in words:
        if word.text not in in_force:
            same = None if word.same_as is None else standing[word.same_as]
            missing.append(Word(text=word.text, group=word.group, same_as=same, key=word.key))
    return missing


def _material(row: dict[str, str]) -> Material:
    """One row of the list as a value."""
    synonyms = _synonyms(row)
    inci = next((name for name in synonyms if name in _INCI), "")
    return Material(
        name=_capital(row["name"]),
        cas=row["cas"],
        form=_form(row),
        is_carrier=row["kind"] == "solvent",
        bench_name=_bench_name(row, synonyms),
        inci=_capital(inci),
        botanical=_botanical(row),
        synonyms=tuple(name for name in synonyms if name != inci),
        properties=tuple(_properties(row)),
    )


def _capital(name: str) -> str:
    """A name as it stands at the head of a line: cis-3-hexenol becomes cis-3-Hexenol."""
    lead = _LEADING.match(name)
    at = lead.end() if lead else 0
    return name[:at] + name[at : at + 1].upper() + name[at + 1 :]


def _synonyms(row: dict[str, str]) -> tuple[str, ...]:
    """The other names, the systematic one last; none twice."""
    names = [name.strip() for name in row["synonyms"].split(";") if name.strip()]
    if row["iupac"]:
        systematic = _STEREO.sub(lambda m: m[0].upper(), row["iupac"])
        names.append(_INDICATED_HYDROGEN.sub(lambda m: m[0].upper(), systematic))
    kept: dict[str, str] = {fold(row["name"]): ""}
    for name in names:
        kept.setdefault(fold(name), name)
    return tuple(name for name in kept.values() if name)


def _bench_name(row: dict[str, str], synonyms: tuple[str, ...]) -> str:
    """The name itself where it is short, else the first synonym that is; never a name cut off."""
    names = (row["name"], *(synonyms if row["kind"] != "natural" else ()))
    return next((_capital(name) for name in names if len(name) <= BENCH_NAME_MAX), "")


def _botanical(row: dict[str, str]) -> str:
    """Genus and species of a natural material: the list writes it as 'Citrus limon peel oil'."""
    if row["kind"] != "natural":
        return ""
    latin = row["synonyms"].split(";")[-1].split()
    return " ".join(latin[:2]) if len(latin) > 2 else latin[0]


def _state(row: dict[str, str]) -> str:
    """The state at 25 °C, '' where the list draws it from a melting point it does not give."""
    return "" if row["state_source"] == "from mp_C" and not row["mp_C"] else row["state_25C"]


def _form(row: dict[str, str]) -> str:
    """The row's form in the words of FORMS."""
    if row["kind"] == "solvent":
        return "solvent"
    if row["kind"] == "natural":
        word = next(word for word in _FORM_WORDS if word in row["name"])
        return "essential oil" if word == "oil" else word
    return {"solid": "crystals", "viscous": "viscous liquid"}.get(_state(row), "liquid")


def _properties(row: dict[str, str]) -> list[Property]:
    """What the row tells beyond names, each with source or basis."""
    checked = row["identity_checked_against"]
    basis = "" if checked else FROM_MEMORY
    made = [Property(kind, text=row[kind], source=checked, basis=basis) for kind in ("formula", "smiles") if row[kind]]
    if row["molar_mass_g_mol"]:
        value = float(row["molar_mass_g_mol"])
        made.append(Property("molar_mass_g_mol", value=value, source="calculated from the formula"))
    if _state(row):
        derived = row["state_source"] == "from mp_C"
        source, basis = ("from the melting point", ESTIMATED) if derived else ("", FROM_MEMORY)
        made.append(Property("state", text=_state(row), source=source, basis=basis))
    for kind, column, source_column in _FIGURES:
        if row[column]:
            extra = row["vapour_pressure_basis"] if kind == "vapour_pressure_pa" else ""
            made.append(_figure(kind, float(row[column]), row[source_column], extra))
    if row["note_class_from_memory"]:
        made.append(Property("note class", text=row["note_class_from_memory"], basis=FROM_MEMORY))
    return made


def _figure(kind: str, value: float, source: str, extra: str) -> Property:
    """A figure with its source; `extra` is the list's own word on how a vapour pressure was reached."""
    if source == FROM_MEMORY:
        return Property(kind, value=value, basis=FROM_MEMORY)
    if extra not in ("", "source value"):
        return Property(kind, value=value, source=f"{extra}; {source}", basis=ESTIMATED)
    if any(mark in source for mark in _ESTIMATED):
        return Property(kind, value=value, source=source, basis=ESTIMATED)
    return Property(kind, value=value, source=source, basis=MEASURED if any(m in source for m in _MEASURED) else "")
