# SPDX-License-Identifier: MIT
"""What a typed name can mean on this shelf: candidates for a line, carriers by any of their names, and the usual ones."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace

from db import Book, Change, MaterialRow
from desktop import figures
from desktop.language import tr
from desktop.models.forms import form_text
from perfumery import Line, Material, Project, Shelf, Version
from perfumery.entry import default_strength
from perfumery.findings import refuse
from perfumery.matching import Matcher
from perfumery.text import fold

AT_MOST = 9


@dataclass(frozen=True, slots=True)
class Candidate:
    """What a typed line could name: a material, an accord version, or a material still to be made."""

    label: str
    material: int | None = None
    accord: int | None = None
    new_name: str = ""
    hint: str = ""


class ShelfNames:
    """Names looked up in the book's own cached rows."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._matcher: Matcher[MaterialRow] = Matcher()
        self._matched: tuple[MaterialRow, ...] = ()
        # of every version: its project, whether it is retired, what it is called, the same folded
        self._versions: dict[int, tuple[int, bool, str, str]] | None = None
        self._called: tuple[tuple[int | None, int] | None, list[tuple[int, str, str]]] | None = None

    def forget(self, change: Change) -> None:
        """Takes up what a change has made stale."""
        if not change.touches(Version):
            return
        for old, new in change.pairs:
            one = old if new is None else new
            if self._versions is None or not isinstance(one, Version) or one.key is None:
                continue
            known = None if new is None else _called(new.project, new.retired_on is not None, new.name, new.code)
            if known is None:
                self._versions.pop(one.key, None)
            elif self._versions.get(one.key) == known:
                continue
            else:
                self._versions[one.key] = known
            self._called = None

    @property
    def matcher(self) -> Matcher[MaterialRow]:
        """Ready to match names; learns only what has changed of the book's rows."""
        for _ in self._learning():
            pass
        return self._matcher

    def getting_ready(self, version: Version | None) -> Iterator[None]:
        """Makes ready to look names up for a version, in pieces."""
        yield from self._learning()
        self._known_versions()
        yield
        self._accords(version)

    def _learning(self) -> Iterator[None]:
        rows = self._book.material_rows()
        if self._matched is not rows:
            for _ in self._matcher.learn(rows):
                yield
            self._matched = rows

    def candidates(self, name: str, version: Version | None) -> tuple[Candidate, ...]:
        """What a typed name could be, likeliest first, each with how it was last used in the version's project; a new
        material of that name stands last."""
        wanted = fold(name)
        if not wanted:
            return ()
        found = (row for row in self._book.find_materials(name) if not row.retired)
        # the rows come by name, and the first of equals stays first
        found = heapq.nsmallest(AT_MOST, found, key=lambda row: _rank(wanted, *row.hay.split("\n", 2)[:2]))
        listed = [Candidate(row.short, material=row.key, hint=form_text(row.form)) for row in found]
        words = wanted.split()
        for key, called, folded in self._accords(version):
            if all(word in folded for word in words):
                listed.append(Candidate(called, accord=key, hint=tr("accord")))
        listed.sort(key=lambda one: _rank(wanted, fold(one.label)))
        known = any(fold(one.label) == wanted for one in listed)
        fresh = () if known else (Candidate(tr("NEW material “{name}”", name=name), new_name=name),)
        shown = listed[: AT_MOST - len(fresh)]
        return (*(self._with_last_use(one, version) for one in shown), *fresh)

    def _with_last_use(self, one: Candidate, version: Version | None) -> Candidate:
        if one.material is None or version is None:
            return one
        last = self._book.last_strength(version.project, one.material)
        if last is None:
            return one
        stock = figures.stock_text(last[0], self.carrier(last[1])) or tr("neat")
        return replace(one, hint=tr("{stock}, as last", stock=stock))

    def _accords(self, version: Version | None) -> list[tuple[int, str, str]]:
        """(key, what it is called, the same folded) of versions a line may hold: all in use, but not the version itself. Its own
        project's come first; kept while one version is written on."""
        asked = None if version is None else (version.key, version.project)
        if self._called is None or self._called[0] != asked:
            self._called = asked, self._accords_of(version)
        return self._called[1]

    def _known_versions(self) -> dict[int, tuple[int, bool, str, str]]:
        if self._versions is None:
            self._versions = {key: _called(*known) for key, *known in self._book.version_names()}
        return self._versions

    def _accords_of(self, version: Version | None) -> list[tuple[int, str, str]]:
        itself = None if version is None else version.key
        usable = [(key, *known) for key, known in sorted(self._known_versions().items(), reverse=True) if key != itself]
        own = None if version is None else version.project
        listed = [one for one in usable if one[1] == own] + [one for one in usable if one[1] != own]
        return [(key, called, folded) for key, _, retired, called, folded in listed if not retired]

    def carrier_key(self, text: str) -> int:
        """The material meant by a typed carrier. Raises Refused `carrier-unclear` where none or several answer."""
        sure = self.matcher.match(text).found
        if sure is not None:
            return sure.key
        found = [row for row in self._book.find_materials(text) if not row.retired]
        carriers = [row for row in found if row.is_carrier] or found
        starting = [row for row in carriers if fold(row.short).startswith(fold(text))]
        for choice in (carriers, starting):
            if len(choice) == 1:
                return choice[0].key
        raise refuse("carrier-unclear", text=text, names=tuple(row.short for row in carriers[:4]))

    def is_carrier(self, text: str) -> bool:
        """Whether a name of a carrier on this shelf begins so."""
        wanted = fold(text)
        for row in self._book.material_rows() if wanted else ():
            if row.is_carrier and not row.retired:
                no_names = {fold(row.form), *map(fold, row.words)}
                if any(name.startswith(wanted) and name not in no_names for name in row.hay.split("\n")):
                    return True
        return False

    def usual_carrier(self, project: Project | None, material: int | None) -> int | None:
        """The carrier offered: the one last used for the material, the project's own, else ethanol; None where none is."""
        if project is not None and material is not None:
            last = self._book.last_strength(project.key, material)
            if last is not None and last[1] is not None:
                return last[1]
        if project is not None and project.carrier is not None:
            return project.carrier
        carriers = [row for row in self._book.material_rows() if row.is_carrier and not row.retired]
        ethanol = [row for row in carriers if fold(row.name).startswith("ethanol")]
        choice = ethanol or (carriers if len(carriers) == 1 else [])
        return choice[0].key if choice else None

    def usual_strength(self, project: Project | None, material: int) -> float | None:
        """The strength offered: the last used in this project, else neat; None asks, because a solid is never neat."""
        last = None if project is None else self._book.last_strength(project.key, material)
        value = self._book.get(Material, material)
        return None if value is None else default_strength(value, None if last is None else last[0])

    def short(self, key: int | None) -> str:
        """A material's bench name; empty for none."""
        value = None if key is None else self._book.get(Material, key)
        return "" if value is None else value.short

    def carrier(self, key: int | None) -> str:
        """A carrier's name as it is written behind a strength; empty for none."""
        value = None if key is None else self._book.get(Material, key)
        return "" if value is None else value.carrier_name

    def of_line(self, line: Line, shelf: Shelf) -> str:
        """What a line is called."""
        if line.accord is not None:
            accord = shelf.accords.get(line.accord)
            return tr("accord") if accord is None else f"{accord.name} {accord.code}".strip()
        return self.short(line.material)


def _called(project: int, is_retired: bool, name: str, code: str) -> tuple[int, bool, str, str]:
    called = f"{name} {code}".strip()
    return project, is_retired, called, fold(called)


def _rank(wanted: str, *names: str) -> int:
    """0 the whole of a folded name, 1 its beginning, 2 each word begins one of its own and the first its first, 3 each word
    begins one of its own, 4 anything else."""
    return min((_rank_in(wanted, name) for name in names), default=4)


def _rank_in(wanted: str, name: str) -> int:
    if name.startswith(wanted):
        return 0 if name == wanted else 1
    typed, own = wanted.split(), name.split()
    if not all(any(word.startswith(part) for word in own) for part in typed):
        return 4
    return 2 if own[0].startswith(typed[0]) else 3
