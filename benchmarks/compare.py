# SPDX-License-Identifier: MIT
"""Six versions of 300 lines side by side, beside a bare table of as many rows: python -m benchmarks compare

Reading them, working them out, the first picture after that, and a scroll step; then limits on all six.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import cycle
from typing import Any

from benchmarks.formula import LINES, nested
from benchmarks.timing import bare_table, bench, milliseconds

VERSIONS, WIDTH, HEIGHT = 6, 1216, 740


def related(book: Any) -> list[int]:
    """Six versions of one formula, each with other parts on every third line."""
    from perfumery import Version

    first = book.get(Version, nested(book))
    keys = [first.key]
    for number in range(1, VERSIONS):
        lines = tuple(
            replace(line, key=None, parts=line.parts * (1 + number / 10) if place % 3 == number % 3 else line.parts)
            for place, line in enumerate(first.lines)
        )
        keys.append(book.put(Version(first.project, f"C-{number}", lines, parent=keys[-1], reason="another step"))[0].key)
    return keys


def main() -> None:
    """Prints the medians and their ratios to the floor."""
    with bench() as (qt, book, session):
        from desktop.models.compared import Compared
        from desktop.models.side import side_of
        from desktop.pages.compare.side_view import SideView
        from perfumery import Limit, Version, limits

        keys = related(book)
        session.choose_version(keys[0])
        compared = Compared(session)
        compared.choose(keys)
        view = SideView(session, compared)
        view.resize(WIDTH, HEIGHT)
        view.smelled.curves.load()
        view.show()
        qt.processEvents()
        versions = [book.get(Version, key) for key in keys]
        read = milliseconds(lambda: side_of(book, versions), 15)
        boxes = cycle((True, False))

        def picture() -> None:
            view.unchanged.setChecked(next(boxes))
            view.grid.viewport().repaint()

        def shown() -> None:
            view._show_head()
            view._show_rows()
            view.grid.viewport().repaint()

        first, other = milliseconds(shown, 15), milliseconds(picture, 20)
        view.unchanged.setChecked(True)
        rows, columns = view.grid.table.rowCount(), view.grid.table.columnCount()
        bare = bare_table(rows, columns, view.grid.width(), view.grid.height(), view.grid.rowHeight(0))
        qt.processEvents()

        def scroll(table: Any) -> Any:
            bar, steps = table.verticalScrollBar(), cycle((1, 1, 1, -1, -1, -1))

            def step() -> None:
                bar.setValue(bar.value() + 5 * next(steps))
                table.viewport().repaint()

            return step

        floor, took = milliseconds(scroll(bare), 100), milliseconds(scroll(view.grid), 100)
        print(f"{VERSIONS} versions of {LINES} lines: read and worked out {read:.0f} ms, first picture {first:.0f} ms, ", end="")
        print(f"with or without what stayed {other:.0f} ms;")
        print(f"  scroll step of {rows} rows in {columns} columns {took:.1f} ms, bare {floor:.1f} ms, ratio {took / floor:.2f}")
        shelf = book.shelf(versions[0])
        given = [Limit(material.name, 0.01, material=key) for key, material in list(shelf.materials.items())[:100]]
        one = milliseconds(lambda: limits(versions[0], shelf, 0.12, given), 15)
        print(f"  100 limits on {LINES} lines: {one:.1f} ms")


if __name__ == "__main__":
    main()
