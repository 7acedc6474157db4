# SPDX-License-Identifier: MIT
"""Materials from a file as they were understood, before any of them goes into the book."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QObject

from desktop import figures, wording
from desktop.columns import Column
from desktop.language import tr
from desktop.models.forms import form_text
from desktop.models.table import TableModel
from desktop.table_files import TableFile
from perfumery import Material
from perfumery.materials_table import HEADINGS, Imported, guessed, is_data, reading

LEAVE = tr("left out")
# {field of a material: what it is called}, as the heading of a file names it in English
FIELDS = {
    "name": tr("name"), "bench_name": tr("bench name"), "cas": "CAS", "form": tr("form"), "is_carrier": tr("carrier"),
    "inci": "INCI", "botanical": tr("botanical name"), "synonyms": tr("synonyms"), "words": tr("smell words"),
    "retest_months": tr("re-test months"), "storage": tr("storage"), "properties": tr("data"), "retired_on": tr("retired"),
}  # fmt: skip
CHOICES: tuple[tuple[str, str], ...] = ((LEAVE, ""), *((FIELDS[heading.field], heading.field) for heading in HEADINGS))
SAMPLES = 3


@dataclass(frozen=True, slots=True)
class FileColumn:
    """One column of the file: its heading, what stands in it first, and the field it is taken for ('' left out)."""

    place: int
    title: str
    sample: str
    field: str


def file_columns(table: TableFile) -> list[FileColumn]:
    """The columns of a table with what each is guessed to be."""
    head, *rows = table.rows
    fields = guessed(head)
    found = []
    for place, title in enumerate(head):
        texts = [row[place] for row in rows if row[place]][:SAMPLES]
        is_other = fields[place] == "properties" and not any(map(is_data, texts))
        name = title or tr("column {number}", number=place + 1)
        found.append(FileColumn(place, name, " · ".join(texts), "" if is_other else fields[place]))
    return found


def understood(table: TableFile, fields: Sequence[str], known: Sequence[Material]) -> Iterator[Imported]:
    """The rows below the headings as they are understood with these fields, one at a time."""
    return reading(table.rows[1:], fields, known)


def outcome(row: Imported) -> str:
    """What taking a row would do: 'new', 'fills CAS, words', 'nothing new', or why it cannot be taken."""
    if row.findings:
        return wording.sentences(row.findings)
    if row.is_twice:
        return tr("an earlier row has this name")
    if row.standing is None:
        return tr("new") if row.beside is None else tr("new, with the CAS number of {material}", material=row.beside.short)
    assert row.material is not None
    filled = [
        title for field, title in FIELDS.items()
        if getattr(row.material, field) != getattr(row.standing, field) and not (row.synonym and field == "synonyms")
    ]  # fmt: skip
    if row.synonym and filled:
        return tr(
            "keeps “{name}” as a synonym, fills {fields}", name=row.synonym, fields=figures.listed(filled, most=5)
        )  # fmt: skip
    if row.synonym:
        return tr("keeps “{name}” as a synonym", name=row.synonym)
    return tr("fills {fields}", fields=figures.listed(filled, most=5)) if filled else tr("in the book already, nothing to add")


def taken(rows: Sequence[Imported], *, fill: bool) -> list[Material]:
    """The materials that would be put: new ones, and with `fill` those that gain something."""
    found: dict[int, Material] = {}
    for row in rows:
        if row.material is None or row.is_twice:
            continue
        if row.standing is None or (fill and row.material != row.standing):
            # the last of the rows that fill one material holds what the others do
            found[-row.number if row.material.key is None else row.material.key] = row.material
    return list(found.values())


COLUMNS: tuple[Column[Imported], ...] = (
    Column("number", tr("row"), lambda row: str(row.number), 44, right=True),
    Column("name", tr("name"), lambda row: row.material.name if row.material else row.name, 200),
    Column("cas", "CAS", lambda row: row.material.cas if row.material else "", 90),
    Column("form", tr("form"), lambda row: form_text(row.material.form) if row.material else "", 100),
    Column("outcome", tr("what happens"), outcome, 260),
)


class ImportedModel(TableModel[Imported]):
    """Read only; rows that cannot be read first in sight by their tone."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: Imported) -> int:
        """The row of the file."""
        return row.number

    def tone(self, row: Imported, column: Column[Imported]) -> str:
        """Brick what cannot be taken, quiet what changes nothing."""
        if row.findings:
            return "brick" if column.key == "outcome" else "quiet"
        changes = not row.is_twice and row.material != row.standing
        return "ink" if changes else "quiet"

    def tip(self, row: Imported, column: Column[Imported]) -> str:
        """The row as it stands in the file; what forbids it may be longer than its cell."""
        told = " · ".join(cell for cell in row.cells if cell)
        return "\n".join((outcome(row), told)) if row.findings else told
