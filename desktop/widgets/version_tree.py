# SPDX-License-Identifier: MIT
"""The family tree drawn: a row for each version, generations from left to right, reasons on the edges, takes-from dashed."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import QAccessible, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QScrollArea, QWidget

from desktop.language import tr
from desktop.models.tree import Family, Node
from desktop.theme import Theme

ROW, STEP, MARGIN, DOT = 40, 44, 16, 7
STATE_TONES = {"chosen": "moss", "rejected": "quiet", "retired": "quiet", "draft": "amber", "frozen": "ink"}
_WAYS = {Qt.Key.Key_Left: "left", Qt.Key.Key_Right: "right", Qt.Key.Key_Up: "up", Qt.Key.Key_Down: "down"}


class VersionTree(QWidget):
    """Arrows walk it: `chosen(key)`; Enter `opened(key)`, Space `ticked(key)`."""

    chosen = Signal(int)
    opened = Signal(int)
    ticked = Signal(int)
    accessible_role = QAccessible.Role.Graphic

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.family = Family(())
        self.key: int | None = None
        self.marks: tuple[int, ...] = ()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(tr("Family tree of the versions"))
        theme.changed.connect(self._on_theme_changed)

    def show_family(self, family: Family, key: int | None, marks: tuple[int, ...]) -> None:
        """Shows a tree, the chosen version and the ticked ones."""
        self.family, self.marks = family, marks
        self.key = key if family.node(key) is not None else next((node.key for node in family.nodes), None)
        self._on_theme_changed()
        node = family.node(self.key)
        self.setAccessibleDescription("" if node is None else node.spoken)

    def sizeHint(self) -> QSize:
        rows, px = len(self.family.nodes), self._theme.px
        return QSize(px(700), px(rows * ROW + 2 * MARGIN))

    def row_rect(self, node: Node) -> QRect:
        """Where a version's row stands."""
        px = self._theme.px
        return QRect(0, px(MARGIN + node.row * ROW), self.width(), px(ROW))

    def _dot(self, node: Node) -> QPointF:
        return QPointF(self._theme.px(MARGIN + DOT + node.column * STEP), self.row_rect(node).center().y())

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, seen = self._theme, event.rect()
        by_key = {node.key: node for node in self.family.nodes}
        for node in self.family.nodes:
            parent = by_key.get(self.family.parents.get(node.key, -1))
            other = by_key.get(node.head.takes_from or -1)
            for source, dashed in ((parent, False), (other, True)):
                if source is not None and not (max(source.row, node.row) * theme.px(ROW) < seen.top() - theme.px(ROW)):
                    self._edge(painter, source, node, dashed=dashed)
        for node in self.family.nodes:
            if self.row_rect(node).intersects(seen):
                self._row(painter, node)
        painter.end()

    def _edge(self, painter: QPainter, source: Node, node: Node, *, dashed: bool) -> None:
        pen = QPen(self._theme.colour("quiet"), 1.5)
        if dashed:
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        start, end = self._dot(source), self._dot(node)
        offset = self._theme.px(5) if dashed else 0
        corner = QPointF(start.x() + offset, end.y() + offset)
        painter.drawLine(QPointF(start.x() + offset, start.y()), corner)
        painter.drawLine(corner, QPointF(end.x(), end.y() + offset))

    def _row(self, painter: QPainter, node: Node) -> None:
        theme, rect, dot = self._theme, self.row_rect(node), self._dot(node)
        px = theme.px
        if node.key == self.key:
            painter.fillRect(rect.adjusted(int(dot.x()) + px(12), 2, -px(4), -2), theme.colour("chosen"))
            if self.hasFocus():
                painter.setPen(QPen(theme.colour("juniper"), 2))
                painter.drawRect(rect.adjusted(int(dot.x()) + px(12), 2, -px(5), -3))
        painter.setPen(QPen(theme.colour("juniper"), 2))
        painter.setBrush(theme.colour("juniper" if node.key in self.marks else "sheet"))
        painter.drawEllipse(dot, px(DOT) - 1, px(DOT) - 1)
        left, middle = int(dot.x()) + px(20), rect.center().y()
        painter.setFont(theme.font(bold=True))
        painter.setPen(theme.colour("quiet" if node.state in ("rejected", "retired") else "ink"))
        code = f"{node.head.code}{' ★' if node.head.starred else ''}{' ' + node.head.name if node.head.name else ''}"
        painter.drawText(QPointF(left, middle - px(2)), code)
        left_of_caption = left + painter.fontMetrics().horizontalAdvance(code) + px(10)
        painter.setFont(theme.font())
        painter.setPen(theme.colour(STATE_TONES[node.state]))
        painter.drawText(QPointF(left_of_caption, middle - px(2)), node.caption)
        painter.setFont(theme.font(11))
        painter.setPen(theme.colour("quiet"))
        taken = next((one.head.code for one in self.family.nodes if one.key == node.head.takes_from), "")
        reason = tr("takes from {version}: {reason}", version=taken, reason=node.head.reason) if taken else node.head.reason
        room = self.width() - left - px(12)
        painter.drawText(
            QPointF(left, middle + px(13)), painter.fontMetrics().elidedText(reason, Qt.TextElideMode.ElideRight, room)
        )

    def choose(self, key: int) -> None:
        """Makes a version the chosen one and brings it into sight."""
        self.key = key
        node = self.family.node(key)
        if node is not None:
            self.setAccessibleDescription(node.spoken)
            area = self.parent().parent() if self.parent() is not None else None
            if isinstance(area, QScrollArea):
                centre = self.row_rect(node).center()
                area.ensureVisible(0, centre.y(), 0, self._theme.px(ROW))
        self.update()
        self.chosen.emit(key)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if self.key is None or event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            super().keyPressEvent(event)
        elif key in _WAYS:
            self.choose(self.family.near(self.key, _WAYS[Qt.Key(key)]))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit(self.key)
        elif key == Qt.Key.Key_Space:
            self.ticked.emit(self.key)
        else:
            super().keyPressEvent(event)

    def _at(self, event: QMouseEvent) -> Node | None:
        point = event.position().toPoint()
        return next((node for node in self.family.nodes if self.row_rect(node).contains(point)), None)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        node = self._at(event)
        if node is not None:
            self.choose(node.key)
            if abs(event.position().x() - self._dot(node).x()) <= self._theme.px(DOT + 3):
                self.ticked.emit(node.key)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        node = self._at(event)
        if node is not None:
            self.opened.emit(node.key)

    def _on_theme_changed(self) -> None:
        self.setMinimumHeight(self.sizeHint().height())
        self.updateGeometry()
        self.update()
