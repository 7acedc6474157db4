# SPDX-License-Identifier: MIT
"""The two plain lists of undo. They hold values, never live objects, and are moved only after the write stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

DEPTH = 200


@dataclass(frozen=True, slots=True)
class Change:
    """What one write did: its name and, for every value touched, (old or None, new or None)."""

    what: str
    pairs: tuple[tuple[Any, Any], ...]
    _kinds: frozenset[type[Any]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # every page asks, of an import of thousands too
        object.__setattr__(self, "_kinds", frozenset(type(new if new is not None else old) for old, new in self.pairs))

    def backwards(self) -> Change:
        """The change that takes this one back."""
        return Change(self.what, tuple((new, old) for old, new in reversed(self.pairs)))

    def touches(self, *kinds: type[Any]) -> bool:
        """Whether a value of one of these kinds is among the pairs."""
        return any(issubclass(kind, kinds) for kind in self._kinds)


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
        for steps in (self.done, self.undone):
            _drop(steps, set(keys))

    def let_go(self, steps: list[Change]) -> None:
        """Forgets the step that was to come next, because it can no longer be."""
        _drop(steps, _keys(steps.pop()))


def _keys(step: Change) -> set[int]:
    return {(new if new is not None else old).key for old, new in step.pairs}


def _drop(steps: list[Change], held: set[int]) -> None:
    # what lies behind a forgotten step goes too where it holds the same values: it would lead from a state that never comes
    for place in reversed(range(len(steps))):
        touched = _keys(steps[place])
        if held & touched:
            held |= touched
            del steps[place]
