# SPDX-License-Identifier: MIT
"""What can be read in the help, as Markdown: chapters that were written, chapters made from the program's own tables, the sums.

Every sum stands once, in resources/help/sums.md; README's table, the columns' tips and "Why this value" are made from it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

import resources
from desktop.language import tr
from desktop.page_commands import command_rows
from desktop.settings import KEPT
from perfumery.values import HABITS

# (name, its title in the list of chapters)
CHAPTERS: tuple[tuple[str, str], ...] = (
    ("job", tr("From idea to formula")), ("sums", tr("Every sum")), ("book", tr("The book")), ("keys", tr("Keys and commands")),
    ("settings", tr("Settings")), ("cautions", tr("Cautions")),
)  # fmt: skip
# Habits of the bench: they stand in the book, and the Shelf's menu changes them.
HABIT_WORDS: Mapping[str, str] = {
    "drift tolerance": tr("How far a bottle's strength may have risen and still count as the one on its label."),
    "low share": tr("Below which share of all that ever came into it a bottle is low."),
    "head space": tr("How much room of a vessel a dilution leaves free."),
    "weigh again months": tr("After how many months a bottle is weighed again."),
    "dropper cap months": tr("After how many months a dropper cap is changed. Yearly is common practice, no source."),
    "dissolve days": tr("How many days a solid is given to dissolve."),
    "re-test months ": tr(
        "After how many months from opening a material of this form is smelled again, if it has none of its own.",
    ),
    "bench opens hour": tr("From when on the desktop may tell what is due, and strips may be planned."),
    "bench closes hour": tr("Until when."),
    "reading minutes": tr("How long one reading takes: no two of a stand begin nearer than that."),
}
_SUM = re.compile(
    r"### (?P<title>.+)\n\n(?P<about>(?:.|\n)*?)\n\n\*\*Formula:\*\* (?P<formula>.+)\n\n\*\*Source:\*\* (?P<source>.+)"
)
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
        return tr("{formula}\nSource: {source}", formula=self.formula, source=self.source)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading of a chapter and what stands below it up to the next one."""

    chapter: str
    title: str
    text: str

    def holds(self, words: Iterable[str]) -> bool:
        """Whether all of these words, in small letters, stand in it."""
        hay = f"{self.title}\n{self.text}".casefold()
        return all(word in hay for word in words)


def slug(title: str) -> str:
    """How a heading is named in a link: 'sums.md#true-strength'."""
    return re.sub(r"[^\w -]", "", title.casefold()).replace(" ", "-")


@cache
def sums() -> Mapping[str, Sum]:
    """{slug of its title: sum}, in the order of the chapter."""
    found = _SUM.finditer(resources.read_text("help/sums.md"))
    made = [Sum(m["title"], m["about"].replace("\n", " "), m["formula"], m["source"]) for m in found]
    return {slug(one.title): one for one in made}


@cache
def chapter(name: str) -> str:
    """A chapter as Markdown."""
    if name == "keys":
        return _keys()
    if name == "settings":
        return _settings()
    return resources.read_text(f"help/{name}.md")


@cache
def sections() -> tuple[Section, ...]:
    """Every section of every chapter."""
    found = []
    for name, _ in CHAPTERS:
        pieces = _HEADING.split(chapter(name))
        found += [Section(name, title, text) for title, text in zip(pieces[2::3], pieces[3::3], strict=True)]
    return tuple(found)


def tips(*names: str) -> str:
    """Formula and source of these sums, for the tip of a text that shows them."""
    return "\n\n".join(f"{sums()[name].title}: {sums()[name].tip}" for name in names)


def sum_table() -> str:
    """The table of sums as it stands in README."""
    rows = [f"| {one.title} | {one.formula} | {one.source} |" for one in sums().values()]
    return "\n".join((tr("| what | rule | source |"), "|---|---|---|", *rows)) + "\n"


def _keys() -> str:
    pieces = [
        "# Keys and commands\n\nEvery command stands in a menu, and every menu is reached by Alt and its letters. A page's own "
        "menu is there while the page is. Keys of one letter act where the focus is, and never where text is typed."
    ]
    menu = ""
    for of, text, keys in command_rows():
        if of != menu:
            menu = of
            pieces.append(tr("\n\n## {of}\n\n| command | keys |\n|---|---|", of=of))
        pieces.append(f"\n| {text} | {keys} |")
    return "".join(pieces) + "\n"


def _settings() -> str:
    pieces = [
        "# Settings\n\nThere is no page of settings: each is chosen where it acts, and kept.\n\n## On this computer\n\n"
        "| setting | what it does | where |\n|---|---|---|\n",
        *(f"| {one.name} | {one.does} | {one.where} |\n" for one in KEPT),
        tr(
            "\n## In the book\n\nHabits of this bench (Shelf menu). They are our own, a place to begin: no standard "
            "fixes them.\n\n| habit | what it does |\n|---|---|\n"
        ),
    ]
    groups = dict.fromkeys(next(start for start in HABIT_WORDS if name.startswith(start)) for name in HABITS)
    for start in groups:
        forms = [name.removeprefix(start) for name in HABITS if name.startswith(start) and name != start]
        named = f"{start.strip()}: {', '.join(forms)}" if forms else start
        pieces.append(f"| {named} | {HABIT_WORDS[start]} |\n")
    pieces.append(
        tr(
            "\nEach project has its own reading times (Strips menu, Reading times), amount and finished strength "
            "(over its formula) and product category (Compare, Limits).\n"
        )
    )
    return "".join(pieces)
