# SPDX-License-Identifier: MIT
"""One keystroke of the search in 10,000 materials, beside a bare scan and a bare repaint: python -m benchmarks materials"""

from __future__ import annotations

from itertools import cycle

from benchmarks.timing import bare_table, bench, milliseconds

MATERIALS, WIDTH, HEIGHT = 10_000, 320, 900
TYPED = ("r", "re", "res", "resi", "resin", "resin 1", "resin 12", "resin 1", "resin", "res")


def main() -> None:
    """Prints the median keystroke to repaint and its ratio to the floor."""
    with bench() as (qt, book, session):
        from desktop.pages.bench.drawer import MaterialsDrawer
        from perfumery import Material

        families = ("resin", "peel", "wet stone", "cedar")
        book.put(
            *(
                Material(name=f"Invented material {n} of {families[n % 4]}", synonyms=(f"other {n}",), words=(families[n % 3],))
                for n in range(MATERIALS)
            ),
            what="materials",
        )
        drawer = MaterialsDrawer(session)
        drawer.resize(WIDTH, HEIGHT)
        drawer.show()
        qt.processEvents()
        hays = [row.hay for row in book.material_rows()]
        rows = HEIGHT // 42
        bare = bare_table(rows, 2, WIDTH, HEIGHT, 42)
        qt.processEvents()
        typed, scanned = cycle(TYPED), cycle(TYPED)

        def floor() -> None:
            words = next(scanned).split()
            [hay for hay in hays if all(word in hay for word in words)]
            bare.viewport().update()
            qt.processEvents()

        def keystroke() -> None:
            drawer.search.setText(next(typed))
            qt.processEvents()

        under, took = milliseconds(floor), milliseconds(keystroke)
        print(f"keystroke in {MATERIALS} materials: {took:.1f} ms")
        print(f"bare scan and repaint: {under:.1f} ms, ratio {took / under:.2f}")


if __name__ == "__main__":
    main()
