# SPDX-License-Identifier: MIT
"""What is due, across the top: code, reading time and how late or how soon; a click goes to that strip."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QMenu, QSizePolicy, QToolButton, QWidget

from desktop.figures import ahead, due_text, lateness
from desktop.language import tr, tr_count
from desktop.theme import Theme

if TYPE_CHECKING:
    from db import Book

GAP = 20
NOTHING = tr("Nothing is due.")
# What lies further ahead than this is not work of today.
AHEAD_AT_MOST = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class DueItem:
    """One thing due, ready to be shown: a reading of a strip, or with `strip` None what is due on bottles."""

    strip: int | None
    code: str
    text: str
    late: bool

    @property
    def whole(self) -> str:
        """Code and text in one."""
        return f"{self.code} {self.text}"


def due_items(book: Book, now: datetime) -> tuple[DueItem, ...]:
    """What is due in a book now, the longest late first, then what comes within a day."""
    shown: list[DueItem] = []
    for due in book.due(now):
        seconds = (now - due.at) / timedelta(seconds=1)
        if -seconds > AHEAD_AT_MOST / timedelta(seconds=1):
            continue
        when = ahead(-seconds) if seconds < 0 else lateness(seconds) if due.point.late else tr("now")
        text = f"{due_text(due.point.due_s)} {when}" if seconds < 0 else f"{due_text(due.point.due_s)}, {when}"
        shown.append(DueItem(due.strip.key or 0, due.strip.code, text, due.point.late))
    served = _services(book, now)
    return (*shown, served) if served is not None else tuple(shown)


def _services(book: Book, now: datetime) -> DueItem | None:
    """Re-tests, dropper caps and solutions ready, in one item: each has its day on the shelf. While a long shelf is still being
    read nothing is said of it."""
    if not book.bottles.are_near:
        return None
    due = [service.kind for service in book.bottles.services(now) if service.state == "due"]
    if not due:
        return None
    tests, caps, ready = (due.count(kind) for kind in ("re-test", "dropper cap", "ready"))
    told = (
        tr_count(tests, "{n} re-test", "{n} re-tests") if tests else "",
        tr_count(caps, "{n} dropper cap", "{n} dropper caps") if caps else "",
        tr_count(ready, "{n} solution ready", "{n} solutions ready") if ready else "",
    )
    shown = ", ".join(filter(None, told))
    return DueItem(None, tr("Shelf"), tr("{things} due", things=shown) if tests or caps else shown, late=True)


class DueLine(QWidget):
    """As many items as fit, the rest behind one button with a menu. `due_chosen(DueItem)`."""

    due_chosen = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.items: tuple[DueItem, ...] = ()
        self._buttons: list[_DueButton] = []
        self._more = QToolButton(self)
        self._more.setProperty("role", "link")
        self._more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._more.clicked.connect(self._on_more_clicked)
        self._more.hide()
        self.setAccessibleName(tr("Due"))
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Expanding)
        theme.changed.connect(self._on_theme_changed)
        self.show_items(())

    def show_items(self, items: tuple[DueItem, ...]) -> None:
        """Shows these items; nothing is touched where nothing changed."""
        if items == self.items and self._buttons:
            return
        self.items = items
        wanted = items or (DueItem(None, "", NOTHING, late=False),)
        while len(self._buttons) < len(wanted):
            button = _DueButton(self._theme, self)
            button.clicked.connect(lambda _=False, b=button: self.due_chosen.emit(b.item))
            self._buttons.append(button)
        for button in self._buttons[len(wanted) :]:
            button.deleteLater()
        del self._buttons[len(wanted) :]
        for button, item in zip(self._buttons, wanted, strict=True):
            button.show_item(item)
        self._lay_out()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._lay_out()

    def _lay_out(self) -> None:
        left, room, fitting = 0, self.width(), 0
        widths = [button.sizeHint().width() for button in self._buttons]
        total = sum(widths) + GAP * (len(widths) - 1)
        rest = 0 if total <= room else self._theme.px(90)
        for width in widths:
            if left + width > room - rest and fitting:
                break
            left += width + GAP
            fitting += 1
        left = 0
        for place, button in enumerate(self._buttons):
            button.setVisible(place < fitting)
            if place < fitting:
                button.setGeometry(left, 0, min(widths[place], room), self.height())
                left += widths[place] + GAP
        hidden = len(self._buttons) - fitting
        self._more.setVisible(hidden > 0)
        self._more.setText(tr("and {number} more", number=hidden))
        self._more.setAccessibleName(tr("{number} more due", number=hidden))
        size = self._more.sizeHint()
        self._more.setGeometry(left, (self.height() - size.height()) // 2, size.width(), size.height())

    def _on_more_clicked(self) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for item in self.items[sum(not button.isHidden() for button in self._buttons) :]:
            menu.addAction(item.whole, lambda item=item: self.due_chosen.emit(item))
        menu.popup(self._more.mapToGlobal(QPoint(0, self._more.height())))

    def _on_theme_changed(self) -> None:
        for button in self._buttons:
            button.updateGeometry()
            button.update()
        self._lay_out()


class _DueButton(QAbstractButton):
    """A bold code and a plain text; amber when late, which the text says too."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self.item = DueItem(None, "", "", late=False)

    def show_item(self, item: DueItem) -> None:
        self.item = item
        active = bool(item.code)
        self.setEnabled(active)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus if active else Qt.FocusPolicy.NoFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor if active else Qt.CursorShape.ArrowCursor)
        self.setText(item.whole.strip())
        self.setAccessibleName(tr("Due: {item}", item=item.whole) if active else item.text)
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(self._code_width() + self._text_width() + 8, self._theme.px(24))

    def _code_width(self) -> int:
        if not self.item.code:
            return 0
        return self._metrics(bold=True).horizontalAdvance(self.item.code + "  ")

    def _text_width(self) -> int:
        return self._metrics(bold=False).horizontalAdvance(self.item.text)

    def _metrics(self, *, bold: bool) -> QFontMetrics:
        return QFontMetrics(self._theme.font(12, bold=bold))

    def enterEvent(self, event: QEvent) -> None:
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, item = self._theme, self.item
        painter = QPainter(self)
        hover = self.underMouse() and self.isEnabled()
        middle = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        box = self.rect().adjusted(4, 0, -4, 0)
        painter.setPen(theme.colour("amber" if item.late else "ink"))
        painter.setFont(theme.font(12, bold=True))
        painter.drawText(box, middle, item.code)
        painter.setPen(theme.colour("ink" if hover else "quiet"))
        painter.setFont(theme.font(12))
        painter.drawText(box.adjusted(self._code_width(), 0, 0, 0), middle, item.text)
        if self.hasFocus():
            painter.setPen(QPen(theme.colour("juniper"), 2))
            painter.drawRoundedRect(self.rect().adjusted(1, 6, -1, -6), 3, 3)
