# SPDX-License-Identifier: MIT
"""Labels that behave: one cut short with dots where there is no room, and one that flows over lines; names for what has none."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QComboBox, QLabel, QLineEdit, QSizePolicy, QToolButton, QWidget

from desktop.language import tr


class ElidedLabel(QLabel):
    """One line that ends in dots where it is cut, or is `shorter` where that was said; the whole stands in the tool tip then."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Preferred)
        self.shorter = ""

    @property
    def drawn(self) -> str:
        """What is drawn of the text at this width."""
        metrics = self.fontMetrics()
        is_cut = metrics.horizontalAdvance(self.text()) > self.width()
        text = self.shorter if is_cut and self.shorter else self.text()
        return metrics.elidedText(text, Qt.TextElideMode.ElideRight, self.width())

    def minimumSizeHint(self) -> QSize:
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        cut = self.fontMetrics().horizontalAdvance(self.text()) > self.width()
        self.setToolTip(self.text() if cut else "")

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, self.drawn)


class WholeLabel(QLabel):
    """Flows over lines and gives none of them up: what shares its room gives way. Qt asks for the lines at a width of its own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(True)

    def minimumSizeHint(self) -> QSize:
        least = super().minimumSizeHint()
        return QSize(least.width(), max(self.heightForWidth(self.width()), 0) if self.text() else least.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.updateGeometry()


def label(text: str, role: str = "", *, wrap: bool = False) -> QLabel:
    """A plain label in a role of the theme: title, heading, strong, caption, quiet, amber, wrong; '' for body text."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    if role:
        made.setProperty("role", role)
    return made


def name_choices(box: QComboBox, name: str) -> None:
    """Says what a box without a caption is for. Where Qt hands out what is chosen as the name, as under Linux, its description
    still tells; a box that can be typed into hands the name on to its field."""
    box.setAccessibleName(name)
    box.setAccessibleDescription(name)
    if (line := box.lineEdit()) is not None:
        line.setAccessibleName(name)


def clearable(edit: QLineEdit) -> None:
    """Gives a field the button that empties it, with a name."""
    edit.setClearButtonEnabled(True)
    for button in edit.findChildren(QToolButton):
        button.setAccessibleName(tr("Empty the field"))
