# SPDX-License-Identifier: MIT
"""A sentence for everything that can be noticed, refused or go wrong: what it is, what it means, what to do.

perfumery and db say codes and figures; no code is ever shown. A test fails on a code without a sentence and on a sentence
that leaves its figures out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from db import BookError, DamagedBook, DiskFull, LockedBook, NewerBook, NotABook, ReadOnlyBook
from desktop.figures import UNKNOWN, listed, mass_text, moment, money, parts, percent_text, signed
from perfumery import Finding

_Data = Mapping[str, Any]


class _Known(dict[str, Any]):
    """The figures of a finding; one that is not there reads as the dash."""

    def __missing__(self, name: str) -> str:
        return UNKNOWN


def sentence(finding: Finding) -> str:
    """What was noticed, as a sentence for the person at the bench."""
    return _SENTENCES[finding.code](_Known(finding.data))


def sentences(findings: tuple[Finding, ...]) -> str:
    """Several findings, one after the other."""
    return " ".join(sentence(finding) for finding in findings)


def undone(what: str) -> str:
    """What a step back took back."""
    return f"Undone: {what}." if what else "Undone."


def redone(what: str) -> str:
    """What a step forward did again."""
    return f"Done again: {what}." if what else "Done again."


def fault(error: BaseException) -> str:
    """What happened to the book or its file, what that means, and what to do."""
    for kind, words in _FAULTS:
        if isinstance(error, kind):
            return words(error)
    return (
        "Something went wrong that should not. Nothing was changed in the book. "
        "Help > Copy report gathers what is needed to find the cause."
    )


def fault_title(error: BaseException) -> str:
    """The fault in a few words, for the head of a page."""
    for kind, title in _TITLES:
        if isinstance(error, kind):
            return title
    return "That did not work"


# faults of a book ---------------------------------------------------------------------------------------------------------


def _locked(error: Any) -> str:
    who = getattr(error, "who", "") or "someone else"
    since = getattr(error, "since", None)
    when = f" since {moment(since)}" if isinstance(since, datetime) else f" since {since}" if since else ""
    return (
        f"This book is open already, by {who}{when}. Two at once would tear it, so it stays closed here. "
        "Close it there and try again, or look at its newest backup meanwhile."
    )


def _newer(error: Any) -> str:
    found, known = getattr(error, "found", UNKNOWN), getattr(error, "known", UNKNOWN)
    return (
        f"This book was written by a newer Stillroom: it is of format {found}, and this one reads up to {known}. "
        "It was left as it is. Update Stillroom on this computer to open it."
    )


def _not_a_book(error: Any) -> str:
    return (
        "This file is not a Stillroom book, or something in it was changed by another program. It was left as it is. "
        "Choose another file, or a backup of the book."
    )


def _damaged(error: Any) -> str:
    found = tuple(getattr(error, "findings", ()) or ())
    extra = f" {sentences(found)}" if found else ""
    return (
        "This book is damaged: a part of the file cannot be read. It was left as it is, so that nothing gets worse."
        f"{extra} Open its newest backup, and keep the damaged file until you have seen that nothing is missing."
    )


def _read_only(error: Any) -> str:
    return (
        "This book cannot be written to: the file or its folder is read-only. Nothing was changed. "
        "Give yourself the right to write there, or copy the book to a folder of your own."
    )


def _disk_full(error: Any) -> str:
    return (
        "The disk is full. The last change was not kept, everything before it is safe in the book. "
        "Make some room and do it again."
    )


def _gone(error: Any) -> str:
    name = getattr(error, "filename", None)
    which = f"The file {name}" if name else "The file"
    return (
        f"{which} is not there. It was moved, renamed or deleted, or its drive is not connected. "
        "Bring it back and try again, or choose another book."
    )


def _there(error: Any) -> str:
    name = getattr(error, "filename", None) or "that name"
    return f"There is a file of {name} already. It was left as it is. Choose another name."


def _forbidden(error: Any) -> str:
    name = getattr(error, "filename", None) or "this place"
    return f"You have no right to read or write {name}. Nothing was changed. Choose a folder of your own."


def _folder(error: Any) -> str:
    name = getattr(error, "filename", None) or "This"
    return f"{name} is not what was needed there: a folder stands for a file, or a file for a folder. Choose another place."


def _system(error: Any) -> str:
    why = getattr(error, "strerror", None) or str(error) or "no reason was given"
    return f"The computer refused to read or write: {why}. Nothing was changed in the book. Try another place."


def _book(error: Any) -> str:
    why = str(error)
    return (
        f"The book could not do that{f': {why}' if why else ''}. Nothing was changed in it. "
        "Try again; if it stays, check the book from the Book menu."
    )


_FAULTS: tuple[tuple[type[BaseException], Callable[[Any], str]], ...] = (
    (LockedBook, _locked), (NewerBook, _newer), (NotABook, _not_a_book), (DamagedBook, _damaged),
    (ReadOnlyBook, _read_only), (DiskFull, _disk_full), (BookError, _book), (FileNotFoundError, _gone),
    (FileExistsError, _there), (PermissionError, _forbidden), (IsADirectoryError, _folder), (NotADirectoryError, _folder),
    (OSError, _system),
)  # fmt: skip
_TITLES: tuple[tuple[type[BaseException], str], ...] = (
    (LockedBook, "This book is open elsewhere"), (NewerBook, "This book needs a newer Stillroom"),
    (NotABook, "This is not a book"), (DamagedBook, "This book is damaged"), (ReadOnlyBook, "This book is read-only"),
    (DiskFull, "The disk is full"), (FileNotFoundError, "This book is not there"),
    (FileExistsError, "That name is taken"), (OSError, "This place cannot be used"),
)  # fmt: skip


# findings -----------------------------------------------------------------------------------------------------------------

_KINDS = {
    "Material": "material", "Bottle": "bottle", "Version": "version", "Project": "project", "Strip": "strip",
    "Sitting": "sitting", "Reading": "reading", "Making": "weighing", "Move": "mass that moved", "Note": "note",
    "Decision": "decision", "Contents": "bottle's contents", "Balance": "balance", "Word": "smell word",
}  # fmt: skip


def _kind(name: Any) -> str:
    return _KINDS.get(str(name), str(name).casefold())


def _names(value: Any) -> str:
    return value if isinstance(value, str) else listed(value)


def _number(value: Any) -> str:
    return parts(value) if isinstance(value, (int, float)) else str(value)


def _percent(value: Any) -> str:
    return percent_text(value) if isinstance(value, (int, float)) else str(value)


def _grams(value: Any) -> str:
    return mass_text(value) if isinstance(value, (int, float)) else str(value)


def _price(value: Any) -> str:
    return money(value, "", per="") if isinstance(value, (int, float)) else str(value)


def _over_price(d: _Data) -> str:
    least = "at least " if d.get("at_least") else ""
    return f"A gram costs {least}{_price(d['cost'])}, more than the {_price(d['ceiling'])} this project wishes for."


def _file_damaged(d: _Data) -> str:
    return (
        f"A part of the file cannot be read ({_names(d.get('text', d.get('texts', UNKNOWN)))}). "
        "Open the newest backup and keep this file."
    )


_SENTENCES: dict[str, Callable[[_Data], str]] = {
    # values that cannot be
    "time-naive": lambda d: f"The time {d['text']} says nothing about its time zone. Write it with its offset, as 14:05+02:00.",
    "time-unreadable": lambda d: f"“{d['text']}” cannot be read as a time. Write it as 14:05, or 11 Mar 14:05.",
    "day-unreadable": lambda d: f"“{d['text']}” cannot be read as a day. Write it as 2025-03-11.",
    "number-unreadable": lambda d: f"“{d['text']}” is not a number. Write figures, with a comma or a point for the decimals.",
    "number-grouped": lambda d: (
        f"“{d['text']}” could be read in two ways. Write it without marks for thousands; comma and point both mean decimals."
    ),
    "number-empty": lambda d: "A number is missing here.",
    "name-empty": lambda d: "A name is missing. It is what you will look for later.",
    "code-empty": lambda d: "A code is missing. It is what stands on the label.",
    "code-taken": lambda d: f"{d['code']} is taken by another {_kind(d['kind'])}. Choose a code that is free.",
    "cas-shape": lambda d: f"“{d['text']}” has not the form of a CAS number, as 78-70-6. Look it up again, or leave it empty.",
    "cas-check-digit": lambda d: (
        f"{d['text']} cannot be a CAS number: its last digit would have to be {d['digit']}. One of the digits is wrong."
    ),
    "parts-negative": lambda d: f"{_number(d['parts'])} parts cannot be weighed. Parts are 0 or more.",
    "parts-not-finite": lambda d: "These parts are no number that can be weighed. Write a plain figure.",
    "strength-range": lambda d: f"A strength of {_number(d['percent'])} % cannot be. It is more than 0 and at most 100 %.",
    "carrier-missing": lambda d: "A strength under 100 % needs a carrier. Say what it is diluted in.",
    "carrier-unneeded": lambda d: "A neat material has no carrier. Write a strength under 100 %, or leave the carrier out.",
    "carrier-itself": lambda d: "A material cannot be diluted in itself. Choose another carrier.",
    "line-one-of": lambda d: "This must belong to exactly one thing: one material or one accord, not both and not neither.",
    "total-not-positive": lambda d: f"A formula of {_number(d['total'])} parts cannot be. The wanted total is more than 0.",
    "fill-up-twice": lambda d: "Only one line can fill up to the total. Take the mark off the other one first.",
    "fill-up-excess": lambda d: (
        f"The other lines come to {_number(d['others'])} parts, {_number(d['excess'])} more than the total of "
        f"{_number(d['total'])}, so nothing is left for the fill-up line. Take some off or raise the total."
    ),
    "accord-loop": lambda d: (
        f"An accord cannot hold itself: {' holds '.join(str(n) for n in d['names'])}. Take one of these out first."
        if not isinstance(d["names"], str)
        else f"An accord cannot hold itself: {d['names']}."
    ),
    "accord-strength": lambda d: "An accord is used as it is. To thin it, add a line of carrier.",
    "share-sum": lambda d: f"The shares come to {_percent(d['total'])}; the contents of a bottle come to 100 %.",
    "mass-not-positive": lambda d: f"A mass of {_grams(d['mass_g'])} cannot be weighed. It is more than 0.",
    "intensity-scale": lambda d: f"Intensity {_number(d['value'])} is off the scale. It goes from 0 to 6 in half steps.",
    "liking-scale": lambda d: f"A liking of {_signed(d['value'])} is off the scale. It goes from −4 to +4 in whole steps.",
    "distance-negative": lambda d: f"A distance of {_number(d['value'])} cm cannot be. It is 0 or more.",
    "word-weight": lambda d: f"The weight {_number(d['value'])} of “{d['word']}” is off the scale. It is 1, 2 or 3.",
    "kind-unknown": lambda d: f"“{d['kind']}” is not known here. It can be {_either(d['known'])}.",
    "reference-missing": lambda d: (
        f"This needs a {_kind(d['kind'])} that is not in the book ({d['key']}). Undo the step that took it out, or choose another."
    ),
    "odorant-out-of-reach": lambda d: (
        f"{_percent(d['wanted'])} of odorants cannot be reached: the undiluted concentrate has {_percent(d['most'])}. "
        "Use stronger dilutions, or wish for less."
    ),
    "frozen": lambda d: f"{d['code']} has been weighed, so it stays as it was. A change makes a new version from it.",
    "record": lambda d: f"This {_kind(d['kind'])} is a record and is never overwritten. Correct it: the earlier wording stays.",
    "not-correctable": lambda d: f"This {_kind(d['kind'])} is not a record. Change it as it stands.",
    "in-use": lambda d: f"This is still in use, by {_names(d['names'])}. Take it out there first.",
    "undo-held": lambda d: f"This step cannot be taken back: {_names(d['names'])} now stands on it.",
    "readability-not-positive": lambda d: f"A balance that reads to {_number(d['step'])} g cannot be. Write its smallest step.",
    "read-before-dip": lambda d: f"Strip {d['code']} had not been dipped yet at that time. Check the time of the reading.",
    "from-and-to": lambda d: "Mass leaves one bottle or reaches another, and a pour needs both. Name the bottle that is missing.",
    # notices that forbid nothing
    "price-unknown": lambda d: f"No price is known for {_names(d['names'])}, so the cost is at least what is shown.",
    "no-lines": lambda d: "This formula has no lines yet. Type a material into the empty line.",
    "all-carrier": lambda d: "Everything in this formula is carrier: it has no odorant yet.",
    "over-price": _over_price,
    "grams-rounded": lambda d: f"Rounded to the balance, the lines come to {_grams(d['total'])} instead of {_grams(d['wish'])}.",
    "retired-used": lambda d: f"{_names(d['names'])} is retired but still used here.",
    # the state of a file
    "file-damaged": _file_damaged,
    "key-broken": lambda d: f"Something in the book points to nothing ({_names(d['table'])}). Open a backup from before.",
    "file-structure": lambda d: f"The inside of the file was changed by another program ({_names(d['names'])}). Open a backup.",
}


def _signed(value: Any) -> str:
    return signed(value) if isinstance(value, (int, float)) else str(value)


def _either(names: Any) -> str:
    return names if isinstance(names, str) else listed(names, most=20).replace(" and ", " or ")
