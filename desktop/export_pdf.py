# SPDX-License-Identifier: MIT
"""The book on paper, for the export: the shelf in one PDF, each project in one of its own, readable without any program of ours.

A project's paper holds what a perfumer would look for years later: every version with its reason and lines, every weighing
with the bottles it came from, every strip with what was read, what was decided and why, and the notes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from html import escape
from pathlib import Path

from db import Book, Cancelled, Progress
from desktop import figures
from desktop.language import tr
from desktop.models.bottles import shelf_rows as rows_of_shelf
from desktop.models.bottles import strength_text
from desktop.models.forms import form_text
from desktop.models.log import COLUMNS as LOG
from desktop.models.log import log_rows
from desktop.models.shown import MODES, STRIPS, VERSIONS, shown
from desktop.models.strips import StripCard, StripsModel, caption, figures_line
from desktop.models.tree import state_of
from desktop.models.weighed import by_line
from desktop.paper import Document, Part, facts, file_name, head_part, notes_part, pdf_of, pieces, plain_table, section
from perfumery import Balance, Bottle, Decision, Making, Material, Note, Project, Shelf, Strip, Version, compose, resolved
from perfumery.text import fold

CAUTION = tr(
    "Not a safety assessment. Limits, allergens and labels are a matter of your local law and a qualified safety assessor."
)
FOLDER = "paper"
# Each paper is told of in so many steps.
_FINE = 1000
# {column of a strip's log: its width}
_LOG = {"elapsed": "11%", "read": "15%", "intensity": "5%", "distance": "5%", "liking": "5%", "words": "26%", "note": "21%",
        "mark": ""}  # fmt: skip


def papers(book: Book, now: datetime) -> Iterator[tuple[str, Callable[[], Document]]]:
    """(file name, how its document is made) of every PDF, one after the other."""
    yield file_name(tr("Shelf")), lambda: shelf_document(book, now)
    taken = {file_name(tr("Shelf")).casefold()}
    for project in book.all(Project):
        stem, number = file_name(project.code, project.name, ending=""), 2
        name = f"{stem}.pdf"
        while name.casefold() in taken:
            name, number = f"{stem} {number}.pdf", number + 1
        taken.add(name.casefold())
        yield name, lambda project=project: project_document(book, project, now)  # type: ignore[misc]


def write(folder: Path, book: Book, progress: Progress = lambda done, of: True) -> None:
    """Writes every PDF into `FOLDER` of an exported folder, on the thread that draws (see `paper_process`). Raises OSError,
    Cancelled."""
    paper = folder / FOLDER
    paper.mkdir()
    every = tuple(papers(book, book.now()))
    for place, (name, make) in enumerate(every):

        def step(done: int, of: int, place: int = place) -> None:
            if not progress(_FINE * place + _FINE * done // of, _FINE * len(every)):
                raise Cancelled(folder)

        step(0, 1)
        (paper / name).write_bytes(pdf_of(make(), step))


# the shelf --------------------------------------------------------------------------------------------------------------


def shelf_document(book: Book, now: datetime) -> Document:
    """Every bottle on the shelf, every material, and what was smelled and noted of them."""
    bottles = [row for kind in ("all", "trial vials") for row in rows_of_shelf(book, now.date(), kind)]
    told = [
        (
            row.what, one.bottle.code, strength_text(one), figures.mass_text(one.left_g, 0.01), one.bottle.place,
            ", ".join(filter(None, (one.bottle.lot, one.bottle.supplier))),
            "" if one.bottle.opened_on is None else figures.day(one.bottle.opened_on),
        )
        for row in bottles
        if (one := row.bottle) is not None and one.bottle.gone_on is None
    ]  # fmt: skip
    heads = [(tr("holds"), "25%", ""), (tr("bottle"), "9%", ""), (tr("strength"), "16%", ""), (tr("left"), "12%", "right"),
             (tr("place"), "7%", ""), (tr("lot, supplier"), "18%", ""), (tr("opened"), "13%", "")]  # fmt: skip
    named = sorted((one for one in book.all(Material) if one.retired_on is None), key=lambda one: fold(one.name))
    materials = [(m.name, m.cas, form_text(m.form), tr("carrier") if m.is_carrier else "", m.storage) for m in named]
    kinds = [(tr("material"), "44%", ""), ("CAS", "14%", ""), (tr("form"), "12%", ""), ("", "9%", ""),
             (tr("storage"), "21%", "")]  # fmt: skip
    title = tr("Shelf of {name}", name=book.name)
    parts = (
        head_part(title, tr("as it stood on {moment}", moment=figures.moment(now))), plain_table(heads, told, tr("Bottles")),
        plain_table(kinds, materials, tr("Materials")), *_of_no_project(book, now), notes_part(((tr("cautions"), CAUTION),)),
    )  # fmt: skip
    return Document(title, title, parts)


def _of_no_project(book: Book, now: datetime) -> list[Part]:
    """Strips of raw materials, and what was noted of materials and bottles."""
    told = {strip.key for project in book.all(Project) for strip in book.strips(project.key or 0)}
    strips = StripsModel(book)
    strips.load_strips([strip for strip in book.all(Strip) if strip.key not in told], now)
    notes = []
    for note in book.all(Note):
        material = None if note.material is None else book.get(Material, note.material)
        bottle = None if note.bottle is None else book.get(Bottle, note.bottle)
        name = material.short if material is not None else bottle.code if bottle is not None else ""
        if name and note.at is not None:
            notes.append((fold(name), note.at, name, note.text))
    rows = [(name, figures.day(at), piece) for _, at, name, text in sorted(notes) for piece in pieces(text)]
    heads = [(tr("of"), "26%", ""), (tr("on"), "14%", ""), (tr("note"), "60%", "")]
    cards = [_strip(book, card) for card in reversed(strips.cards)]
    return [*cards, *([plain_table(heads, rows, tr("Notes"))] if rows else [])]


# a project --------------------------------------------------------------------------------------------------------------


def project_document(book: Book, project: Project, now: datetime) -> Document:
    """A project with all that was made, smelled, decided and noted in it."""
    assert project.key is not None
    title = " ".join(filter(None, (project.code, project.name)))
    decisions = sorted(book.all(Decision, project=project.key), key=lambda one: (one.made_on, one.key or 0), reverse=True)
    codes = {head.key: head.code for head in book.version_heads(project.key)}
    told = tr("from {book}, as it stood on {moment}", book=book.name, moment=figures.moment(now))
    parts = [head_part(title, told, _about(book, project))]
    for head in book.version_heads(project.key):
        version = book.get(Version, head.key)
        if version is not None:
            parts.append(_version(book, project, version, state_of(head, decisions), codes))
    for trial in book.trials(project.key):
        parts += _trial(book, trial, codes)
    strips = StripsModel(book)
    strips.load_strips(book.strips(project.key), now)
    for card in reversed(strips.cards):
        parts.append(_strip(book, card))
    parts += _decided(decisions, codes)
    notes = [(figures.day(note.at), note.text) for note in book.all(Note, project=project.key)]
    parts.append(notes_part([*notes, (tr("cautions"), CAUTION)]))
    return Document(title, f"{title} · {book.name}", tuple(parts))


def _about(book: Book, project: Project) -> str:
    carrier = None if project.carrier is None else book.get(Material, project.carrier)
    finished = "" if project.strength is None else figures.stock_text(project.strength, carrier.carrier_name if carrier else "")
    ceiling = "" if project.price_ceiling is None else figures.money(project.price_ceiling, book.currency)
    told = facts(
        [(tr("begun"), figures.day(project.started_on)), (tr("finished at"), finished or figures.UNKNOWN),
         (tr("at most"), ceiling or figures.UNKNOWN)]
    )  # fmt: skip
    return f"{told}<p>{escape(project.brief)}</p>" if project.brief else told


def _version(book: Book, project: Project, version: Version, state: str, codes: dict[int, str]) -> Part:
    shelf = book.shelf(version)
    worked = compose(version, shelf, project.amount_g)
    since = "" if version.parent is None or version.parent not in codes else tr("from {version}", version=codes[version.parent])
    made, star = figures.day(version.made_at), tr("starred") if version.starred else ""
    title = " · ".join(filter(None, (version.code, version.name, star, shown(VERSIONS, state), since, made)))
    cost = "" if worked.cost_per_g is None else figures.money(worked.cost_per_g, book.currency, at_least=bool(worked.unpriced))
    total = tr("{parts} parts in all", parts=figures.parts(worked.total_parts))
    grams = tr("g of {amount}", amount=figures.mass_text(project.amount_g))
    heads = [(tr("line"), "34%", ""), ("CAS", "13%", ""), (tr("stock"), "19%", ""), (tr("parts"), "10%", "right"),
             ("%", "10%", "right"), (grams, "14%", "right")]  # fmt: skip
    rows = []
    for line, row in zip(resolved(version), worked.rows, strict=True):
        name, cas, stock = _named(line.material, line.accord, shelf)
        if line.material is not None:
            carrier = None if line.carrier is None else shelf.materials[line.carrier]
            stock = figures.stock_text(line.strength, carrier.carrier_name if carrier else "") or tr("neat")
        rows.append((name, cas, tr("{stock}, fills up", stock=stock) if line.fill_up else stock, figures.parts(line.parts),
                     figures.percent(row.share), figures.mass(row.grams)))  # fmt: skip
    return plain_table(heads, rows, title, (version.reason, ", ".join(filter(None, (total, cost)))))


def _named(material: int | None, accord: int | None, shelf: Shelf) -> tuple[str, str, str]:
    if accord is not None:
        inner = shelf.accords[accord]
        return " ".join(filter(None, (inner.code, inner.name))), "", tr("accord")
    held = shelf.materials[material or 0]
    return held.name, held.cas, ""


def _trial(book: Book, trial: Making, codes: dict[int, str]) -> list[Part]:
    lines = by_line(book, trial)
    if not lines:
        return []
    balance = None if trial.balance is None else book.get(Balance, trial.balance)
    led_to = codes.get(trial.version or 0, tr("what the nose led to"))
    title = tr("{weighing} of {version}", weighing=trial.code or tr("Weighing"), version=led_to)
    when = figures.moment(trial.finished_at or trial.started_at)
    how = "" if balance is None else tr("on {balance}, {way}", balance=balance.name, way=shown(MODES, trial.mode))
    heads = [(tr("liquid"), "46%", ""), (tr("bottle"), "12%", ""), (tr("target, g"), "14%", "right"),
             (tr("read, g"), "14%", "right"), ("‰", "14%", "right")]  # fmt: skip
    rows = [
        (row.name, row.bottle, "" if row.target_g is None else figures.mass(row.target_g), figures.mass(row.read_g),
         figures.per_thousand(row.weighed))
        for row in lines
    ]  # fmt: skip
    return [plain_table(heads, rows, title, (", ".join(filter(None, (tr("weighed {moment}", moment=when), how))), trial.remark))]


def _strip(book: Book, card: StripCard) -> Part:
    columns = [next(column for column in LOG if column.key == key) for key in _LOG]
    heads = [(column.title, _LOG[column.key], "right" if column.right else "") for column in columns]
    # the year of the dip goes for its readings too
    rows = [[column.text(row) for column in columns] for row in log_rows(book, card, card.strip.dipped_at, earlier=True)]
    title = f"{shown(STRIPS, card.strip.kind)} {card.label}"
    dipped = tr("dipped {moment}.", moment=figures.moment(card.strip.dipped_at))
    about = (caption(book, card), f"{dipped} {figures_line(card)}")
    return plain_table(heads, rows, title, about) if rows else Part("", (section(title, *about),))


def _decided(decisions: list[Decision], codes: dict[int, str]) -> list[Part]:
    told = []
    for one in decisions:
        chosen = figures.listed([codes.get(key, "") for key in one.chosen], most=20)
        against = [": ".join((codes.get(key, ""), why or tr("no reason given"))) for key, why in one.rejected.items()]
        why = ": ".join(filter(None, (tr("{chosen} chosen", chosen=chosen) if chosen else "", one.reason)))
        told.append((figures.day(one.made_on), "; ".join(filter(None, (why, *against)))))
    return [Part("", (section(tr("Decisions")),)), notes_part(told)] if told else []


