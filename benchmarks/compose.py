# SPDX-License-Identifier: MIT
"""What working out a formula costs, beside a floor measured in the same run: python -m benchmarks compose

An edit recomputes everything, always; that is right only while the sums cost nothing beside the repaint. The floor is a
plain Python loop over the same number of lines: three multiply-adds a line and one fsum for each of the three columns.
Prints medians, the ratio to the floor, and how the cost of a line grows from 300 to 3,000 lines (1.00 is linear).
"""

from __future__ import annotations

import math
from collections.abc import Callable

from benchmarks.timing import milliseconds

LINES, LEVELS = 300, 3


def floor_of(lines: int) -> Callable[[], object]:
    """Three products and sums a line, as plainly as Python can write them."""
    parts = [1 + turn % 17 / 10 for turn in range(lines)]
    strengths = [(1.0, 0.1, 0.01)[turn % 3] for turn in range(lines)]
    prices = [0.01 + turn % 29 / 100 for turn in range(lines)]

    def call() -> object:
        total = math.fsum(parts)
        shares, neat, costs = [], [], []
        for part, strength, price in zip(parts, strengths, prices, strict=True):
            share = part / total
            shares.append(share * 1000 + 0.0)
            neat.append(share * strength + 0.0)
            costs.append(share * price + 0.0)
        return math.fsum(shares), math.fsum(neat), math.fsum(costs)

    return call


def bench_of(lines: int) -> tuple[object, object]:
    """(a version, its shelf): the lines in equal parts on three levels, each level an accord of the one above."""
    from perfumery import Line, Material, Shelf, Version

    materials = {key: Material(name=f"Material {key}", is_carrier=key <= 3, key=key) for key in range(1, 201)}
    accords: dict[int, Version] = {}
    inner: int | None = None
    for level in range(LEVELS):
        own = [
            Line(
                parts=1 + turn % 17 / 10,
                material=4 + (turn * 7 + level) % 197,
                strength=(1.0, 0.1, 0.01)[turn % 3],
                carrier=None if turn % 3 == 0 else 1 + turn % 3,
            )
            for turn in range(lines // LEVELS - (inner is not None))
        ]
        if inner is not None:
            own.append(Line(parts=50.0, accord=inner))
        inner = 1001 + level
        accords[inner] = Version(project=1, code=f"A-{level}", lines=own, key=inner)
    assert inner is not None
    version = accords.pop(inner)
    shelf = Shelf(materials=materials, accords=accords, prices={key: 0.01 * key for key in materials})
    return version, shelf


def main() -> None:
    """Measures and prints; judges nothing, since machines differ."""
    from perfumery import compose

    per_line = {}
    for lines in (LINES, LINES * 10):
        version, shelf = bench_of(lines)
        floor = milliseconds(floor_of(lines))
        took = milliseconds(lambda v=version, s=shelf: compose(v, s, amount_g=5.0))
        per_line[lines] = took / lines
        print(f"{lines:5d} lines over {LEVELS} levels: {took:7.3f} ms, floor {floor:7.3f} ms, ratio {took / floor:5.1f}")
    print(f"cost of a line, {LINES * 10} lines beside {LINES}: {per_line[LINES * 10] / per_line[LINES]:.2f}")


if __name__ == "__main__":
    main()
