# SPDX-License-Identifier: MIT
"""What the benchmarks share: medians of one call, an offscreen program, a book of its own, a bare table of ready strings."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


def milliseconds(call: Callable[[], object], rounds: int = 60, warm: int = 3) -> float:
    """Median time of one call in ms, after a few to warm up."""
    times = []
    for turn in range(rounds + warm):
        start = perf_counter()
        call()
        if turn >= warm:
            times.append(perf_counter() - start)
    return median(times) * 1000


@contextmanager
def bench() -> Iterator[tuple[Any, Any, Any]]:
    """(program, open book, session) on an empty book in a folder of its own."""
    from PySide6.QtWidgets import QApplication

    import db  # before Qt, which slows later imports
    from desktop.session import Session
    from desktop.settings import Settings
    from desktop.theme import Theme

    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder
        qt = QApplication.instance() or QApplication([])
        qt.setStyle("Fusion")
        with db.Book.create(Path(folder) / "bench.stillroom", "bench") as book:
            yield qt, book, Session(book, Theme(qt, "light"), Settings(Path(folder) / "bench.ini"))


def bare_table(rows: int, columns: int, width: int, height: int, row_height: int) -> Any:
    """A shown QTableView of right-aligned ready strings, nothing of ours. Its viewport is the floor of a repaint."""
    from PySide6.QtCore import QAbstractTableModel, Qt
    from PySide6.QtWidgets import QTableView

    cells = [[f"{row * column % 977 / 7:.3f}" for column in range(columns)] for row in range(rows)]
    display, alignment = Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.TextAlignmentRole
    right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter

    class Strings(QAbstractTableModel):
        def rowCount(self, _: Any = None) -> int:  # noqa: N802
            return rows

        def columnCount(self, _: Any = None) -> int:  # noqa: N802
            return columns

        def data(self, index: Any, role: int = display) -> Any:
            if role == display:
                return cells[index.row()][index.column()]
            return right if role == alignment else None

    view = QTableView()
    view.kept_model = Strings()
    view.setModel(view.kept_model)
    view.setShowGrid(False)
    view.setWordWrap(False)
    view.verticalHeader().hide()
    view.verticalHeader().setDefaultSectionSize(row_height)
    for column in range(columns):
        view.setColumnWidth(column, width // columns)
    view.resize(width, height)
    view.show()
    return view
