# SPDX-License-Identifier: MIT
"""The sheet of a weighing on paper: before the first drop with boxes for the figures, afterwards with what was read.

`sheet_before` and `sheet_of` gather what stands on it, `parts_of` says it as rich text, `Pages` lays it out and paints it on any
paper, `write_sheet` makes the PDF. Black on white in any theme: it lies beside the balance.
"""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import groupby
from pathlib import Path
from textwrap import wrap

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPageSize, QPaintDevice, QPainter, QPdfWriter, QPen, QTextDocument
from PySide6.QtWidgets import QFileDialog, QWidget

from db import Book
from desktop import figures, wording
from desktop.models.weigh import Plan, PlanRow, taken_up
from desktop.pages.masses import mass_of
from desktop.session import Session
from perfumery import Balance, Bottle, Making, Material, Move, Planned, Project, Refused, Version, compose

CAUTION = (
    "Gloves and goggles on, air moving, no flame: as the suppliers' safety data sheets say. Not a safety assessment."
)
RESOLUTION, MM_PER_INCH = 300, 25.4
POINTS, SMALL, LARGE = 9.0, 7.5, 17.0
# mm: the paper's own edges; the running head and the page number stand inside them
LEFT_MM, TOP_MM, BOTTOM_MM = 16.0, 18.0, 16.0


@dataclass(frozen=True, slots=True)
class Intended:
    """A weighing that has not begun: the plan and what was chosen for it; `tare` as it was typed."""

    version: Version
    plan: Plan
    amount_g: float
    vial: str = ""
    balance: Balance | None = None
    mode: str = "tare each"
    tare: str = ""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One liquid on the sheet; `stop_g` the total to stop at, `read_g` None while it has no figure."""

    name: str
    stock: str
    inside: str
    bottle: str
    place: str
    lot: str
    target_g: float
    stop_g: float
    read_g: float | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that stands on the paper. A fact without a text is left for the pen."""

    title: str
    about: str
    facts: tuple[tuple[str, str], ...]
    lines: tuple[SheetLine, ...]
    step: float = 0.001
    is_running: bool = False
    notes: tuple[tuple[str, str], ...] = ()
    weighed: tuple[tuple[str, float, float], ...] = ()

    @property
    def target_g(self) -> float:
        """What is meant in all."""
        return math.fsum(line.target_g for line in self.lines)

    @property
    def read_g(self) -> float | None:
        """What was read in all; None before the first figure."""
        read = [line.read_g for line in self.lines if line.read_g is not None]
        return math.fsum(read) if read else None


# gathering --------------------------------------------------------------------------------------------------------------


def sheet_before(book: Book, meant: Intended) -> Sheet:
    """The sheet of a weighing that has not begun: its figures are left for the pen."""
    step = 0.001 if meant.balance is None else meant.balance.d_g
    try:
        tare = figures.mass_text(mass_of(meant.tare), step)
    except Refused:
        tare = ""
    facts = (
        ("vial", meant.vial), ("weighed on", ""), ("balance", _name(meant.balance)),
        ("amount", figures.mass_text(meant.amount_g, step)), ("mode", meant.mode), ("empty vessel", tare),
    )  # fmt: skip
    missing = [" ".join(filter(None, (row.name, row.stock))) for row in meant.plan.rows if row.bottle is None]
    noted = [wording.sentence(finding) for finding in meant.plan.findings]
    if missing:
        noted.insert(0, f"No bottle holds {figures.listed(missing)}.")
    return Sheet(
        title=_title(meant.version, book.next_code(Making, "T-")),
        about=", ".join(filter(None, (meant.version.name, f"to be weighed; printed {figures.day(book.now())}"))),
        facts=facts, lines=_lines(meant.plan.rows, {}), step=step, is_running=meant.mode == "running total",
        notes=(*_notes(book, meant.version), *(("to note", text) for text in noted)),
    )  # fmt: skip


