# SPDX-License-Identifier: MIT
"""What happened when a material was moved: every step from parent to child in which its share changed, and what else moved.

It claims no cause: where several things moved at once, each is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from perfumery.side_by_side import aligned_materials, parts_moved


@dataclass(frozen=True, slots=True)
class Moved:
    """From one version to the next: the share of one thing before and after, parts per 1000; `others` {material: change in parts
    per 1000}, the largest first; `parts_moved` of all, carriers included."""

    before: float
    after: float
    others: Mapping[int, float]
    parts_moved: float

    @property
    def change(self) -> float:
        """Parts per 1000 more."""
        return self.after - self.before


def moved(a: Mapping[int, float], b: Mapping[int, float], before: float, after: float, material: int | None = None) -> Moved:
    """What moved between two columns of {material: parts per 1000}, beside the thing that went from `before` to `after`; where
    that is a material, it is left out of the others."""
    rows = (row for row in aligned_materials([a, b], ()) if row.is_changed and row.material != material)
    changes = {row.material: row.per_thousand[1] - row.per_thousand[0] for row in rows}
    return Moved(before, after, dict(sorted(changes.items(), key=lambda item: -abs(item[1]))), parts_moved(a, b))
