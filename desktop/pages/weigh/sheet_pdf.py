# SPDX-License-Identifier: MIT
"""The sheet of a weighing on paper: before the first drop with boxes for the figures, afterwards with what was read.

`sheet_before` and `sheet_of` gather what stands on it, `document_of` says it as it is printed, `write_sheet` makes the PDF.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape
from pathlib import Path

from PySide6.QtWidgets import QWidget

from db import Book
from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.modes import RUNNING_TOTAL, TARE_EACH
from desktop.models.shown import MODES, shown
from desktop.models.weigh import Plan, PlanRow, taken_up
from desktop.pages.masses import mass_of
from desktop.paper import (
    EDGE,
    ROW,
    RULE,
    Document,
    Part,
    ask_and_keep,
    ask_and_print,
    cell,
    facts,
    file_name,
    head_part,
    notes_part,
    pdf_of,
    plain_table,
    put_whole,
    table_part,
)
from desktop.session import Session
from perfumery import Balance, Bottle, Making, Material, Move, Planned, Project, Refused, Version, compose

CAUTION = tr("Gloves and goggles on, air moving, no flame: as the suppliers' safety data sheets say. Not a safety assessment.")


@dataclass(frozen=True, slots=True)
class Intended:
    """A weighing that has not begun: the plan and what was chosen for it; `tare` as it was typed."""

    version: Version
    plan: Plan
    amount_g: float
    vial: str = ""
    balance: Balance | None = None
    mode: str = TARE_EACH
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
    vial: str
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
        (tr("vial"), meant.vial), (tr("weighed on"), ""), (tr("balance"), _name(meant.balance)),
        (tr("amount"), figures.mass_text(meant.amount_g, step)), (tr("mode"), shown(MODES, meant.mode)),
        (tr("empty vessel"), tare),
    )  # fmt: skip
    missing = [" ".join(filter(None, (row.name, row.stock))) for row in meant.plan.rows if row.bottle is None]
    noted = [wording.sentence(finding) for finding in meant.plan.findings]
    if missing:
        noted.insert(0, tr("No bottle holds {stocks}.", stocks=figures.listed(missing)))
    return Sheet(
        vial=meant.vial,
        title=_title(meant.version, book.next_code(Making, "T-")),
        about=", ".join(filter(None, (meant.version.name, tr("to be weighed; printed {day}", day=figures.day(book.now()))))),
        facts=facts, lines=_lines(meant.plan.rows, {}), step=step, is_running=meant.mode == RUNNING_TOTAL,
        notes=(*_notes(book, meant.version), *((tr("to note"), text) for text in noted)),
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
    code = "" if vial is None else vial.code
    facts = (
        (tr("vial"), code), (tr("weighed on"), figures.moment(ended or standing.started_at)), (tr("balance"), _name(balance)),
        (tr("amount"), figures.mass_text(standing.target_g, step)), (tr("mode"), shown(MODES, standing.mode)),
        (tr("empty vessel"), "" if vial is None or vial.tare_g is None else figures.mass_text(vial.tare_g, step)),
    )  # fmt: skip
    bottles = {key: book.get(Bottle, key) for key in {move.from_bottle for move in moves if move.from_bottle is not None}}
    named = "" if version is None else version.name
    notes = _notes(book, version)
    if standing.remark:
        notes = (*notes, (tr("remark"), standing.remark))
    return Sheet(
        vial=code, title=_title(version, standing.code or code),
        about=", ".join(filter(None, (named, tr("not finished yet") if ended is None else tr("as weighed")))),
        facts=facts, lines=_lines(rows, {key: one for key, one in bottles.items() if one is not None}), step=step,
        is_running=standing.mode == RUNNING_TOTAL, notes=notes,
        weighed=() if ended is None or not moves else _weighed(book, making, version),
    )  # fmt: skip


def _title(version: Version | None, code: str) -> str:
    return " · ".join(filter(None, (None if version is None else version.code, code)))


def _name(balance: Balance | None) -> str:
    return tr("not said") if balance is None else balance.name


def _notes(book: Book, version: Version | None) -> tuple[tuple[str, str], ...]:
    if version is None:
        return ()
    project = book.get(Project, version.project)
    told = ((tr("reason"), version.reason), (tr("brief"), "" if project is None else project.brief))
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


def document_of(sheet: Sheet) -> Document:
    """The sheet as it is printed."""
    parts = [
        head_part(sheet.title, sheet.about, facts(sheet.facts)), _plan_part(sheet),
        notes_part((*sheet.notes, (tr("cautions"), CAUTION))),
    ]  # fmt: skip
    if sheet.weighed:
        parts.append(_weighed_part(sheet.weighed))
    return Document(sheet.title, " · ".join(filter(None, (sheet.title, sheet.vial, sheet.about))), tuple(parts))


def _plan_part(sheet: Sheet) -> Part:
    """The lines with their heads, which stand again on every page, and the totals."""
    read = sheet.read_g
    heads = [
        ("", "5%", ""), (tr("line"), "", ""), (tr("bottle"), "9%", ""), (tr("place"), "7%", ""), (tr("lot"), "12%", ""),
        (tr("target, g"), "10%", "right"),
    ]  # fmt: skip
    if sheet.is_running:
        heads.append((tr("stop at, g"), "10%", "right"))
    heads.append((tr("read, g"), "12%", "right"))
    if read is not None:
        heads.append((tr("difference, g"), "12%", "right"))
    rows = []
    for place, line in enumerate(sheet.lines, 1):
        told = f"<b>{escape(line.name)}</b>" + (f" {escape(line.stock)}" if line.stock else "")
        if line.inside:
            accord = tr("of {accord}", accord=line.inside)
            told += f" <i>{escape(accord)}</i>"
        style = f"{ROW} {RULE}"
        cells = [cell(str(place), "", style), f"<td style='{style}'>{told}</td>"]
        cells += [cell(text, "", style) for text in (line.bottle, line.place, line.lot)]
        cells.append(cell(figures.mass(line.target_g, sheet.step), "right", style))
        if sheet.is_running:
            cells.append(cell(figures.mass(line.stop_g, sheet.step), "right", style))
        cells.append(_figure(line.read_g, sheet.step, style))
        if read is not None:
            cells.append(cell(_off(line.read_g, line.target_g, sheet.step), "right", style))
        rows.append(f"<tr>{''.join(cells)}</tr>")
    count = tr_count(len(sheet.lines), "in all, {n} line", "in all, {n} lines")
    whole = [f"<td style='{ROW}'></td><td colspan='4' style='{ROW}'><b>{escape(count)}</b></td>"]
    whole.append(cell(figures.mass(sheet.target_g, sheet.step), "right", ROW))
    if sheet.is_running:
        whole.append(cell("", "right", ROW))
    whole.append(_figure(read, sheet.step, ROW))
    if read is not None:
        whole.append(cell(_off(read, sheet.target_g, sheet.step), "right", ROW))
    rows.append(f"<tr>{''.join(whole)}</tr>")
    return table_part(heads, rows)


def _figure(read: float | None, step: float, style: str) -> str:
    """A figure, or the empty box for one."""
    if read is None:
        return f"<td style='{ROW} {EDGE}'>&nbsp;</td>"
    return cell(figures.mass(read, step), "right", style)


def _off(read: float | None, target: float, step: float) -> str:
    return "" if read is None else figures.off(read - target, step)


def _weighed_part(rows: tuple[tuple[str, float, float], ...]) -> Part:
    heads = [(tr("material"), "", "")]
    heads += [(name, "18%", "right") for name in (tr("intended, ‰"), tr("as weighed, ‰"), tr("change, %"))]
    told = []
    for name, meant, true in rows:
        change = figures.signed_fixed((true / meant - 1) * 100, 2) if meant else tr("new")
        told.append((name, figures.per_thousand(meant), figures.per_thousand(true), change))
    return plain_table(heads, told, tr("Intended and as weighed"))


# writing ----------------------------------------------------------------------------------------------------------------


def _document(session: Session, what: int | Intended) -> Document:
    """The sheet of a making, or of one that is meant."""
    return document_of(sheet_before(session.book, what) if isinstance(what, Intended) else sheet_of(session.book, what))


def write_sheet(path: Path | str, session: Session, what: int | Intended) -> None:
    """Writes the sheet as a PDF: whole or not at all. Raises OSError with the path."""
    put_whole(Path(path), pdf_of(_document(session, what)))


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
    return file_name(*names)


def ask_sheet(parent: QWidget, session: Session, what: int | Intended) -> None:
    """Asks where the sheet is to be kept and writes it there; what came of it is said."""
    ask_and_keep(
        parent, session, tr("Save the sheet"), proposed_name(session, what),
        [(".pdf", lambda path: write_sheet(path, session, what))],
    )  # fmt: skip


def print_sheet(parent: QWidget, session: Session, what: int | Intended) -> None:
    """Asks for a printer and prints the sheet there; what came of it is said."""
    ask_and_print(parent, session, _document(session, what))