def sheet_of(book: Book, making: int) -> Sheet:
    """The sheet of a weighing that was begun or finished, with every figure read so far."""
    standing = book.get(Making, making)
    assert standing is not None
    moves = book.weighings.poured(making)
    rows = taken_up(book, replace(standing, plan=_all_planned(standing.plan, moves))).rows
    version = None if standing.version is None else book.get(Version, standing.version)
    balance = None if standing.balance is None else book.get(Balance, standing.balance)
    vial = book.get(Bottle, standing.into_bottle)
    step = 0.001 if balance is None else balance.d_g
    ended = standing.finished_at
    facts = (
        ("vial", "" if vial is None else vial.code), ("weighed on", figures.moment(ended or standing.started_at)),
        ("balance", _name(balance)), ("amount", figures.mass_text(standing.target_g, step)), ("mode", standing.mode),
        ("empty vessel", "" if vial is None or vial.tare_g is None else figures.mass_text(vial.tare_g, step)),
    )  # fmt: skip
    bottles = {key: book.get(Bottle, key) for key in {move.from_bottle for move in moves if move.from_bottle is not None}}
    named = "" if version is None else version.name
    notes = _notes(book, version)
    if standing.remark:
        notes = (*notes, ("remark", standing.remark))
    return Sheet(
        title=_title(version, standing.code or ("" if vial is None else vial.code)),
        about=", ".join(filter(None, (named, "not finished yet" if ended is None else "as weighed"))),
        facts=facts, lines=_lines(rows, {key: one for key, one in bottles.items() if one is not None}), step=step,
        is_running=standing.mode == "running total", notes=notes,
        weighed=() if ended is None or not moves else _weighed(book, making, version),
    )  # fmt: skip


def _title(version: Version | None, code: str) -> str:
    return " · ".join(filter(None, (None if version is None else version.code, code)))


def _name(balance: Balance | None) -> str:
    return "not said" if balance is None else balance.name


def _notes(book: Book, version: Version | None) -> tuple[tuple[str, str], ...]:
    if version is None:
        return ()
    project = book.get(Project, version.project)
    told = (("reason", version.reason), ("brief", "" if project is None else project.brief))
    return tuple((name, text) for name, text in told if text.strip())


def _all_planned(plan: Iterable[Planned], moves: Iterable[Move]) -> tuple[Planned, ...]:
    """The plan, and what was poured beside it: weighings from before plans were kept have no other."""
    made = list(plan)
    known = {one.line if one.line is not None else (one.bottle,) for one in made}
    for move in moves:
        mark = move.line if move.line is not None else (move.from_bottle,)
        if mark not in known:
            known.add(mark)
            made.append(Planned(move.target_g or 0.0, move.line, move.from_bottle))
    return tuple(made)


def _lines(rows: Iterable[PlanRow], poured: dict[int, Bottle]) -> tuple[SheetLine, ...]:
    lines, inside = [], 0.0
    for row in rows:
        used = [poured[key] for key in dict.fromkeys(m.from_bottle or 0 for m in row.moves) if key in poured]
        bottles = used or ([] if row.bottle is None else [row.bottle.bottle])
        inside += row.read_g if row.is_done else row.planned.target_g
        lines.append(
            SheetLine(
                row.name, row.stock, row.inside, ", ".join(one.code for one in bottles),
                ", ".join(filter(None, (one.place for one in bottles))), ", ".join(filter(None, (one.lot for one in bottles))),
                row.planned.target_g, inside, row.read_g if row.is_done else None,
            )
        )  # fmt: skip
    return tuple(lines)


def _weighed(book: Book, making: int, version: Version | None) -> tuple[tuple[str, float, float], ...]:
    """(material, intended, as weighed) in per thousand, the largest first; empty where it cannot be told."""
    try:
        true = book.as_weighed(making)
    except Refused:
        return ()
    meant: dict[int, float] = {}
    if version is not None:
        composed = compose(version, book.shelf(version))
        meant = {key: parts / composed.total_parts * 1000 for key, parts in composed.expanded.items()}
    materials = {key: book.get(Material, key) for key in {*meant, *true}}
    names = {key: "" if material is None else material.short for key, material in materials.items()}
    return tuple((names[key], meant.get(key, 0.0), true.get(key, 0.0)) for key in sorted(names, key=lambda k: -true.get(k, 0.0)))


# laying out -------------------------------------------------------------------------------------------------------------

