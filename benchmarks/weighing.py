# SPDX-License-Identifier: MIT
"""A letter in the amount and an accepted figure of 300 lines, beside the repaint of a bare table: python -m benchmarks weighing

The letter makes the whole plan anew: bottles, strengths, order, what was noticed. The figure is the whole road: refused or put on
disk, the plan read again, the next line shown.
"""

from __future__ import annotations

from itertools import cycle
from statistics import median
from time import perf_counter
from typing import Any

from benchmarks.formula import LINES, nested
from benchmarks.timing import bare_table, bench, milliseconds

WIDTH, HEIGHT, FIGURES = 1216, 740, 60


def stocked(book: Any) -> None:
    """A bottle of every stock that the benchmark's formula asks for, more in each than is taken."""
    from db import Arrival
    from perfumery import Balance, Bottle, Material, Version

    carrier = next(book.all(Material))
    wanted = {
        (line.material, line.strength) for version in book.all(Version) for line in version.lines if line.material is not None
    }
    arrivals = [
        Arrival(Bottle(f"W{place}", material=material, strength=strength, carrier=carrier.key if strength < 1 else None), 500.0)
        for place, (material, strength) in enumerate(sorted(wanted))
    ]
    book.bottles.receive(*arrivals)
    book.put(Balance("B1", d_g=0.001, s_g=0.0008))


def main() -> None:
    """Prints the medians and their ratios to the floor."""
    with bench() as (qt, book, session):
        from desktop.pages.weigh.page import WeighPage

        version = nested(book)
        stocked(book)
        session.choose_version(version)
        page = WeighPage(session)
        page.resize(WIDTH, HEIGHT)
        page.show()
        qt.processEvents()
        begin = page.begin
        grid = begin.grid
        bare = bare_table(LINES, 7, grid.width(), grid.height(), grid.rowHeight(0))
        qt.processEvents()

        def repaint() -> None:
            bare.viewport().update()
            qt.processEvents()

        amounts = cycle(("5", "50", "500"))

        def letter() -> None:
            begin.amount.setText(next(amounts))
            begin.amount.textEdited.emit(begin.amount.text())
            qt.processEvents()

        floor, took = milliseconds(repaint), milliseconds(letter, 30)
        rows = begin.model.rowCount()
        print(f"repaint of a bare table: {floor:.1f} ms")
        print(f"a letter in the amount, {rows} lines planned anew: {took:.1f} ms, ÷ bare repaint {took / floor:.1f}")
        begin.amount.setText("500")
        begin.amount.textEdited.emit("500")
        begin.confirm()
        scale, times = page.scale, []
        for _ in range(FIGURES):
            if scale.asks_code:
                # the code of the bottle comes first, where its material stands in more than one strength
                scale.figure.setText(scale.row.bottle.bottle.code)
                scale.confirm()
            scale.figure.setText(f"{scale.row.planned.target_g:.3f}")
            start = perf_counter()
            scale.confirm()
            qt.processEvents()
            times.append(perf_counter() - start)
            if scale.figure.text():
                raise SystemExit(f"not accepted: {scale.said.text()}")
        took = median(times) * 1000
        print(f"a figure accepted, on disk, the next of {rows} lines shown: {took:.1f} ms, ÷ bare repaint {took / floor:.1f}")


if __name__ == "__main__":
    main()
