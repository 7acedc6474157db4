# SPDX-License-Identifier: MIT
"""A line for several words, kept apart by commas, each completed while it is typed."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QStringListModel, Qt
from PySide6.QtWidgets import QCompleter, QLineEdit, QWidget

from desktop.theme import Theme


class WordEntry(QLineEdit):
    """A QLineEdit whose completer works on the word under the cursor, not on the whole line."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._known = QStringListModel(self)
        self._helper = QCompleter(self._known, self)
        self._helper.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self._helper.setFilterMode(Qt.MatchFlag.MatchContains)
        # The line shows one word of several, so the completer is not the line's own: it would replace the whole text.
        self._helper.setWidget(self)
        self._helper.activated.connect(self._on_helper_activated)
        self.textEdited.connect(self._on_text_edited)

    def offer(self, words: Iterable[str]) -> None:
        """The words that are offered."""
        self._known.setStringList(list(words))

    def words(self) -> tuple[str, ...]:
        """The words typed, each once, in their order."""
        return tuple(dict.fromkeys(word for part in self.text().split(",") if (word := " ".join(part.split()))))

    def show_words(self, words: Iterable[str]) -> None:
        """Fills the line."""
        self.setText(", ".join(words))

    @property
    def offers(self) -> QCompleter:
        """The completer, for those who look at what is offered."""
        return self._helper

    def _span(self) -> tuple[int, int]:
        """Where the word under the cursor begins and ends."""
        text, at = self.text(), self.cursorPosition()
        start = text.rfind(",", 0, at) + 1
        end = text.find(",", at)
        return start, len(text) if end < 0 else end

    def _on_text_edited(self) -> None:
        start, end = self._span()
        begun = self.text()[start:end].strip()
        self._helper.setCompletionPrefix(begun)
        if begun and self._helper.completionCount():
            # its list is a window of its own
            self._theme.dress(self._helper.popup())
            self._helper.complete()
        else:
            self._helper.popup().hide()

    def _on_helper_activated(self, word: str) -> None:
        start, end = self._span()
        text = self.text()
        before = f"{text[:start]} {word}" if start else word
        after = text[end:]
        self.setText(before + after if after else f"{before}, ")
        self.setCursorPosition(len(before) if after else len(before) + 2)
