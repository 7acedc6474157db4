# SPDX-License-Identifier: MIT
"""One edit and one scroll step in a nested formula of 300 lines, beside a bare table: python -m benchmarks formula

The floors are the repaint and the scroll step of a plain QTableView with as many visible cells of ready strings. The edit is
the whole road: typed text, put into the book on disk, composed anew, rows that differ repainted.
"""

from __future__ import annotations

from itertools import cycle
from typing import Any

from benchmarks.timing import bare_table, bench, milliseconds

LINES, WIDTH, HEIGHT = 300, 1180, 900


def nested(book: Any) -> int:
    """A version of 300 lines, of which three are accords of accords; returns its key."""
    from perfumery import Bottle, Line, Material, Project, Version

    materials = book.put(*(Material(name=f"Material {n:03d}", is_carrier=n < 3) for n in range(200)), what="materials")
    book.put(*(Bottle(code=f"B{m.key}", material=m.key, price_per_g=0.1) for m in materials), what="prices")
    (project,) = book.put(Project(code="B", name="Bench"))

    def lines(count: int) -> list[Any]:
        made = []
        for n in range(count):
            diluted = n % 3 == 0
            made.append(
                Line(parts=1 + n % 17, material=materials[3 + n % 197].key, strength=0.1 if diluted else 1.0,
                     carrier=materials[0].key if diluted else None)
            )
        return made

    (inner,) = book.put(Version(project=project.key, code="B-0", name="inner accord", lines=lines(30)))
    (middle,) = book.put(
        Version(project=project.key, code="B-1", name="middle", lines=[*lines(30), Line(parts=9, accord=inner.key)])
    )
    accords = [Line(parts=20, accord=key) for key in (inner.key, middle.key, middle.key)]
    (whole,) = book.put(Version(project=project.key, code="B-2", lines=[*lines(LINES - 3), *accords]))
    return int(whole.key)


def main() -> None:
    """Prints the medians and their ratios to the floors."""
    with bench() as (qt, book, session):
        from PySide6.QtCore import Qt

        from desktop.pages.bench.formula import FormulaPane

        version = nested(book)
        session.choose_version(version)
        pane = FormulaPane(session)
        pane.resize(WIDTH, HEIGHT)
        pane.show()
        qt.processEvents()
        grid, model = pane.grid, pane.grid.table
        for at in range(model.columnCount()):
            grid.setColumnHidden(at, model.columns[at].key == "remark")
        qt.processEvents()
        shown = sum(not grid.isColumnHidden(at) for at in range(model.columnCount()))
        bare = bare_table(LINES, shown, grid.width(), grid.height(), grid.rowHeight(0))
        qt.processEvents()

        def repaint() -> None:
            bare.viewport().update()
            qt.processEvents()

        parts = model.place_of("parts")
        values = cycle(("11", "12.5", "14"))

        def edit() -> None:
            assert model.setData(model.index(4, parts), next(values), Qt.ItemDataRole.EditRole)
            qt.processEvents()

        def scroll(view: Any) -> Any:
            bar = view.verticalScrollBar()

            def step() -> None:
                bar.setValue(0 if bar.value() >= bar.maximum() - 3 else bar.value() + 3)
                qt.processEvents()

            return step

        from perfumery import compose

        shelf = book.shelf(session.version)
        sums = milliseconds(lambda: compose(session.version, shelf, 5.0, 0.12))
        written = milliseconds(lambda: book.put(_other(session.version), what="edit"))
        floor, took = milliseconds(repaint), milliseconds(edit)
        rows = grid.viewport().height() // grid.rowHeight(0)
        print(f"repaint of a bare table, {shown} columns × {rows} rows: {floor:.1f} ms; sums {sums:.2f} ms")
        print(f"one put on disk, rows worked out: {written:.1f} ms")
        print(f"one edit in {LINES} nested lines to repaint: {took:.1f} ms, ÷ bare repaint {took / floor:.2f}")
        floor, took = milliseconds(scroll(bare), 100), milliseconds(scroll(grid), 100)
        print(f"scroll step: {took:.1f} ms, bare {floor:.1f} ms, ratio {took / floor:.2f}")


def _other(version: Any) -> Any:
    from dataclasses import replace

    first = replace(version.lines[0], parts=version.lines[0].parts + 1)
    return replace(version, lines=(first, *version.lines[1:]))


if __name__ == "__main__":
    main()
