# SPDX-License-Identifier: MIT
"""What was noticed, refused or went wrong, in words: what it is, what it means, what to do.

perfumery and db say codes and figures; no code is ever shown. Here the figures come into the sentences of
`desktop/sentences.py`, and here are the sentences for what happens to a file.
"""

from __future__ import annotations

import errno
import string
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import reduce
from pathlib import Path
from typing import Any

import db
from desktop import figures
from desktop.language import tr
from desktop.sentences import SENTENCES
from perfumery import Finding


def sentence(finding: Finding) -> str:
    """What was noticed, as a sentence for the person at the bench."""
    return _FORMATTER.vformat(SENTENCES[finding.code], (), {**finding.data, **dict(_together(finding.data))})


def sentences(findings: Iterable[Finding]) -> str:
    """Several findings, one after the other."""
    return " ".join(sentence(finding) for finding in findings)


def fault_title(error: BaseException) -> str:
    """The fault in a few words, for the head of a page."""
    return _fault(error)[0]


def fault(error: BaseException) -> str:
    """What happened to the book or its file, what that means, and what to do."""
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        error = db.DiskFull(Path(error.filename or tr("the file")))
    facts = {name: value for name, value in vars(error).items() if value not in (None, "")}
    if isinstance(error, OSError):
        facts |= {"path": error.filename or tr("the file"), "why": error.strerror or str(error) or tr("no reason was given")}
    if isinstance(error, db.LockedBook):
        facts["holder"] = holder(error)
    return _FORMATTER.vformat(_fault(error)[1], (), facts)


def holder(locked: db.LockedBook) -> str:
    """Who has a book open, and since when as far as it is known."""
    if locked.by_file:
        return tr("the program that made {file}", file=locked.by_file)
    who = locked.who or tr("another program")
    return who if locked.since is None else tr("{who} since {moment}", who=who, moment=_since(locked.since))


def _fault(error: BaseException) -> tuple[str, str]:
    return next((title, text) for kind, title, text in _FAULTS if isinstance(error, kind))


# how the facts of a sentence are shown --------------------------------------------------------------------------------


class _Sentence(string.Formatter):
    """Fills a sentence: a fact that is not there reads as the dash; `{value:parts}` shows it by one of `_SHOWN`."""

    def get_value(self, key: int | str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        return kwargs.get(str(key), figures.UNKNOWN)

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, float) and not format_spec:
            return figures.parts(value)
        if not format_spec or (isinstance(value, str) and format_spec != "kind"):
            return str(value)
        return _SHOWN[format_spec](value)


