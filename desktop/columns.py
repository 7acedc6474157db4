# SPDX-License-Identifier: MIT
"""Columns declared once per view: header, cells, copy, export and the kept widths all read the same table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Column(Generic[R]):
    """One column of a view of rows R.

    `key` is what widths and order are kept by, never a position. `text` makes the shown string once per change of the row;
    `plain` the value for copy and export (None: the shown text). `hidden` columns are off until chosen.
    """

    key: str
    title: str
    text: Callable[[R], str]
    width: int = 80
    right: bool = False
    unit: str = ""
    plain: Callable[[R], Any] | None = None
    hidden: bool = False
    tip: str = ""

    @property
    def head(self) -> str:
        """The title with its unit."""
        return f"{self.title} {self.unit}".strip()


def as_text(columns: tuple[Column[R], ...], rows: list[R], *, head: bool = True, mark: str = "\t") -> str:
    """Rows as text for the clipboard or a CSV: one line each, fields kept apart by `mark`."""
    lines = [mark.join(c.head for c in columns)] if head else []
    for row in rows:
        lines.append(mark.join(_plain(c, row).replace(mark, " ").replace("\n", " ") for c in columns))
    return "\n".join(lines) + "\n"


def _plain(column: Column[R], row: R) -> str:
    if column.plain is None:
        return column.text(row)
    value = column.plain(row)
    return "" if value is None else str(value)