_RULE, _EDGE = "border-bottom: 1px solid #b0b0b0;", "border: 1px solid #000000;"
_HEAD = "border-bottom: 1px solid #000000;"
_ROW = "padding-top: 4px; padding-bottom: 4px; padding-left: 4px; padding-right: 4px;"
_TIGHT = "padding-top: 1px; padding-bottom: 1px; padding-left: 4px; padding-right: 4px;"
# Letters of a note that stay together; a page holds several times as many.
TOGETHER = 900
# More rows than any page can hold.
MOST_ROWS = 120


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the sheet: rows that are never torn, between what opens and closes them on every page they stand on."""

    opens: str
    rows: tuple[str, ...]
    closes: str = ""


def parts_of(sheet: Sheet) -> tuple[Part, ...]:
    """The sheet as rich text, part by part; what was typed by hand in it is escaped."""
    head = (
        f"<p style='font-size: {LARGE}pt; font-weight: 600; margin: 0px;'>{escape(sheet.title)}</p>"
        f"<p style='margin-top: 0px; margin-bottom: 6px;'>{escape(sheet.about)}</p>{_facts(sheet.facts)}"
    )
    notes = [
        f"<tr><td width='12%' style='{_TIGHT}'>{escape(name)}</td><td style='{_TIGHT}'>{escape(piece)}</td></tr>"
        for name, text in (*sheet.notes, ("cautions", CAUTION))
        for piece in _pieces(text)
    ]
    made = [Part("", (head,)), _plan_part(sheet), Part("<table width='100%' cellspacing='0' style='margin-top: 10px;'>",
                                                       tuple(notes), "</table>")]  # fmt: skip
    if sheet.weighed:
        made.append(_weighed_part(sheet.weighed))
    return tuple(made)


def html_of(sheet: Sheet) -> str:
    """The whole sheet on one endless page."""
    parts = parts_of(sheet)
    return _page([(part, row) for part in parts for row in part.rows])


def _page(rows: Sequence[tuple[Part, str]]) -> str:
    """One page of rows, each part opened and closed on it."""
    told = []
    for part, own in groupby(rows, key=lambda pair: pair[0]):
        told.append(f"{part.opens}{''.join(row for _, row in own)}{part.closes}")
    return f"<html><body style='color: #000000;'>{''.join(told)}</body></html>"


def _pieces(text: str) -> list[str]:
    """A note in pieces that fit a page, broken between words."""
    return [piece for line in text.splitlines() if line.strip() for piece in wrap(line.strip(), TOGETHER)]


def _facts(facts: tuple[tuple[str, str], ...]) -> str:
    """Three facts a row, each with its caption; one without a text is a line for the pen."""
    rows = []
    for start in range(0, len(facts), 3):
        cells = "".join(
            f"<td width='{width}%' style='{_ROW} {_RULE}'><span style='font-size: {SMALL}pt;'>{escape(name)}</span><br>"
            f"{escape(text) or '&nbsp;'}</td>"
            for width, (name, text) in zip((33, 34, 33), facts[start : start + 3], strict=False)
        )
        rows.append(f"<tr>{cells}</tr>")
    return f"<table width='100%' cellspacing='0' style='border-collapse: collapse;'>{''.join(rows)}</table>"


def _plan_part(sheet: Sheet) -> Part:
    """The lines with their heads, which stand again on every page, and the totals."""
    read = sheet.read_g
    heads = [("", "5%", ""), ("line", "", ""), ("bottle", "9%", ""), ("place", "7%", ""), ("lot", "12%", ""),
             ("target, g", "10%", "right")]  # fmt: skip
    if sheet.is_running:
        heads.append(("stop at, g", "10%", "right"))
    heads.append(("read, g", "12%", "right"))
    if read is not None:
        heads.append(("difference, g", "12%", "right"))
    head = "".join(_cell(name, side, f"{_TIGHT} {_HEAD}", width, small=True) for name, width, side in heads)
    rows = []
    for place, line in enumerate(sheet.lines, 1):
        told = f"<b>{escape(line.name)}</b>" + (f" {escape(line.stock)}" if line.stock else "")
        if line.inside:
            told += f" <i>of {escape(line.inside)}</i>"
        style = f"{_ROW} {_RULE}"
        cells = [_cell(str(place), "", style), f"<td style='{style}'>{told}</td>"]
        cells += [_cell(text, "", style) for text in (line.bottle, line.place, line.lot)]
        cells.append(_cell(figures.mass(line.target_g, sheet.step), "right", style))
        if sheet.is_running:
            cells.append(_cell(figures.mass(line.stop_g, sheet.step), "right", style))
        cells.append(_figure(line.read_g, sheet.step, style))
        if read is not None:
            cells.append(_cell(_off(line.read_g, line.target_g, sheet.step), "right", style))
        rows.append(f"<tr>{''.join(cells)}</tr>")
    count = figures.count(len(sheet.lines), "line")
    whole = [f"<td style='{_ROW}'></td><td colspan='4' style='{_ROW}'><b>in all, {count}</b></td>"]
    whole.append(_cell(figures.mass(sheet.target_g, sheet.step), "right", _ROW))
    if sheet.is_running:
        whole.append(_cell("", "right", _ROW))
    whole.append(_figure(read, sheet.step, _ROW))
    if read is not None:
        whole.append(_cell(_off(read, sheet.target_g, sheet.step), "right", _ROW))
    rows.append(f"<tr>{''.join(whole)}</tr>")
    opens = f"<table width='100%' cellspacing='0' style='border-collapse: collapse; margin-top: 8px;'><tr>{head}</tr>"
    return Part(opens, tuple(rows), "</table>")


def _cell(text: str, side: str, style: str, width: str = "", *, small: bool = False) -> str:
    told = f"<span style='font-size: {SMALL}pt;'>{escape(text)}</span>" if small else escape(text)
    wide = f" width='{width}'" if width else ""
    return f"<td{wide}{' align=' + chr(39) + side + chr(39) if side else ''} style='{style}'>{told}</td>"


def _figure(read: float | None, step: float, style: str) -> str:
    """A figure, or the empty box for one."""
    if read is None:
        return f"<td style='{_ROW} {_EDGE}'>&nbsp;</td>"
    return _cell(figures.mass(read, step), "right", style)


def _off(read: float | None, target: float, step: float) -> str:
    if read is None:
        return ""
    off = figures.mass(round(read - target, 9), step)
    return off if off.startswith(figures.MINUS) or not off.strip("0.") else f"+{off}"


def _weighed_part(rows: tuple[tuple[str, float, float], ...]) -> Part:
    edge = f"{_TIGHT} {_HEAD}"
    head = "".join(
        _cell(name, side, edge, width, small=True)
        for name, width, side in (("material", "", ""), ("intended, ‰", "18%", "right"), ("as weighed, ‰", "18%", "right"),
                                  ("change, %", "18%", "right"))
    )  # fmt: skip
    style = f"{_TIGHT} {_RULE}"
    told = []
    for name, meant, true in rows:
        change = f"{(true / meant - 1) * 100:+.2f}".replace("-", figures.MINUS) if meant else "new"
        shown = (figures.per_thousand(meant), figures.per_thousand(true), change)
        told.append(f"<tr>{_cell(name, '', style)}{''.join(_cell(text, 'right', style) for text in shown)}</tr>")
    opens = (
        "<p style='margin-top: 12px; margin-bottom: 2px; font-weight: 600;'>Intended and as weighed</p>"
        f"<table width='100%' cellspacing='0' style='border-collapse: collapse;'><tr>{head}</tr>"
    )
    return Part(opens, tuple(told), "</table>")


# painting ---------------------------------------------------------------------------------------------------------------


class Pages:
    """A sheet laid out for the paper of a device, A4 in portrait; no row of it is torn between two pages."""

    def __init__(self, sheet: Sheet, device: QPaintDevice) -> None:
        self._sheet = sheet
        self._device = device
        self._per_mm = device.logicalDpiX() / MM_PER_INCH
        paper = QPageSize(QPageSize.PageSizeId.A4).size(QPageSize.Unit.Millimeter)
        self._width = (paper.width() - 2 * LEFT_MM) * self._per_mm
        self._height = (paper.height() - TOP_MM - BOTTOM_MM) * self._per_mm
        self.documents: list[QTextDocument] = []
        rows = [(part, row) for part in parts_of(sheet) for row in part.rows]
        while rows:
            fits = self._fitting(rows)
            self.documents.append(self._laid_out(rows[:fits]))
            rows = rows[fits:]

    @property
    def count(self) -> int:
        """How many pages it takes."""
        return len(self.documents)

    def _fitting(self, rows: Sequence[tuple[Part, str]]) -> int:
        """How many of these rows one page holds; at least one."""
        low, high = 1, min(len(rows), MOST_ROWS)
        while low < high:
            middle = (low + high + 1) // 2
            if self._laid_out(rows[:middle]).size().height() <= self._height:
                low = middle
            else:
                high = middle - 1
        return low

    def _laid_out(self, rows: Sequence[tuple[Part, str]]) -> QTextDocument:
        document = QTextDocument()
        document.documentLayout().setPaintDevice(self._device)
        document.setDocumentMargin(0)
        document.setDefaultFont(_font(POINTS))
        document.setHtml(_page(rows))
        document.setTextWidth(self._width)
        return document

    def paint(self, painter: QPainter, at: int) -> None:
        """Paints one page, counted from 0, whose paper begins at the painter's origin."""
        per_mm = self._per_mm
        painter.save()
        painter.translate(LEFT_MM * per_mm, TOP_MM * per_mm)
        self.documents[at].drawContents(painter)
        painter.restore()
        painter.save()
        painter.setFont(_font(SMALL))
        painter.setPen(QPen(QColor(Qt.GlobalColor.black)))
        left, band = LEFT_MM * per_mm, 5 * per_mm
        if at:
            above = QRectF(left, (TOP_MM - 8) * per_mm, self._width, band)
            painter.drawText(above, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), self._running_head())
        below = QRectF(left, TOP_MM * per_mm + self._height + 4 * per_mm, self._width, band)
        side = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(below, side, f"page {at + 1} of {self.count}")
        painter.restore()

    def _running_head(self) -> str:
        vial = dict(self._sheet.facts).get("vial", "")
        return " · ".join(filter(None, (self._sheet.title, vial, self._sheet.about)))


