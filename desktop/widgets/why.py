# SPDX-License-Identifier: MIT
"""Why a figure is what it is: a small card beside it with the sum it is worked out by, its formula and where that comes from."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QFrame, QPushButton, QVBoxLayout, QWidget

from desktop.help_text import sums
from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.labels import label

WIDTH = 420


@dataclass(frozen=True, slots=True)
class Why:
    """The sum of one figure, what is said of it with its own figures, and where on the screen the figure stands."""

    sum: str
    own: str
    place: QRect


def why_of(widget: QWidget | None) -> Why | None:
    """What the widget in focus, or one it stands in, has to say of the figure that is current; None where nothing is a sum."""
    while widget is not None:
        asked = getattr(widget, "why", None)
        found = asked() if callable(asked) else None
        if isinstance(found, Why):
            return found
        widget = widget.parentWidget()
    return None


class WhyCard(QFrame):
    """Lies over its window. `more_asked(sum)` for the place in the help; Escape, or leaving it, puts it away."""

    more_asked = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._sum = ""
        self._back: QWidget | None = None
        self.hide()
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Why this value"))
        self.title, self.own = label("", "heading", wrap=True), label("", "strong", wrap=True)
        self.about, self.formula = label("", wrap=True), label("", wrap=True)
        self.source = label("", "quiet", wrap=True)
        self.more = QPushButton(tr("More in the help"), self)
        self.more.setProperty("role", "link")
        self.more.clicked.connect(self._on_more_clicked)
        self.more.installEventFilter(self)
        clicked_by_enter(self.more)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(8)
        for part in (self.title, self.own, self.about, self.formula, self.source, self.more):
            column.addWidget(part)

    def tell(self, why: Why) -> None:
        """Shows a sum below its figure, or above where there is no room."""
        one = sums()[why.sum]
        self._sum = why.sum
        self._theme.dress(self)
        self.title.setText(one.title)
        self.own.setText(why.own)
        self.own.setVisible(bool(why.own))
        self.about.setText(one.about)
        self.formula.setText(one.formula)
        self.source.setText(tr("Source: {source}", source=one.source))
        self.setAccessibleDescription("\n".join(filter(None, (one.title, why.own, one.about, one.tip))))
        self.setFixedWidth(self._theme.px(WIDTH))
        self.setFixedHeight(self.layout().heightForWidth(self.width()))
        self.move(self._beside(why.place))
        self._back = QApplication.focusWidget()
        self.show()
        self.raise_()
        self.more.setFocus(Qt.FocusReason.PopupFocusReason)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.FocusOut:
            self.hide()
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)

    def leave(self) -> None:
        """Puts the card away; the focus goes back to the figure."""
        back, self._back = self._back, None
        if back is not None:
            back.setFocus(Qt.FocusReason.PopupFocusReason)
        self.hide()

    def _beside(self, place: QRect) -> QPoint:
        room = self.parentWidget().rect().adjusted(8, 8, -8, -8)
        at = self.parentWidget().mapFromGlobal(place.topLeft())
        left = max(room.left(), min(at.x(), room.right() - self.width()))
        below = at.y() + place.height() + 4
        fits = below + self.height() <= room.bottom()
        return QPoint(left, below if fits else max(room.top(), at.y() - 4 - self.height()))

    def _on_more_clicked(self) -> None:
        self.leave()
        self.more_asked.emit(self._sum)
