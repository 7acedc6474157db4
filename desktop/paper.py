# SPDX-License-Identifier: MIT
"""Paper: parts of a document as rich text, printed or as a PDF that is whole or is not there.

A page that has something to print makes a `Document` of its parts; it is black on white in any theme.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from html import escape
from pathlib import Path
from textwrap import wrap
from uuid import uuid4

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF
from PySide6.QtGui import QPagedPaintDevice, QPageSize, QPainter, QPdfWriter
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from db import Cancelled, Progress
from desktop import wording
from desktop.language import tr
from desktop.paging import SMALL, Document, Pages, Part, Step, page_html
from desktop.session import Session

RESOLUTION, LARGE = 300, 17.0
RULE, EDGE = "border-bottom: 1px solid #b0b0b0;", "border: 1px solid #000000;"
HEAD = "border-bottom: 1px solid #000000;"
ROW = "padding-top: 4px; padding-bottom: 4px; padding-left: 4px; padding-right: 4px;"
TIGHT = "padding-top: 1px; padding-bottom: 1px; padding-left: 4px; padding-right: 4px;"
NO_PRINTER = tr("The printer took nothing, so nothing was printed. See whether it is on, or save a PDF and print that.")
# Letters of a note that stay together; a page holds several times as many.
TOGETHER = 900
# Systems take 255 and a draft's name or a number may come to it.
NAME_BYTES = 200


# parts ------------------------------------------------------------------------------------------------------------------


def head_part(title: str, about: str, more: str = "") -> Part:
    """The title, what it is about, and rich text below them."""
    told = (
        f"<p style='font-size: {LARGE}pt; font-weight: 600; margin: 0px;'>{escape(title)}</p>"
        f"<p style='margin-top: 0px; margin-bottom: 6px;'>{escape(about)}</p>{more}"
    )
    return Part("", (told,))


def facts(named: Sequence[tuple[str, str]]) -> str:
    """Three facts a row, each with its caption; one without a text is a line for the pen."""
    rows = []
    for start in range(0, len(named), 3):
        cells = "".join(
            f"<td width='{width}%' style='{ROW} {RULE}'><span style='font-size: {SMALL}pt;'>{escape(name)}</span><br>"
            f"{escape(text) or '&nbsp;'}</td>"
            for width, (name, text) in zip((33, 34, 33), named[start : start + 3], strict=False)
        )
        rows.append(f"<tr>{cells}</tr>")
    return f"<table width='100%' cellspacing='0' style='border-collapse: collapse;'>{''.join(rows)}</table>"


def cell(text: str, side: str, style: str, width: str = "", *, small: bool = False) -> str:
    """One cell of a table; what was typed by hand in it is escaped."""
    # Qt takes what follows a table into its last cell where that is empty
    told = escape(text) or "&nbsp;"
    told = f"<span style='font-size: {SMALL}pt;'>{told}</span>" if small else told
    wide = f" width='{width}'" if width else ""
    return f"<td{wide}{' align=' + chr(39) + side + chr(39) if side else ''} style='{style}'>{told}</td>"


def section(title: str, *told: str) -> str:
    """A heading with sentences below it."""
    said = "".join(f"<p style='margin-top: 0px; margin-bottom: 0px;'>{escape(text)}</p>" for text in told if text)
    return f"<p style='margin-top: 12px; margin-bottom: 2px; font-weight: 600;'>{escape(title)}</p>{said}"


def table_part(
    heads: Sequence[tuple[str, str, str]], rows: Iterable[str], title: str = "", about: Sequence[str] = (), *, gap: int = 8
) -> Part:
    """A table whose heads (text, width, side), and its title with what it is about, stand again on every page; `rows` are made of
    `cell`s between <tr> and </tr>."""
    told = "".join(cell(name, side, f"{TIGHT} {HEAD}", width, small=True) for name, width, side in heads)
    above = section(title, *about) if title else ""
    style = f"border-collapse: collapse; margin-top: {0 if title else gap}px;"
    return Part(f"{above}<table width='100%' cellspacing='0' style='{style}'><tr>{told}</tr>", tuple(rows), "</table>")


def plain_table(
    heads: Sequence[tuple[str, str, str]], rows: Iterable[Sequence[str]], title: str = "", about: Sequence[str] = ()
) -> Part:
    """A table of texts under (text, width, side) heads."""
    style = f"{TIGHT} {RULE}"
    told = (
        "".join(cell(text, side, style) for text, (_, _, side) in zip(row, heads, strict=True)) for row in rows
    )
    return table_part(heads, (f"<tr>{cells}</tr>" for cells in told), title, about)


def notes_part(notes: Iterable[tuple[str, str]]) -> Part:
    """Notes, each under its name, in pieces that fit a page."""
    rows = tuple(
        f"<tr><td width='15%' style='{TIGHT}'>{escape(name)}</td><td style='{TIGHT}'>{escape(piece)}</td></tr>"
        for name, text in notes
        for piece in pieces(text)
    )
    return Part("<table width='100%' cellspacing='0' style='margin-top: 10px;'>", rows, "</table>")


def pieces(text: str) -> list[str]:
    """A note in pieces that fit a page, broken between words."""
    return [piece for line in text.splitlines() if line.strip() for piece in wrap(line.strip(), TOGETHER)]


def html_of(document: Document) -> str:
    """The whole document on one endless page."""
    return page_html([(part, row) for part in document.parts for row in part.rows])


# a whole document -------------------------------------------------------------------------------------------------------


def pdf_of(document: Document, step: Step = lambda done, of: None) -> bytes:
    """The document as a PDF, its fonts in it; `step` as for `Pages`."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(RESOLUTION)
    writer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    writer.setPageMargins(QMarginsF(0, 0, 0, 0))
    writer.setTitle(document.title)
    writer.setCreator("Stillroom")
    _paint_all(document, writer, step)
    return bytes(buffer.data().data())


