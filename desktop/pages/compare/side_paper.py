# SPDX-License-Identifier: MIT
"""A comparison kept: as a PDF with both its sides, or its table as CSV or XLSX."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QWidget

from desktop import table_files
from desktop.language import tr
from desktop.models.side import Side
from desktop.pages.compare.smelled_side import SmelledSide
from desktop.paper import Document, ask_and_keep, file_name, head_part, notes_part, pdf_of, plain_table, put_whole
from desktop.session import Session
from desktop.widgets.grid import Grid

CAUTION = tr(
    "Not a safety assessment. Limits, allergens and labels are a matter of your local law and a qualified safety assessor."
)


def keep(parent: QWidget, session: Session, side: Side, grid: Grid, smelled: SmelledSide) -> None:
    """Asks where, and as what."""
    codes = " ".join(version.code for version in side.versions)
    ask_and_keep(
        parent, session, tr("Save the comparison"), file_name(tr("Compare"), codes, ending=""),
        [
            (".pdf", lambda path: put_whole(path, pdf_of(document_of(side, grid, smelled)))),
            (".csv", lambda path: _table(path, grid)),
            (".xlsx", lambda path: _table(path, grid)),
        ],
    )  # fmt: skip


def document_of(side: Side, grid: Grid, smelled: SmelledSide) -> Document:
    """What is printed: the table as it is on screen, the totals, and what the strips say."""
    title = tr("Compare {versions}", versions=", ".join(version.code for version in side.versions))
    columns = [grid.table.columns[grid.table.place_of(key)] for key in grid.shown_columns()]
    columns = [column for column in columns if column.head]
    heads = [(column.head, "" if not column.right else "13%", "right" if column.right else "") for column in columns]
    rows = [
        [grid.table.cell(place, grid.table.place_of(column.key)).strip() for column in columns]
        for place in range(grid.table.rowCount())
    ]
    totals = [("", "", ""), *((version.code, "16%", "right") for version in side.versions)]
    reasons = [(version.code, version.reason) for version in side.versions if version.reason]
    parts = [
        head_part(title, " · ".join(version.name for version in side.versions if version.name)), plain_table(heads, rows),
        plain_table(totals, [(total.name, *total.texts) for total in side.totals], tr("As a whole")),
        notes_part([*reasons, *((tr("strips"), text) for text in smelled.told_all), (tr("cautions"), CAUTION)]),
    ]  # fmt: skip
    return Document(title, title, tuple(parts))


def _table(path: Path, grid: Grid) -> None:
    columns = [grid.table.columns[grid.table.place_of(key)] for key in grid.shown_columns()]
    columns = [column for column in columns if column.head]
    rows = [
        [column.text(row) if column.plain is None else column.plain(row) for column in columns] for row in grid.table.rows
    ]
    table_files.write(path, [column.head for column in columns], rows, "comparison")
