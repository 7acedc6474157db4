# SPDX-License-Identifier: MIT
"""The perfumer's smell words for typing: what a fragment may mean, which synonym stands for what, how a weight is written.

'wet sl' offers 'wet stone' because 'wet slate' is its synonym. A weight 1 to 3 stands behind its word as a figure or as
one or two plus signs: 'wet stone 3', 'woody+'.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from desktop.language import tr
from perfumery import Word
from perfumery.text import fold
from perfumery.values import WORD_WEIGHT_MAX

_WEIGHTED = re.compile(r"(?P<word>.*?)\s*(?:(?P<figure>\d+)|(?P<plus>\++))?\s*", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Offer:
    """A word that may be meant. `found` is the synonym by which it was found, '' for its own name; `new` not yet known."""

    word: str
    found: str = ""
    group: str = ""
    new: bool = False

    @property
    def text(self) -> str:
        """As it is shown: 'wet stone (wet slate)', 'new word “flinty”'."""
        if self.new:
            return tr("new word “{word}”", word=self.word)
        return f"{self.word} ({self.found})" if self.found else self.word


@dataclass(frozen=True, slots=True)
class Typed:
    """A line of words read: {word: weight}, those not known yet, and the sentence about what cannot be read."""

    words: dict[str, int]
    new: tuple[str, ...] = ()
    wrong: str = ""


class Vocabulary:
    """The words of the book as they were when it was made, and their families. Those of `own` stand for themselves: a
    reading that is corrected keeps the synonyms it was written with."""

    def __init__(self, words: Iterable[Word], own: Iterable[str] = ()) -> None:
        known = list(words)
        by_key = {word.key: word for word in known}
        self._means: dict[str, str] = {}
        self._rows: list[tuple[str, Offer]] = []
        for word in known:
            main = by_key.get(word.same_as, word) if word.same_as is not None else word
            self._means[fold(word.text)] = main.text
            found = "" if main is word else word.text
            self._rows.append((fold(word.text), Offer(main.text, found, main.group)))
        # a family is a smell word too, and needs no row of its own
        for text in dict.fromkeys((*(word.group for word in known if fold(word.group) not in self._means), *own)):
            if not text:
                continue
            self._means[fold(text)] = text
            self._rows.append((fold(text), Offer(text)))

    def means(self, text: str) -> str | None:
        """The word a text stands for, a synonym's own word included; None for a word that is not known."""
        return self._means.get(fold(text))

    def offers(self, fragment: str, most: int = 6) -> tuple[Offer, ...]:
        """What a fragment may mean, likeliest first; last the fragment itself as a new word, unless it is known."""
        sought = fold(fragment)
        if not sought:
            return ()
        ranked: list[tuple[int, int, Offer]] = []
        for place, (hay, offer) in enumerate(self._rows):
            if hay == sought:
                ranked.append((0, place, offer))
            elif hay.startswith(sought):
                ranked.append((1, place, offer))
            elif f" {sought}" in hay or f"-{sought}" in hay:
                ranked.append((2, place, offer))
            elif sought in hay:
                ranked.append((3, place, offer))
        # a word by its own name before the same word by a synonym
        ranked.sort(key=lambda row: (row[0], bool(row[2].found), row[1]))
        found: dict[str, Offer] = {}
        for _, _, offer in ranked:
            found.setdefault(offer.word, offer)
        shown = tuple(found.values())[:most]
        return shown if self.means(fragment) else (*shown, Offer(" ".join(fragment.split()), new=True))

    def read(self, line: str) -> Typed:
        """Words and weights of a whole line, synonyms turned into their words; a word said twice keeps the larger weight."""
        words: dict[str, int] = {}
        new: list[str] = []
        for part in line.split(","):
            text, weight = split_weight(part)
            if not text:
                if part.strip():
                    return Typed({}, wrong=tr("“{typed}” has no word. Write the word before its weight.", typed=part.strip()))
                continue
            if not 1 <= weight <= WORD_WEIGHT_MAX:
                return Typed({}, wrong=tr("The weight of “{word}” is 1, 2 or 3, not {weight}.", word=text, weight=weight))
            word = self.means(text)
            if word is None:
                word = text
                if word not in new:
                    new.append(word)
            words[word] = max(weight, words.get(word, 0))
        return Typed(words, tuple(new))


def split_weight(part: str) -> tuple[str, int]:
    """('wet stone', 3) of 'wet stone 3', ('woody', 2) of 'woody+', ('pine', 1) of 'pine'."""
    found = _WEIGHTED.fullmatch(part.strip())
    assert found is not None
    text = " ".join(found["word"].split())
    weight = int(found["figure"]) if found["figure"] else 1 + len(found["plus"] or "")
    return text, weight


def with_weight(word: str, weight: int) -> str:
    """As it is typed: 'wet stone 3', and just the word at weight 1."""
    return f"{word} {weight}" if weight > 1 else word
