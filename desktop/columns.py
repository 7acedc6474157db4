# SPDX-License-Identifier: MIT
"""Columns declared once per view: header, cells, copy, export and the kept widths all read the same table."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from desktop import figures

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Column(Generic[R]):
    """One column of a view of rows R.

    `key` is what widths and order are kept by, never a position. `text` makes the shown string once per change of the row;
    `plain` the value for copy and export (None: the shown text). `hidden` columns are off until chosen. A column of worked-out
    figures gives its `figure` too: then all of it is shown with as many decimals as its smallest figure needs, within `decimals`
    (least, most), and `text` only where that would show nothing of a figure. `sum` names the sum in the help that it is worked
    out by, and `why` says it with the figures of one row.
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
    figure: Callable[[R], float | None] | None = None
    decimals: tuple[int, int] = (2, 4)
    sum: str = ""
    why: Callable[[R], str] | None = None

    @property
    def head(self) -> str:
        """The title with its unit."""
        return f"{self.title} {self.unit}".strip()


def decimals_of(figures: Iterable[float | None], least: int, most: int) -> int:
    """As many decimals, between least and most, as show the smallest of the figures that is not zero with one digit."""
    smallest = min((abs(figure) for figure in figures if figure), default=1.0)
    return min(max(math.ceil(-math.log10(smallest)), least), most)


def as_text(columns: tuple[Column[R], ...], rows: list[R], *, head: bool = True) -> str:
    """Rows as text for the clipboard: one line each, fields kept apart by tabs, as spreadsheets take it."""
    lines = ["\t".join(c.head for c in columns)] if head else []
    for row in rows:
        lines.append("\t".join(_plain(c, row).replace("\t", " ").replace("\n", " ") for c in columns))
    return "\n".join(lines) + "\n"


def _plain(column: Column[R], row: R) -> str:
    if column.plain is None:
        return column.text(row)
    return figures.pasted(column.plain(row))
