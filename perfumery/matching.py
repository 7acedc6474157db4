# SPDX-License-Identifier: MIT
"""Which material of the shelf a written name or CAS number means: surely, perhaps, or none.

A name that is close is only ever offered, never taken: 'bergamot oil' and 'bergamot oil, treated' are two materials.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from heapq import nsmallest
from typing import Generic, Protocol, TypeVar

from perfumery import cas as cas_numbers
from perfumery.text import fold

_CLOSE = 0.45
_MOST = 8


class Known(Protocol):
    """A material as the shelf lists it. `hay` is its haystack: folded fields, one a line."""

    @property
    def key(self) -> int: ...
    @property
    def cas(self) -> str: ...
    @property
    def form(self) -> str: ...
    @property
    def words(self) -> Sequence[str]: ...
    @property
    def hay(self) -> str: ...
    @property
    def retired(self) -> bool: ...


K = TypeVar("K", bound=Known)


@dataclass(frozen=True, slots=True)
class Match(Generic[K]):
    """`found` is sure, by name or CAS number; else `candidates`, likeliest first, are to be chosen from."""

    found: K | None = None
    candidates: tuple[K, ...] = ()


class Matcher(Generic[K]):
    """The shelf's materials made ready to be matched many times; `learn` keeps it true when the shelf changes."""

    def __init__(self, materials: Iterable[K] = ()) -> None:
        self._forget()
        for _ in self.learn(materials):
            pass

    def _forget(self) -> None:
        self._by_name: dict[str, list[K]] = {}
        self._by_cas: dict[str, list[K]] = {}
        # each name with its material, that one's first name and how many groups the name has; groups by places in this list
        self._names: list[tuple[K, str, str, int]] = []
        # arrays, because Python's collector of garbage would walk through every list again and again
        self._grams: dict[str, array[int]] = {}
        self._known: dict[int, K] = {}
        self._dead = 0

    def learn(self, materials: Iterable[K]) -> Iterator[tuple[int, int]]:
        """Makes ready for these materials, which are all there are: what is known already stays. (Done, of how many) after each
        that is new; it is ready once this has come to its end."""
        wanted = {material.key: material for material in materials}
        gone = {key: one for key, one in self._known.items() if wanted.get(key) is not one}
        if gone:
            self._unlearn(gone)
        fresh = [one for key, one in wanted.items() if key not in self._known]
        for done, material in enumerate(fresh, 1):
            self._add(material)
            yield done, len(fresh)

    def _add(self, material: K) -> None:
        self._known[material.key] = material
        if material.cas:
            self._by_cas.setdefault(cas_numbers.tidy(material.cas), []).append(material)
        names = _names(material)
        for name in names:
            self._by_name.setdefault(name, []).append(material)
            grams = _trigrams(name)
            for gram in grams:
                self._grams.setdefault(gram, array("L")).append(len(self._names))
            self._names.append((material, names[0], name, len(grams)))

    def _unlearn(self, gone: Mapping[int, K]) -> None:
        self._dead += len(gone)
        if self._dead > len(self._known):
            # more is passed over than is known
            self._forget()
            return
        for key, material in gone.items():
            del self._known[key]
            for named in {name: self._by_name[name] for name in _names(material)}.values():
                named[:] = [one for one in named if one is not material]
            if material.cas:
                numbered = self._by_cas[cas_numbers.tidy(material.cas)]
                numbered[:] = [one for one in numbered if one is not material]
        # the places of its names stay: what stands there is passed over

    def match(self, name: str, cas: str = "") -> Match[K]:
        """By exact name, bench name, synonym or CAS number where just one material answers; else the closest names."""
        wanted = fold(name)
        named = _unlike(self._by_name.get(wanted, ())) if wanted else []
        numbered = _unlike(self._by_cas.get(cas_numbers.tidy(cas), ())) if cas else []
        both = [material for material in named if material in numbered]
        sure = both or [*named, *(m for m in numbered if m not in named)]
        if len(sure) == 1:
            return Match(sure[0])
        if sure:
            return Match(candidates=tuple(sure[:_MOST]))
        return Match(candidates=tuple(self._close(wanted)))

    def _close(self, wanted: str) -> list[K]:
        """Materials by how many three-letter groups they share with the wanted name (Dice's coefficient)."""
        grams = _trigrams(wanted)
        shared: Counter[int] = Counter()
        for gram in grams:
            shared.update(self._grams.get(gram, ()))
        inside = f" {wanted}"
        best: dict[int, tuple[float, str, K]] = {}
        # so few in common can be no close name, and one that holds the wanted name has more
        least = _CLOSE * len(grams) / 2
        for at, common in shared.items():
            if common < least:
                continue
            material, first, name, size = self._names[at]
            if self._known.get(material.key) is not material:
                continue
            score = 2 * common / (len(grams) + size)
            if name.startswith(wanted):
                score = max(score, 1.0 - len(first) / 1000)
            elif inside in name:
                score = max(score, 0.9)
            if score >= _CLOSE and (material.key not in best or -score < best[material.key][0]):
                best[material.key] = -score, first, material
        return [material for _, _, material in nsmallest(_MOST, best.values(), key=lambda one: one[:2])]


def _unlike(materials: Iterable[K]) -> list[K]:
    """Each material once; retired ones only where nothing else answers."""
    once = list({material.key: material for material in materials}.values())
    return [material for material in once if not material.retired] or once


def _names(material: Known) -> list[str]:
    """The folded names in a material's haystack, without its CAS number, form, smell words and their families."""
    fields = material.hay.split("\n")
    form = fold(material.form)
    if form not in fields:
        return fields
    at = fields.index(form)
    synonyms = fields[at + 1 :]
    words = [fold(word) for word in material.words]
    if words and words[0] in synonyms:
        synonyms = synonyms[: synonyms.index(words[0])]
    number = cas_numbers.tidy(material.cas)
    return [name for name in (*fields[:at], *synonyms) if name != number]


def _trigrams(name: str) -> set[str]:
    padded = f"  {name} "
    return {padded[at : at + 3] for at in range(len(padded) - 2)}