def _paint_all(document: Document, device: QPagedPaintDevice, step: Step = lambda done, of: None) -> bool:
    """Paints every page; False where the device takes nothing."""
    painter = QPainter()
    if not painter.begin(device):
        return False
    try:
        pages = Pages(document, device, step)
        for at in range(pages.count):
            if at:
                device.newPage()
            pages.paint(painter, at)
    finally:
        ended = painter.end()
    return ended


def ask_and_print(parent: QWidget, session: Session, document: Document) -> None:
    """Asks for a printer and prints; what came of it is said."""
    from PySide6.QtPrintSupport import QAbstractPrintDialog, QPrintDialog, QPrinter  # only where somebody prints

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    printer.setFullPage(True)
    printer.setDocName(document.title)
    printer.setCreator("Stillroom")
    dialog = QPrintDialog(printer, parent.window())
    dialog.setOption(QAbstractPrintDialog.PrintDialogOption.PrintPageRange, on=False)
    if dialog.exec() != QDialog.DialogCode.Accepted:
        return
    if _paint_all(document, printer):
        session.said.emit(tr("Sent to the printer: {title}.", title=document.title), "done")
    else:
        session.said.emit(NO_PRINTER, "refused")


# writing ----------------------------------------------------------------------------------------------------------------


def put_whole(path: Path, content: bytes) -> None:
    """Writes a file whole or not at all. Raises OSError with the path."""
    draft = path.with_name(f".{path.stem[:40]}-{uuid4().hex[:8]}.part")
    try:
        # only where nothing stands, and with the rights that any new file gets here
        with draft.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    except OSError as fault:
        with suppress(OSError):
            draft.unlink()
        # the name of the draft says nothing to anybody
        raise OSError(fault.errno, fault.strerror, str(path)) from fault


def file_name(*names: str, ending: str = ".pdf") -> str:
    """'T-029 SR-4.pdf': a name that every system takes, cut where it is too long for that."""
    name = " ".join(filter(None, names))
    told = "".join("-" if letter in '<>:"/\\|?*' else letter for letter in name)
    return told.encode()[:NAME_BYTES].decode(errors="ignore").rstrip() + ending


def ask_and_keep(
    parent: QWidget, session: Session, title: str, proposed: str,
    kinds: Sequence[tuple[str, Callable[[Path], Callable[[Progress], None] | None]]],
) -> None:  # fmt: skip
    """Asks where something is to be kept, and as what, and keeps it there; what came of it is said.

    `kinds` are (ending, how it is written to a path), the first for a name without an ending. What a writing
    returns is the long part of it, which is then done beside the screen.
    """
    filters = ";;".join(f"{ending.removeprefix('.').upper()} (*{ending})" for ending, _ in kinds)
    name, chosen = QFileDialog.getSaveFileName(parent.window(), title, proposed, filters)
    if not name:
        return
    by_name = next((kind for kind in kinds if name.casefold().endswith(kind[0])), None)
    by_choice = next((kind for kind in kinds if chosen.casefold().endswith(f"(*{kind[0]})")), kinds[0])
    ending, write = by_name or by_choice
    path = Path(name if by_name else name + ending)

    def tell(fault: object) -> None:
        if isinstance(fault, Cancelled):
            session.said.emit(tr("{name} was cancelled; nothing of it was left.", name=path.name), "note")
        elif isinstance(fault, Exception):
            session.said.emit(wording.fault(fault), "refused")
        else:
            session.said.emit(tr("Saved: {path}.", path=path), "done")

    try:
        rest = write(path)
        if rest is not None and session.work is not None:
            session.work.run(rest, tell, tr("Writing {name}", name=path.name))
            return
        if rest is not None:
            rest(lambda done, of: True)
    except OSError as fault:
        tell(fault)
    else:
        tell(None)
