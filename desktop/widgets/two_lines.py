# SPDX-License-Identifier: MIT
"""A list of two-line rows: the name, and below it a quiet caption. Typing in it goes to the search field it belongs to."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from desktop.theme import CAPTION, Theme

SIDE, ABOVE, BETWEEN = 12, 5, 1
FOCUS_BAR = 3


class TwoLineDelegate(QStyledItemDelegate):
    """Paints name and caption; a row of the quiet role is written in quiet ink throughout."""

    def __init__(self, theme: Theme, caption_role: int, quiet_role: int, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._caption_role = caption_role
        self._quiet_role = quiet_role
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed()

    def _on_theme_changed(self) -> None:
        theme = self._theme
        self._font, self._small = theme.font(), theme.font(CAPTION)
        self._metrics, self._small_metrics = QFontMetrics(self._font), QFontMetrics(self._small)
        self._ink, self._quiet, self._line = (theme.colour(name) for name in ("ink", "quiet", "hairline"))
        self._chosen, self._mark = theme.colour("chosen"), theme.colour("juniper")
        self._size = QSize(80, self._metrics.height() + self._small_metrics.height() + 2 * ABOVE + BETWEEN + 1)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return self._size

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        box: QRect = option.rect
        state = option.state
        if state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, self._chosen)
            if state & QStyle.StateFlag.State_HasFocus:
                painter.fillRect(QRect(box.left(), box.top(), FOCUS_BAR, box.height()), self._mark)
        painter.setPen(self._line)
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        width = box.width() - 2 * SIDE
        left, top = box.left() + SIDE, box.top() + ABOVE
        name, caption = index.data(Qt.ItemDataRole.DisplayRole) or "", index.data(self._caption_role) or ""
        painter.setFont(self._font)
        painter.setPen(self._quiet if index.data(self._quiet_role) else self._ink)
        elide, flags = Qt.TextElideMode.ElideRight, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        first = QRect(left, top, width, self._metrics.height())
        painter.drawText(first, flags, self._metrics.elidedText(name, elide, width))
        painter.setFont(self._small)
        painter.setPen(self._quiet)
        second = QRect(left, top + self._metrics.height() + BETWEEN, width, self._small_metrics.height())
        painter.drawText(second, flags, self._small_metrics.elidedText(caption, elide, width))


class TypingList(QTableView):
    """A list of one column whose letters go to a search field. Signals: `typed(text)`, '' for a backspace; `taken` by Enter
    or a double click; `left_upwards` by Up from the first row; `emptied` by Escape."""

    typed = Signal(str)
    taken = Signal()
    left_upwards = Signal()
    emptied = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        # a list view lays out every row at each search; a table of fixed rows only those on screen
        self.horizontalHeader().hide()
        self.horizontalHeader().setStretchLastSection(True)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setMinimumHeight(60)
        self.doubleClicked.connect(self._on_row_double_clicked)

    def fit_rows(self) -> None:
        """Gives every row the height its delegate asks for; after the delegate is set and when the text size changed."""
        height = self.itemDelegate().sizeHint(QStyleOptionViewItem(), QModelIndex()).height()
        self.verticalHeader().setMinimumSectionSize(1)
        self.verticalHeader().setDefaultSectionSize(height)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.hasFocus() and not self.selectionModel().hasSelection():
            painter = QPainter(self.viewport())
            painter.setPen(QPen(self.palette().accent().color(), 2))
            painter.drawRect(self.viewport().rect().adjusted(1, 1, -1, -1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # a card that opens below must not push the chosen row out of sight
        self.scrollTo(self.currentIndex())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, text = event.key(), event.text()
        plain = event.modifiers() in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.KeypadModifier)
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and plain:
            self.taken.emit()
        elif key == Qt.Key.Key_Up and plain and self.currentIndex().row() <= 0:
            self.left_upwards.emit()
        elif key == Qt.Key.Key_Escape:
            self.emptied.emit()
        elif key == Qt.Key.Key_Backspace or (text.isprintable() and text and _is_typing(event)):
            self.typed.emit("" if key == Qt.Key.Key_Backspace else text)
        else:
            super().keyPressEvent(event)

    def _on_row_double_clicked(self) -> None:
        self.taken.emit()


def _is_typing(event: QKeyEvent) -> bool:
    """Letters with Ctrl or Alt are commands; AltGr, which is both, types."""
    held = event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
    both = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
    return held in (Qt.KeyboardModifier.NoModifier, both)
