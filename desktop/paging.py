# SPDX-License-Identifier: MIT
"""Rich text on A4: parts whose rows are never torn, their heads again on every page they stand on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPageSize, QPaintDevice, QPainter, QPen, QTextDocument, QTextTable

from desktop.language import tr

MM_PER_INCH = 25.4
POINTS, SMALL = 9.0, 7.5
# mm: the paper's own edges; the running head and the page number stand inside them
LEFT_MM, TOP_MM, BOTTOM_MM = 16.0, 18.0, 16.0
# So many are measured at once: more would keep the screen waiting where this runs beside it.
AT_ONCE = 40
Step = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a document: rows that are never torn, between what opens and closes them on every page they stand on. Where it
    opens a table, each row is one of it."""

    opens: str
    rows: tuple[str, ...]
    closes: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """What is printed: its title, what stands over every page after the first, and its parts."""

    title: str
    running_head: str
    parts: tuple[Part, ...]


def page_html(rows: Sequence[tuple[Part, str]]) -> str:
    """One page of rows, each part opened and closed on it."""
    told = []
    for part, own in groupby(rows, key=lambda pair: pair[0]):
        told.append(f"{part.opens}{''.join(row for _, row in own)}{part.closes}")
    return f"<html><body style='color: #000000;'>{''.join(told)}</body></html>"


class Pages:
    """A document laid out for the paper of a device, A4 in portrait. `step(done, of)` is told the rows that have found their
    page, and may raise to stop.

    Only where each page begins is kept, and a page is laid out again when it is painted: a whole book has thousands of
    them.
    """

    def __init__(self, document: Document, device: QPaintDevice, step: Step = lambda done, of: None) -> None:
        self._document = document
        self._device = device
        self._per_mm = device.logicalDpiX() / MM_PER_INCH
        paper = QPageSize(QPageSize.PageSizeId.A4).size(QPageSize.Unit.Millimeter)
        self._width = (paper.width() - 2 * LEFT_MM) * self._per_mm
        self._height = (paper.height() - TOP_MM - BOTTOM_MM) * self._per_mm
        self._rows = [(part, row) for part in document.parts for row in part.rows]
        self._begins = [0]
        heads, heights = self._measured(step)
        while self._begins[-1] < len(self._rows):
            begin = self._begins[-1]
            step(len(self._rows) + begin, 2 * len(self._rows))
            self._begins.append(begin + self._fitting(begin, heads, heights))

    @property
    def count(self) -> int:
        """How many pages it takes."""
        return len(self._begins) - 1

    def page(self, at: int) -> QTextDocument:
        """One page, counted from 0, laid out."""
        return self._laid_out(self._rows[self._begins[at] : self._begins[at + 1]])

    def _measured(self, step: Step) -> tuple[list[float], list[float]]:
        """For each row the height of what opens its part, and its own."""
        heads: list[float] = []
        heights: list[float] = []
        for part in self._document.parts:
            for start in range(0, len(part.rows), AT_ONCE):
                step(len(heights), 2 * len(self._rows))
                head, own = self._heights([(part, row) for row in part.rows[start : start + AT_ONCE]])
                heads += [head] * len(own)
                heights += own
        return heads, heights

    def _heights(self, rows: Sequence[tuple[Part, str]]) -> tuple[float, list[float]]:
        laid = self._laid_out(rows)
        whole, layout = laid.size().height(), laid.documentLayout()
        table = next((frame for frame in laid.rootFrame().childFrames() if isinstance(frame, QTextTable)), None)
        if table is None or table.rows() < len(rows):
            return 0.0, [whole / len(rows)] * len(rows)
        tops = [
            layout.blockBoundingRect(table.cellAt(row, 0).firstCursorPosition().block()).top()
            for row in range(table.rows() - len(rows), table.rows())
        ]
        return tops[0], [below - above for above, below in pairwise([*tops, whole])]

    def _fitting(self, begin: int, heads: Sequence[float], heights: Sequence[float]) -> int:
        """How many rows from one on a page holds; at least one."""
        height, end, part = 0.0, begin, None
        while end < len(self._rows):
            height += heights[end] + (0.0 if self._rows[end][0] is part else heads[end])
            if height > self._height and end > begin:
                break
            part, end = self._rows[end][0], end + 1
        # columns that take the width they need may break their texts elsewhere beside other rows
        while end > begin + 1 and self._laid_out(self._rows[begin:end]).size().height() > self._height:
            end -= 1
        return end - begin

    def _laid_out(self, rows: Sequence[tuple[Part, str]]) -> QTextDocument:
        laid = QTextDocument()
        laid.documentLayout().setPaintDevice(self._device)
        laid.setDocumentMargin(0)
        laid.setDefaultFont(_font(POINTS))
        laid.setHtml(page_html(rows))
        laid.setTextWidth(self._width)
        return laid

    def paint(self, painter: QPainter, at: int) -> None:
        """Paints one page, counted from 0, whose paper begins at the painter's origin."""
        per_mm = self._per_mm
        painter.save()
        painter.translate(LEFT_MM * per_mm, TOP_MM * per_mm)
        self.page(at).drawContents(painter)
        painter.restore()
        painter.save()
        painter.setFont(_font(SMALL))
        painter.setPen(QPen(QColor(Qt.GlobalColor.black)))
        left, band = LEFT_MM * per_mm, 5 * per_mm
        if at:
            above = QRectF(left, (TOP_MM - 8) * per_mm, self._width, band)
            side = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
            painter.drawText(above, side, self._document.running_head)
        below = QRectF(left, TOP_MM * per_mm + self._height + 4 * per_mm, self._width, band)
        side = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(below, side, tr("page {page} of {pages}", page=at + 1, pages=self.count))
        painter.restore()


def _font(points: float) -> QFont:
    """The system's own font at a size of the paper."""
    font = QFont(QGuiApplication.font().family())
    font.setPointSizeF(points)
    return font
