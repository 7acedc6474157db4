# SPDX-License-Identifier: MIT
"""Steps that the book itself gives a name, as they are shown: in the menu, at the foot, where one is taken back.

The book's own layer knows no language and names its steps in English; a page names its steps as they are shown.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from desktop.language import tr
from desktop.models.shown import BOTTLES, shown

# {step as the book names it: as it is shown}; what is more particular stands before what is less
_STEPS: Mapping[str, str] = {
    "starter materials": tr("starter materials"),
    "smell words": tr("smell words"),
    "demo studio": tr("demo studio"),
    "conditions of the sitting": tr("conditions of the sitting"),
    "correction": tr("correction"),
    "edit": tr("edit"),
    "weighing {code} begun": tr("weighing {code} begun"),
    "weighing {code} finished": tr("weighing {code} finished"),
    "weighing {code} given up": tr("weighing {code} given up"),
    "{code} {mass} g into {vessel}": tr("{code} {mass} g into {vessel}"),
    "{code} goes on as {bottle}": tr("{code} goes on as {bottle}"),
    "{code} kept as {version}": tr("{code} kept as {version}"),
    "plan of {code}": tr("plan of {code}"),
    "smelling dilution {code}": tr("smelling dilution {code}"),
    "trial {code} of {version}": tr("trial {code} of {version}"),
    "delivery {codes}": tr("delivery {codes}"),
    "correction of {code}": tr("correction of {code}"),
    "retire {name}": tr("retire {name}"),
    "{code} weighed again": tr("{code} weighed again"),
    "{code} used": tr("{code} used"),
    "{code} spill": tr("{code} spill"),
    "{code} given": tr("{code} given"),
    "{code} strip": tr("{code} strip"),
    "{code} re-labelled": tr("{code} re-labelled"),
    "{code} thrown away": tr("{code} thrown away"),
    "blind test {code} revealed": tr("blind test {code} revealed"),
    "blind test {code}": tr("blind test {code}"),
    "answer {place} of {code}": tr("answer {place} of {code}"),
    "sitting {code} sealed": tr("sitting {code} sealed"),
    "sitting {code} revealed": tr("sitting {code} revealed"),
    "sitting {code}": tr("sitting {code}"),
    "{word} is called {name}": tr("{word} is called {name}"),
    "{word} means {other}": tr("{word} means {other}"),
}
# {step as a page names it: what is said at the foot when it is done}, where the name alone says no more than what it is about
_KEPT: Mapping[str, str] = {
    tr("conditions of the sitting"): tr("Conditions of the sitting kept."),
    tr("reason of {code}"): tr("Reason of {code} kept."),
    tr("name of {code}"): tr("Name of {code} kept."),
    tr("category of {code}"): tr("Category of {code} kept."),
    tr("amount {mass}"): tr("Amount {mass} kept."),
    tr("habits of this bench"): tr("Habits of this bench kept."),
    tr("repeatability of {name}"): tr("Repeatability of {name} kept."),
    tr("limit on {name} taken out"): tr("Limit on {name} taken out."),
    tr("limit on {name}"): tr("Limit on {name} kept."),
}
_FACT = re.compile(r"\\\{(\w+)\\\}")


def _ways(said: Mapping[str, str]) -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(_FACT.sub(r"(?P<\1>.+)", re.escape(name))), sentence) for name, sentence in said.items())


_WAYS, _KEPT_WAYS = _ways(_STEPS), _ways(_KEPT)


@lru_cache(maxsize=64)
def told(what: str) -> str:
    """A step as it is shown; one that a page named as it stands."""
    said = _found(_WAYS, what)
    if said:
        return said
    kind, _, code = what.partition(" ")
    return tr("{kind} {code}", kind=shown(BOTTLES, kind), code=code) if kind in BOTTLES and code else what


def _found(ways: tuple[tuple[re.Pattern[str], str], ...], what: str) -> str:
    for way, said in ways:
        match = way.fullmatch(what)
        if match is not None:
            return said.format(**match.groupdict())
    return ""


def undone(what: str) -> str:
    """What a step back took back."""
    return tr("Undone: {what}.", what=told(what)) if what else tr("Undone.")


def redone(what: str) -> str:
    """What a step forward did again."""
    return tr("Done again: {what}.", what=told(what)) if what else tr("Done again.")


def sentence(what: str) -> str:
    """A step as a sentence of its own: 'Weighing T-029 begun.', 'Reason of SR-5 kept.'"""
    text = told(what)
    return _found(_KEPT_WAYS, text) or f"{text[:1].upper()}{text[1:]}."
