# SPDX-License-Identifier: MIT
"""What can be read in the help, as Markdown: chapters that were written, chapters made from the program's own tables, the sums.

Every sum stands once, in resources/help/sums.md; README's table, the columns' tips and "Why this value" are made from it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, partial

import resources
from desktop.language import languages, tr
from desktop.models.forms import form_text
from desktop.page_commands import command_rows
from desktop.settings import KEPT
from perfumery.values import HABITS

# (name, its title in the list of chapters)
CHAPTERS: tuple[tuple[str, str], ...] = (
    ("job", tr("From idea to formula")), ("sums", tr("Every sum")), ("book", tr("The book")), ("keys", tr("Keys and commands")),
    ("settings", tr("Settings")), ("cautions", tr("Cautions")),
)  # fmt: skip
_RETEST = "re-test months "
# Habits of the bench: they stand in the book, and the Shelf's menu changes them. {how their names begin: (shown, what they do)}
HABIT_WORDS: Mapping[str, tuple[str, str]] = {
    "drift tolerance": (
        tr("drift tolerance"), tr("How far a bottle's strength may have risen and still count as the one on its label."),
    ),
    "low share": (tr("low share"), tr("Below which share of all that ever came into it a bottle is low.")),
    "head space": (tr("head space"), tr("How much room of a vessel a dilution leaves free.")),
    "weigh again months": (tr("weigh again months"), tr("After how many months a bottle is weighed again.")),
    "dropper cap months": (
        tr("dropper cap months"), tr("After how many months a dropper cap is changed. Yearly is common practice, no source."),
    ),
    "dissolve days": (tr("dissolve days"), tr("How many days a solid is given to dissolve.")),
    _RETEST: (
        tr("re-test months"), tr("After how many months from opening a material of this form is smelled again, if it has none of "
                                 "its own."),
    ),
    "bench opens hour": (
        tr("bench opens hour"), tr("From when on the desktop may tell what is due, and strips may be planned."),
    ),
    "bench closes hour": (tr("bench closes hour"), tr("Until when.")),
    "reading minutes": (tr("reading minutes"), tr("How long one reading takes: no two of a stand begin nearer than that.")),
}  # fmt: skip
_SUM = re.compile(
    r"### (?P<title>.+)\n\n(?P<about>(?:.|\n)*?)\n\n\*\*Formula:\*\* (?P<formula>.+)\n\n\*\*Source:\*\* (?P<source>.+)"
)
_MADE = ("keys", "settings")
_HEADING = re.compile(r"^(#+) (.+)$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Sum:
    """One sum: what it is about in a sentence or two, its formula, and where that comes from."""

    title: str
    about: str
    formula: str
    source: str

    @property
    def tip(self) -> str:
        """Formula and source, for a tool tip."""
        source = tr("Source: {source}", source=self.source)
        return f"{self.formula}\n{source}"


@dataclass(frozen=True, slots=True)
class Section:
    """A heading of a chapter and what stands below it up to the next one; `place` is what links call it in every language."""

    chapter: str
    title: str
    text: str
    place: str

    def holds(self, words: Iterable[str]) -> bool:
        """Whether all of these words, in small letters, stand in it."""
        hay = f"{self.title}\n{self.text}".casefold()
        return all(word in hay for word in words)


def slug(title: str) -> str:
    """How a heading is named in a link: 'sums.md#true-strength'."""
    return re.sub(r"[^\w -]", "", title.casefold()).replace(" ", "-")


@cache
def sums() -> Mapping[str, Sum]:
    """{what links call it: sum}, in the order of the chapter."""
    shown, english = (_sums_of(text) for text in (_written("sums"), _english("sums")))
    return {slug(one.title): told for one, told in zip(english, shown, strict=True)}


def _sums_of(text: str) -> list[Sum]:
    return [Sum(m["title"], m["about"].replace("\n", " "), m["formula"], m["source"]) for m in _SUM.finditer(text)]


@cache
def chapter(name: str) -> str:
    """A chapter as Markdown, in the language of the system where somebody wrote it."""
    if name == "keys":
        return _keys()
    if name == "settings":
        return _settings()
    formula, source = tr("Formula:"), tr("Source:")
    return _written(name).replace("**Formula:**", f"**{formula}**").replace("**Source:**", f"**{source}**")


def _written(name: str) -> str:
    """A chapter as it stands in its file."""
    return next((text for text in map(partial(_translated, name), languages()) if text), _english(name))


def _english(name: str) -> str:
    return chapter(name) if name in _MADE else resources.read_text(f"help/{name}.md")


def _translated(name: str, language: str) -> str:
    """A chapter in a language; none where nobody wrote it, or it has other sections than the English one, which links name."""
    try:
        text = resources.read_text(f"help/{language}/{name}.md")
    except FileNotFoundError:
        return ""
    english = _english(name)
    as_many = len(_sums_of(text)) == len(_sums_of(english))
    depths, wanted = ([len(mark) for mark, _ in _HEADING.findall(one)] for one in (text, english))
    return text if as_many and depths == wanted else ""


@cache
def sections() -> tuple[Section, ...]:
    """Every section of every chapter."""
    found = []
    for name, _ in CHAPTERS:
        pieces = _HEADING.split(chapter(name))
        places = [slug(title) for _, title in _HEADING.findall(_english(name))]
        found += [Section(name, *one) for one in zip(pieces[2::3], pieces[3::3], places, strict=True)]
    return tuple(found)


def heading_of(name: str, place: str) -> str:
    """The slug of the heading as it is shown that links to a chapter call so; what is no heading of it as it is."""
    return next((slug(one.title) for one in sections() if (one.chapter, one.place) == (name, place)), place)


def tips(*names: str) -> str:
    """Formula and source of these sums, for the tip of a text that shows them."""
    return "\n\n".join(f"{sums()[name].title}: {sums()[name].tip}" for name in names)


def sum_table() -> str:
    """The table of sums as it stands in README."""
    rows = [f"| {one.title} | {one.formula} | {one.source} |" for one in _sums_of(_english("sums"))]
    return "\n".join(("| what | rule | source |", "|---|---|---|", *rows)) + "\n"


# chapters made from tables of the program -----------------------------------------------------------------------------


def _keys() -> str:
    about = tr(
        "Every command stands in a menu, and every menu is reached by Alt and its letters. A page's own menu is there while the "
        "page is. Keys of one letter act where the focus is, and never where text is typed."
    )
    pieces = ["# " + tr("Keys and commands"), about]
    menu, head = "", _head(tr("command"), tr("keys"))
    for of, text, keys in command_rows():
        if of != menu:
            menu = of
            pieces += [f"## {of}", head]
        pieces[-1] += f"\n| {text} | {keys} |"
    return "\n\n".join(pieces) + "\n"


def _settings() -> str:
    kept = [f"| {one.name} | {one.does} | {one.where} |" for one in KEPT]
    habits = []
    for start, (name, does) in HABIT_WORDS.items():
        forms = [form_text(habit.removeprefix(start)) for habit in HABITS if start == _RETEST and habit.startswith(start)]
        habits.append(f"| {name}: {', '.join(forms)} | {does} |" if forms else f"| {name} | {does} |")
    pieces = (
        "# " + tr("Settings"),
        tr("There is no page of settings: each is chosen where it acts, and kept."),
        "## " + tr("On this computer"),
        "\n".join((_head(tr("setting"), tr("what it does"), tr("where")), *kept)),
        "## " + tr("In the book"),
        tr("Habits of this bench (Shelf menu). They are our own, a place to begin: no standard fixes them."),
        "\n".join((_head(tr("habit"), tr("what it does")), *habits)),
        tr(
            "Each project has its own reading times (Strips menu, Reading times), amount and finished strength (over its "
            "formula) and product category (Compare, Limits)."
        ),
    )
    return "\n\n".join(pieces) + "\n"


def _head(*titles: str) -> str:
    """The head of a table."""
    return f"| {' | '.join(titles)} |\n|{'---|' * len(titles)}"
