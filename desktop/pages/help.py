# SPDX-License-Identifier: MIT
"""The help: chapters at the left, text at the right, and a line that finds in all of them. It reads nothing but what ships."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt, QUrl, Signal
from PySide6.QtGui import QKeyEvent, QShowEvent, QTextCursor
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from desktop.help_text import CHAPTERS, Section, chapter, heading_of, sections
from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.labels import clearable, label
from desktop.widgets.markdown import dressed, found_places, heading_at

LIST_WIDTH, TEXT_WIDTH = 250, 760
_PLACE = Qt.ItemDataRole.UserRole
TITLES = dict(CHAPTERS)


class HelpPage(QWidget):
    """`left` when Escape or the button goes back to where one was."""

    left = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._version = ""
        self._shown = (CHAPTERS[0][0], "")
        self._is_stale = True
        self._trail: list[tuple[str, str]] = []
        self.title = label(tr("Help"), "title")
        self.find = QLineEdit(self)
        self.find.setPlaceholderText(tr("Find in the help"))
        self.find.setAccessibleName(tr("Find in the help"))
        self.find.setToolTip(
            tr("Ctrl+F. Every word is looked for in all chapters. Enter goes to the first place, Down to the list.")
        )
        clearable(self.find)
        self.list = QListWidget(self)
        self.list.setAccessibleName(tr("Chapters"))
        self.list.setWordWrap(True)
        self.list.setProperty("role", "choices")
        self.none = label(tr("Nothing in the help holds all of these words."), "quiet", wrap=True)
        self.none.hide()
        self.back = QPushButton(tr("Back"), self)
        self.back.setToolTip(tr("Back to where you were (Esc)"))
        self.text = _Text(self)
        self.text.setAccessibleName(tr("Text"))
        self._lay_out()
        self.find.textChanged.connect(lambda _: self._show_list())
        self.find.returnPressed.connect(self._on_find_entered)
        self.list.currentItemChanged.connect(lambda item, _: self._on_item_chosen(item))
        self.list.itemActivated.connect(lambda _: self.text.setFocus(Qt.FocusReason.OtherFocusReason))
        self.back.clicked.connect(self.left)
        self.text.anchorClicked.connect(self._on_link_clicked)
        theme.changed.connect(self._on_theme_changed)
        self.setAccessibleName(tr("Help"))

    def _lay_out(self) -> None:
        side = QVBoxLayout()
        side.setSpacing(8)
        for part in (self.title, self.find, self.none):
            side.addWidget(part)
        side.addWidget(self.list, 1)
        side.addWidget(self.back, 0, Qt.AlignmentFlag.AlignLeft)
        self._side = QWidget(self)
        self._side.setLayout(side)
        side.setContentsMargins(0, 0, 0, 0)
        across = QHBoxLayout(self)
        across.setContentsMargins(24, 16, 24, 16)
        across.setSpacing(24)
        across.addWidget(self._side)
        across.addWidget(self.text, 1)
        across.addStretch(0)
        self._fit()

    # what the window asks ---------------------------------------------------------------------------------------------

    def open(self, name: str = "", section: str = "", *, version: str = "") -> None:
        """Opens a chapter, at a section named as in a link; without a name the one that was read last."""
        if version and version != self._version:
            self._version, self._is_stale = version, True
        name = name or self._shown[0]
        if self.find.text():
            self.find.clear()
        self._trail.clear()
        self._show_list()
        self._go(name, section)
        self.take_focus()

    def take_focus(self) -> None:
        """The focus to the text, so that it is read on by keys at once."""
        self.text.setFocus(Qt.FocusReason.OtherFocusReason)

    # showing ----------------------------------------------------------------------------------------------------------

    def _show_list(self) -> None:
        """Chapters, or while something is looked for the sections that hold it."""
        words = self.find.text().casefold().split()
        found = [one for one in sections() if one.holds(words)] if words else []
        found.sort(key=lambda one: not all(word in one.title.casefold() for word in words))
        with QSignalBlocker(self.list):
            self.list.clear()
            if words:
                for one in found:
                    self._add(_told(one), (one.chapter, one.place))
            else:
                for name, title in CHAPTERS:
                    self._add(title, (name, ""))
                self._mark()
        self.none.setVisible(bool(words) and not found)
        self.list.setAccessibleName(tr("Places found") if words else tr("Chapters"))
        self.text.mark(words)

    def _add(self, text: str, place: tuple[str, str]) -> None:
        item = QListWidgetItem(text)
        item.setData(_PLACE, place)
        self.list.addItem(item)

    def _mark(self) -> None:
        """The chapter that is shown is the chosen one of the list of chapters."""
        if not self.find.text():
            with QSignalBlocker(self.list):
                self.list.setCurrentRow(next((at for at, (name, _) in enumerate(CHAPTERS) if name == self._shown[0]), 0))

    def _go(self, name: str, section: str) -> None:
        if self._shown[0] != name or self._is_stale:
            self._is_stale = False
            self.text.read(chapter(name), self._theme)
            if name == "cautions" and self._version:
                self.text.append_line(
                    tr("Stillroom, a perfumer's bench book. Version: {version}. MIT licence.", version=self._version)
                )
        self._shown = (name, section)
        self.text.mark(self.find.text().casefold().split())
        self.text.go_to(heading_of(name, section) if section else "")
        self._mark()

    # what happens -----------------------------------------------------------------------------------------------------

    def _on_item_chosen(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            name, section = item.data(_PLACE)
            self._go(name, section)

    def _on_find_entered(self) -> None:
        if self.list.count() and self.find.text():
            self.list.setCurrentRow(0)
            self.text.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_link_clicked(self, link: QUrl) -> None:
        name = link.path().removesuffix(".md")
        if not link.scheme() and name in TITLES:
            self._trail.append(self._shown)
            self._go(name, link.fragment())

    def _on_theme_changed(self) -> None:
        self._fit()
        self._is_stale = True
        if self.isVisible():
            self._go(*self._shown)

    def _fit(self) -> None:
        self._side.setFixedWidth(self._theme.px(LIST_WIDTH))
        self.text.setMaximumWidth(self._theme.px(TEXT_WIDTH))

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._go(*self._shown)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            if self.find.text():
                self.find.clear()
                self.find.setFocus(Qt.FocusReason.OtherFocusReason)
            else:
                self.left.emit()
        elif event.key() == Qt.Key.Key_F and event.modifiers() == Qt.KeyboardModifier.ControlModifier:
            self.find.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.find.selectAll()
        elif event.key() == Qt.Key.Key_Down and self.find.hasFocus() and self.list.count():
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)
            self.list.setCurrentRow(max(self.list.currentRow(), 0))
        elif event.key() == Qt.Key.Key_Left and event.modifiers() == Qt.KeyboardModifier.AltModifier and self._trail:
            self._go(*self._trail.pop())
        else:
            super().keyPressEvent(event)


def _told(one: Section) -> str:
    title = TITLES[one.chapter]
    return one.title if one.title.casefold() == title.casefold() else f"{one.title}\n{title}"


class _Text(QTextBrowser):
    """A chapter as dressed text. It loads nothing: a link only says that it was clicked."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setOpenLinks(False)
        self.setFrameShape(QTextBrowser.Shape.NoFrame)
        self._theme: Theme | None = None

    def read(self, text: str, theme: Theme) -> None:
        """Shows a chapter from its beginning."""
        self._theme = theme
        self.setDocument(dressed(text, theme, self))

    def append_line(self, text: str) -> None:
        """A line below the first paragraph, as the rest of the text."""
        cursor = QTextCursor(self.document())
        cursor.movePosition(QTextCursor.MoveOperation.End)
        cursor.insertBlock()
        cursor.insertText(text)

    def go_to(self, section: str) -> None:
        """Brings a heading to the top."""
        place = heading_at(self.document(), section) if section else 0
        cursor = QTextCursor(self.document())
        cursor.setPosition(place)
        self.setTextCursor(cursor)
        at = self.cursorRect(cursor).top() + self.verticalScrollBar().value()
        self.verticalScrollBar().setValue(at - 8 if section else 0)

    def mark(self, words: list[str]) -> None:
        """Marks every place of these words."""
        theme = self._theme
        marks: list[Any] = [] if theme is None else found_places(self.document(), words, theme)
        self.setExtraSelections(marks)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Left and event.modifiers() == Qt.KeyboardModifier.AltModifier:
            event.ignore()  # the page knows what was read before
        else:
            super().keyPressEvent(event)

    def loadResource(self, kind: int, name: QUrl | str) -> Any:
        return None
