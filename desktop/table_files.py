# SPDX-License-Identifier: MIT
"""Tables in files, as spreadsheets keep them: CSV in whatever encoding and with whatever mark, and XLSX; rows of plain text.

What is written reads back the same, and no text of it is taken for a formula by a spreadsheet. openpyxl is imported when an
XLSX file is read or written.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from db import Cancelled, Progress
from desktop import figures
from desktop.language import tr
from perfumery.cells import as_typed, inert

READ = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm")
MOST_BYTES = 20_000_000
MOST_ROWS = 50_000
AT_ONCE = 100
_MARKS = ("\t", ";", ",", "|")
WESTERN = tr("Western European (Windows-1252)")


class UnreadTable(Exception):
    """A file that is no table: the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class TableFile:
    """One table of a file: `name` of the sheet ('' in a CSV), rows of text as long as the longest, and what should be said about
    how it was read."""

    name: str
    rows: tuple[tuple[str, ...], ...]
    remark: str = ""


def read(path: Path) -> tuple[TableFile, ...]:
    """The tables of a file, those of an XLSX in its order, empty ones left out. Raises UnreadTable, OSError."""
    if path.stat().st_size > MOST_BYTES:
        size = figures.file_size(MOST_BYTES)
        raise UnreadTable(tr("{name} is larger than {size}. Save only the rows that are wanted.", name=path.name, size=size))
    kept = path.read_bytes()
    tables = _sheets(path, kept) if kept[:4] == b"PK\x03\x04" else (_text_table(path, kept),)
    found = tuple(table for table in tables if table.rows)
    if not found:
        raise UnreadTable(
            tr("{name} holds no rows. Choose a file with a row of headings and rows below it.", name=path.name)
        )
    return found


def _text_table(path: Path, kept: bytes) -> TableFile:
    if kept[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise UnreadTable(
            tr("{name} is a spreadsheet of an old kind (.xls). Save it as .xlsx or .csv, and choose that.", name=path.name)
        )
    text, remark = _decoded(kept)
    if "\0" in text:
        raise UnreadTable(
            tr("{name} is not a table of text. Save it as .csv or .xlsx, and choose that.", name=path.name)
        )
    csv.field_size_limit(MOST_BYTES)
    rows = [[as_typed(cell.strip(" \r\n")) for cell in row] for row in csv.reader(io.StringIO(text), delimiter=mark_of(text))]
    return TableFile("", _even(rows, path), remark)


def _decoded(kept: bytes) -> tuple[str, str]:
    """(text, what to say of the encoding): by its mark, else UTF-8, else what old spreadsheets of the West write."""
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if kept.startswith(mark):
            return kept.decode(encoding, errors="replace"), ""
    try:
        return kept.decode("utf-8"), ""
    except UnicodeDecodeError:
        said = tr(
            "Read as {writing}, because it is not UTF-8. If letters with accents look wrong, save the file as UTF-8.",
            writing=WESTERN,
        )
        return kept.decode("cp1252", errors="replace"), said


def mark_of(text: str) -> str:
    """The mark that keeps cells apart: the one that most rows have equally often, outside quotes."""
    lines = [line for line in text.splitlines()[:40] if line.strip()]

    def score(mark: str) -> tuple[float, int]:
        counts = [len(row) - 1 for row in csv.reader(lines, delimiter=mark)]
        usual = max(set(counts), key=lambda n: (counts.count(n), n), default=0)
        return (counts.count(usual) / max(len(counts), 1) if usual else 0.0, usual)

    return max(_MARKS, key=score)


def _sheets(path: Path, kept: bytes) -> tuple[TableFile, ...]:
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        # figures that a formula gave come as they were last worked out
        book = load_workbook(io.BytesIO(kept), read_only=True, data_only=True)
        return tuple(
            TableFile(sheet.title, _even([[_cell(value) for value in row] for row in sheet.iter_rows(values_only=True)], path))
            for sheet in book.worksheets
        )
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, TypeError, SyntaxError) as fault:
        said = tr("{name} is not a whole spreadsheet. Open it where it was made, and save it as .xlsx again.", name=path.name)
        raise UnreadTable(said) from fault


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time().isoformat() == "00:00:00" else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    return as_typed(str(value).strip(" \r\n"))


def _even(rows: Iterable[Sequence[str]], path: Path) -> tuple[tuple[str, ...], ...]:
    """The rows without empty ones, all as long as the longest that says something."""
    kept = [row for row in rows if any(row)]
    if len(kept) > MOST_ROWS:
        raise UnreadTable(
            tr("{name} has more than {rows} rows. Save only those that are wanted.", name=path.name, rows=MOST_ROWS)
        )
    width = max((max(at for at, cell in enumerate(row, 1) if cell) for row in kept), default=0)
    return tuple((*row[:width], *("",) * (width - len(row))) for row in map(tuple, kept))


def write(
    path: Path, head: Sequence[str], rows: Iterable[Sequence[str | float | int | None]], sheet: str = "Stillroom", *,
    progress: Progress = lambda done, of: True,
) -> None:  # fmt: skip
    """Writes a table, as XLSX where the path ends so, else as CSV in UTF-8 with commas and points. Raises OSError, Cancelled.

    The file is whole or it is not there: it is written beside its place and moved in.
    """
    partial = path.with_name(f".{path.name}.part")

    of = len(rows) if isinstance(rows, Sequence) else 0

    def counted() -> Iterator[Sequence[str | float | int | None]]:
        for place, row in enumerate(rows):
            if not place % AT_ONCE and not progress(place, of):
                raise Cancelled(path)
            yield row

    try:
        if path.suffix.casefold() == ".xlsx":
            _write_sheet(partial, head, counted(), sheet)
        else:
            # the mark tells spreadsheets that it is UTF-8
            with partial.open("w", encoding="utf-8-sig", newline="") as file:
                writer = csv.writer(file)
                writer.writerow(map(inert, head))
                writer.writerows([inert(cell) if isinstance(cell, str) else _plain(cell) for cell in row] for row in counted())
        partial.replace(path)
    except OSError as fault:
        # the name of the draft says nothing to anybody
        raise OSError(fault.errno, fault.strerror, str(path)) from fault
    finally:
        partial.unlink(missing_ok=True)


def _plain(cell: float | int | None) -> str:
    return "" if cell is None else repr(cell)


def _write_sheet(path: Path, head: Sequence[str], rows: Iterable[Sequence[str | float | int | None]], sheet: str) -> None:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    page = book.create_sheet(sheet[:31])
    page.freeze_panes = "A2"

    def cell(value: str | float | int | None) -> Any:
        if not isinstance(value, str):
            return value
        made = WriteOnlyCell(page, ILLEGAL_CHARACTERS_RE.sub("", inert(value)))
        made.data_type = "s"
        return made

    page.append([cell(name) for name in head])
    try:
        for row in rows:
            page.append([cell(value) for value in row])
    except Cancelled:
        page.close()
        raise
    # whole before the disk is touched: what it is made with cannot be broken off cleanly where there is no room
    made = io.BytesIO()
    book.save(made)
    path.write_bytes(made.getbuffer())