def _font(points: float) -> QFont:
    """The system's own font at a size of the paper."""
    font = QFont(QGuiApplication.font().family())
    font.setPointSizeF(points)
    return font


def pdf_of(sheet: Sheet) -> bytes:
    """The sheet as a PDF, its fonts in it."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(RESOLUTION)
    writer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    writer.setPageMargins(QMarginsF(0, 0, 0, 0))
    writer.setTitle(sheet.title)
    writer.setCreator("Stillroom")
    pages = Pages(sheet, writer)
    painter = QPainter(writer)
    for at in range(pages.count):
        if at:
            writer.newPage()
        pages.paint(painter, at)
    painter.end()
    return bytes(buffer.data().data())


# writing ----------------------------------------------------------------------------------------------------------------


def write_sheet(path: Path | str, session: Session, what: int | Intended) -> None:
    """Writes the sheet of a making, or of one that is meant, as a PDF: whole or not at all. Raises OSError with the path."""
    sheet = sheet_before(session.book, what) if isinstance(what, Intended) else sheet_of(session.book, what)
    _put_whole(Path(path), pdf_of(sheet))


def _put_whole(path: Path, content: bytes) -> None:
    draft = ""
    try:
        handle, draft = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(draft, 0o666 & ~_umask())
        os.replace(draft, path)
    except OSError as fault:
        if draft:
            Path(draft).unlink(missing_ok=True)
        # the name of the draft says nothing to anybody
        raise OSError(fault.errno, fault.strerror, str(path)) from fault


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def proposed_name(session: Session, what: int | Intended) -> str:
    """'T-029 SR-4.pdf'."""
    book = session.book
    if isinstance(what, Intended):
        names = (book.next_code(Making, "T-"), what.version.code)
    else:
        making = book.get(Making, what)
        vial = None if making is None else book.get(Bottle, making.into_bottle)
        version = None if making is None or making.version is None else book.get(Version, making.version)
        code = (making and making.code) or ("" if vial is None else vial.code)
        names = (code, "" if version is None else version.code)
    name = " ".join(filter(None, names))
    return "".join("-" if letter in '<>:"/\\|?*' else letter for letter in name) + ".pdf"


def ask_sheet(parent: QWidget, session: Session, what: int | Intended) -> None:
    """Asks where the sheet is to be kept and writes it there; what came of it is said."""
    name, _ = QFileDialog.getSaveFileName(parent, "Save the sheet", proposed_name(session, what), "PDF (*.pdf)")
    if not name:
        return
    path = name if name.casefold().endswith(".pdf") else f"{name}.pdf"
    try:
        write_sheet(path, session, what)
    except OSError as fault:
        session.said.emit(wording.fault(fault), "refused")
    else:
        session.said.emit(f"Saved: {path}.", "done")