def _together(facts: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Facts that are told as one: a material with its strength, an amount of which only the least is known."""
    if "name" in facts and "strength" in facts:
        name, strength = facts["name"], facts["strength"]
        neat = strength == 1
        yield "stock", name if neat else tr("{name} at {strength}", name=name, strength=figures.strength_text(strength))
    for told, amount, shown in (("reached", "share", figures.percent_text), ("price", "cost", _price)):
        if "at_least" in facts and amount in facts:
            text = shown(facts[amount])
            yield told, tr("at least {amount}", amount=text) if facts["at_least"] else text


def _since(value: date | datetime) -> str:
    return figures.moment(value) if isinstance(value, datetime) else figures.day(value)


def _price(value: float) -> str:
    return figures.money(value, "", per="")


def _chain(names: Sequence[str]) -> str:
    """'A holds B holds A'."""
    return reduce(lambda outer, inner: tr("{outer} holds {inner}", outer=outer, inner=inner), names)


_SHOWN: Mapping[str, Callable[[Any], str]] = {
    "and": figures.listed,
    "or": lambda names: figures.either(names, most=20),
    "chain": _chain,
    "parts": figures.parts,
    # three figures of what is worked out from a density
    "about": lambda value: figures.short(value, 3),
    "percent": figures.percent_text,
    "mass": figures.mass_text,
    "signed": figures.signed,
    "price": _price,
    "since": _since,
    "month": figures.month,
    "kind": lambda name: _KINDS.get(name.casefold(), tr("value")),
    # two figures are what a drift can be told to
    "rough": lambda share: figures.unit(figures.short(share * 100, 2), "%"),
    "lot": lambda newer: tr("a new lot") if newer else tr("another lot"),
    "due": figures.due_text,
}
_FORMATTER = _Sentence()
# Kinds of values in a book, as far as one can be missing.
_KINDS: Mapping[str, str] = {
    "answer": tr("answer"), "balance": tr("balance"), "benchcheck": tr("bench check"), "blindtest": tr("blind test"),
    "bottle": tr("bottle"), "constituent": tr("constituent"), "contents": tr("contents of a bottle"), "decision": tr("decision"),
    "habit": tr("habit"), "limit": tr("limit"), "line": tr("line"), "making": tr("weighing"), "material": tr("material"),
    "move": tr("mass that moved"), "note": tr("note"), "project": tr("project"), "reading": tr("reading"), "record": tr("record"),
    "sitting": tr("sitting"), "strip": tr("strip"), "version": tr("version"), "word": tr("smell word"),
}  # fmt: skip

# faults of a file -----------------------------------------------------------------------------------------------------

# The first kind that fits says it, so the narrower stands before the wider.
_FAULTS: tuple[tuple[type[BaseException], str, str], ...] = (
    (
        db.LockedBook,
        tr("This book is open elsewhere"),
        tr(
            "It is held by {holder}. Two at once would tear it, so it stays closed here. Close it there and try again."
        ),
    ),
    (
        db.NewerBook,
        tr("This book needs a newer Stillroom"),
        tr(
            "The book is of format {found}; this Stillroom reads up to {known}. It was left as it is. Update Stillroom on this "
            "computer to open it."
        ),
    ),
    (
        db.NotABook,
        tr("This is not a book"),
        tr("The file {path} is something else, not a Stillroom book. It was left as it is. Choose another file."),
    ),
    (
        db.AlteredBook,
        tr("This book was changed by another program"),
        tr(
            "Its inside is not as Stillroom makes it ({names:and}), so it may not mean what it says. It was left as it is. Open "
            "a backup from before the change."
        ),
    ),
    (
        db.DamagedBook,
        tr("This book is damaged"),
        tr(
            "A part of the file {path} cannot be read. It was left as it is, so that nothing gets worse. Go on with its newest "
            "backup, and keep the damaged file until you have seen that nothing is missing."
        ),
    ),
    (
        db.OnlyALook,
        tr("This is only a look"),
        tr(
            "What you see is a copy to look into, and nothing can be kept in it. To go on from here, restore it beside the "
            "present book and open that."
        ),
    ),
    (
        db.ReadOnlyBook,
        tr("This book is read-only"),
        tr(
            "The file {path} or its folder cannot be written to, so nothing could be kept. Allow writing there, or copy the book "
            "to a folder of your own."
        ),
    ),
    (
        db.Cancelled,
        tr("Cancelled"),
        tr("It was stopped before it was done. What was half done was taken back; the book is as it was."),
    ),
    (
        db.DiskFull,
        tr("The disk is full"),
        tr(
            "No room is left where {path} lies. What was being written there was not kept; everything before it is safe. Make "
            "some room and do it again."
        ),
    ),
    (
        db.TakenBook,
        tr("The file of this book is gone"),
        tr(
            "The file {path} was moved, renamed, replaced or deleted while it was open, or its drive is not connected. The last "
            "change was not kept; everything before it is still here. Bring the file back and do it again, or save a copy from "
            "the Book menu."
        ),
    ),
    (
        db.MissingBook,
        tr("This book is not there"),
        tr(
            "The file {path} was moved, renamed or deleted, or its drive is not connected. Bring it back and try again, or "
            "choose another book."
        ),
    ),
    (
        db.BookExists,
        tr("That name is taken"),
        tr("There is a file {path} already. It was left as it is. Choose another name, or open that one."),
    ),
    (
        db.BookError,
        tr("The book could not do that"),
        tr("{detail}: nothing was changed in it. Try again; if it stays so, check the book from the Book menu."),
    ),
    (
        FileNotFoundError,
        tr("This file is not there"),
        tr("The file {path} was moved, renamed or deleted, or its drive is not connected. Bring it back, or choose another."),
    ),
    (
        FileExistsError,
        tr("That name is taken"),
        tr("There is a file {path} already. It was left as it is. Choose another name."),
    ),
    (
        PermissionError,
        tr("This place is not yours"),
        tr("You may not read or write {path}. Nothing was changed. Choose a folder of your own."),
    ),
    (
        OSError,
        tr("This place cannot be used"),
        tr("The computer could not read or write {path} ({why}). Nothing was changed in the book. Try another place."),
    ),
    (
        BaseException,
        tr("That did not work"),
        tr(
            "Something went wrong that should not. Nothing was changed in the book. “Copy report” in the Help menu gathers what "
            "is needed to find the cause."
        ),
    ),
)
