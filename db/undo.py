# SPDX-License-Identifier: MIT
"""The two plain lists of undo. They hold values, never live objects, and are moved only after the write stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from perfumery import Value

DEPTH = 200


@dataclass(frozen=True, slots=True)
class Change:
    """What one write did: its name and, for every value touched, (old or None, new or None)."""

    what: str
    pairs: tuple[tuple[Any, Any], ...]

    def backwards(self) -> Change:
        """The change that takes this one back."""
        return Change(self.what, tuple((new, old) for old, new in reversed(self.pairs)))

    def touches(self, *kinds: type[Any]) -> bool:
        """Whether a value of one of these kinds is among the pairs."""
        return any(isinstance(new if new is not None else old, kinds) for old, new in self.pairs)


class Steps:
    """Steps done and undone, at most DEPTH deep."""

    def __init__(self) -> None:
        self.done: list[Change] = []
        self.undone: list[Change] = []

    def add(self, step: Change) -> None:
        """A new step: what was undone can no longer be done again."""
        self.done.append(step)
        del self.done[:-DEPTH]
        self.undone.clear()

    def drop_touching(self, keys: frozenset[int]) -> None:
        """Forgets every step that holds one of these values: a frozen version cannot be taken back to before."""

        def free(step: Change) -> bool:
            return not any(_key(old, new) in keys for old, new in step.pairs)

        self.done = [step for step in self.done if free(step)]
        self.undone = [step for step in self.undone if free(step)]


def _key(old: Value | None, new: Value | None) -> int | None:
    value = new if new is not None else old
    return None if value is None else value.key
