# SPDX-License-Identifier: MIT
"""The family tree of a project: where each version stands, what it is in a word, and what was decided about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from db import Book, VersionHead
from desktop import figures
from desktop.language import tr, tr_count
from desktop.models.shown import VERSIONS
from perfumery import Decision


@dataclass(frozen=True, slots=True)
class Node:
    """One version: `column` is its generation, `row` its line in the picture; `state` a word: draft, frozen, chosen, rejected or
    retired; `trials` and `strips` that hang on it."""

    head: VersionHead
    column: int
    row: int
    state: str
    trials: int = 0
    strips: int = 0

    @property
    def key(self) -> int:
        """The version."""
        return self.head.key

    @property
    def caption(self) -> str:
        """'chosen · 1 trial · 3 strips'."""
        trials = tr_count(self.trials, "{n} trial", "{n} trials") if self.trials else ""
        strips = tr_count(self.strips, "{n} strip", "{n} strips") if self.strips else ""
        return " · ".join(filter(None, (VERSIONS[self.state], trials, strips)))

    @property
    def spoken(self) -> str:
        """All of it for who cannot see the picture."""
        told = ", ".join((self.head.code, *((tr("starred"),) if self.head.starred else ()), self.caption))
        return f"{told}. {self.head.reason}".strip()


@dataclass(frozen=True, slots=True)
class Family:
    """The nodes from above, by key their parents within it, and the decisions of the project, newest first."""

    nodes: tuple[Node, ...]
    parents: Mapping[int, int] = field(default_factory=dict)
    decisions: tuple[Decision, ...] = ()

    def node(self, key: int | None) -> Node | None:
        """The node of a version."""
        return next((node for node in self.nodes if node.key == key), None)

    def kin(self, key: int) -> list[Node]:
        """The versions of the same tree, itself among them."""

        def root(one: int) -> int:
            while one in self.parents:
                one = self.parents[one]
            return one

        return [node for node in self.nodes if root(node.key) == root(key)]

    def near(self, key: int, way: str) -> int:
        """The version to the 'left' (parent), 'right' (first child), 'up' or 'down'; itself where there is none."""
        here = self.node(key)
        assert here is not None
        if way == "left":
            return self.parents.get(key, key)
        if way == "right":
            return next((node.key for node in self.nodes if self.parents.get(node.key) == key), key)
        place = self.nodes.index(here) + (1 if way == "down" else -1)
        return self.nodes[place].key if 0 <= place < len(self.nodes) else key


def family_of(book: Book, project: int, *, retired: bool) -> Family:
    """The tree of a project; retired versions only where they are wanted or others came from them."""
    heads = list(book.version_heads(project))
    decisions = newest_first(book.all(Decision, project=project))
    trials: dict[int, int] = {}
    for trial in book.trials(project):
        trials[trial.version or 0] = trials.get(trial.version or 0, 0) + 1
    strips: dict[int, int] = {}
    hung = book.strips(project)
    origins = book.origins(strip.bottle for strip in hung)
    for version in (origins[strip.bottle].version for strip in hung):
        if version is not None:
            strips[version.key] = strips.get(version.key, 0) + 1
    shown = {head.key for head in heads if retired or not head.retired}
    for head in reversed(heads):
        # a parent that is retired keeps its children together
        if head.key in shown and head.parent is not None:
            shown.add(head.parent)
    kept = [head for head in heads if head.key in shown]
    parents = {head.key: head.parent for head in kept if head.parent in shown and head.parent is not None}
    nodes: list[Node] = []

    def place(head: VersionHead, column: int) -> None:
        waiting = [(head, column)]
        while waiting:
            one, at = waiting.pop()
            made = Node(one, at, len(nodes), state_of(one, decisions), trials.get(one.key, 0), strips.get(one.key, 0))
            nodes.append(made)
            children = [child for child in kept if parents.get(child.key) == one.key]
            waiting += [(child, at + 1) for child in reversed(children)]

    for head in kept:
        if head.key not in parents:
            place(head, 0)
    return Family(tuple(nodes), parents, decisions)


def newest_first(decisions: Iterable[Decision]) -> tuple[Decision, ...]:
    """Decisions by their day, of one day the later first."""
    return tuple(sorted(decisions, key=lambda one: (one.made_on, one.key or 0), reverse=True))


def decision_on(key: int | None, decisions: Sequence[Decision]) -> Decision | None:
    """The newest decision that names a version, of those with the newest first."""
    return next((one for one in decisions if key in one.chosen or key in one.rejected), None)


def state_of(head: VersionHead, decisions: Sequence[Decision]) -> str:
    """What a version is: the newest decision that names it counts, else whether it was weighed."""
    if head.retired:
        return "retired"
    one = decision_on(head.key, decisions)
    if one is not None:
        return "chosen" if head.key in one.chosen else "rejected"
    return "draft" if head.frozen_at is None else "frozen"


def decided(family: Family, key: int) -> list[str]:
    """What was decided about a version, the newest first: 'Chosen 24 Mar 2025: keeps the base.'"""
    told = []
    for one in family.decisions:
        day = figures.day(one.made_on)
        if key in one.chosen:
            told.append(tr("Chosen {day}: {reason}.", day=day, reason=one.reason))
        elif one.rejected.get(key):
            told.append(tr("Rejected {day}: {reason}.", day=day, reason=one.rejected[key]))
        elif key in one.rejected:
            told.append(tr("Rejected {day}.", day=day))
    return told
