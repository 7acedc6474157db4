# SPDX-License-Identifier: MIT
"""Materials and formulas to and from tables that other programs open: chosen, written, and read as they are shown first."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QFileDialog, QWidget

from db import Progress
from desktop import table_files
from desktop.language import tr, tr_count
from desktop.paper import ask_and_keep, file_name
from desktop.session import Session
from desktop.table_files import TableFile
from perfumery import Material, Shelf, Version, resolved
from perfumery.materials_table import TITLES, rows_of

FORMULA_TITLES = ("material", "CAS", "strength", "carrier", "parts", "remark")
_FILTER = tr("Tables") + " (*.csv *.tsv *.txt *.xlsx *.xlsm)"


def ask_file(parent: QWidget, title: str, folder: Path) -> Path | None:
    """The table somebody chooses; None where nobody did."""
    name, _ = QFileDialog.getOpenFileName(parent.window(), title, str(folder), _FILTER)
    return Path(name) if name else None


def ask_and_export(
    parent: QWidget, session: Session, title: str, proposed: str, head: tuple[str, ...], rows: Callable[[], Any],
    cells: Callable[[Any], Any] = lambda read: read,
) -> None:  # fmt: skip
    """Asks where rows are to be kept, as CSV or XLSX, and keeps them there; `cells` makes them beside the screen of what was
    read."""

    def write(path: Path) -> Callable[[Progress], None]:
        read = list(rows())
        return lambda progress: table_files.write(path, head, cells(read), progress=progress)

    ask_and_keep(parent, session, title, file_name(proposed, ending=""), [(".csv", write), (".xlsx", write)])


def export_materials(parent: QWidget, session: Session) -> None:
    """Every material of the book, retired ones too, as a table that reads back the same."""
    ask_and_export(
        parent, session, tr("Export the materials"), tr("Materials"), TITLES, lambda: session.book.all(Material), rows_of
    )


def export_formula(parent: QWidget, session: Session) -> None:
    """The lines of the version on screen as a table that reads back as the same lines."""
    version = session.version
    if version is not None:
        shelf = session.book.shelf(version)
        ask_and_export(
            parent, session, tr("Export the formula"), version.code, FORMULA_TITLES, lambda: formula_rows(version, shelf)
        )


def formula_rows(version: Version, shelf: Shelf) -> list[tuple[str | float, ...]]:
    """Each line under `FORMULA_TITLES`: an accord by its code, strengths in percent, what fills up marked as such."""
    rows: list[tuple[str | float, ...]] = []
    for line in resolved(version):
        material = None if line.material is None else shelf.materials[line.material]
        carrier = None if line.carrier is None else shelf.materials[line.carrier]
        accord = None if line.accord is None else shelf.accords[line.accord]
        strength = "accord" if accord is not None else "" if line.strength == 1 else f"{line.strength * 100:.12g} %"
        rows.append(
            (
                accord.code if accord is not None else material.name if material is not None else "",
                "" if material is None else material.cas,
                ", ".join(filter(None, (strength, "fills up" if line.fill_up else ""))),
                "" if carrier is None else carrier.name,
                float(f"{line.parts:.12g}"),
                line.remark,
            )
        )
    return rows


def as_pasted(table: TableFile) -> str:
    """A table as the text that is pasted from a spreadsheet: the paste's own preview then asks what is not clear."""
    plain = (("\t".join(" ".join(cell.split()) for cell in row)) for row in table.rows)
    return "\n".join(plain) + "\n"


def told(tables: tuple[TableFile, ...], path: Path, *, heads: bool = False) -> str:
    """What was read, in a sentence; `heads` where the first row of each table is its headings and is no row of it."""
    rows = sum(len(table.rows) - heads for table in tables)
    return tr_count(rows, "{name}: {n} row read.", "{name}: {n} rows read.", name=path.name)
