# SPDX-License-Identifier: MIT
"""A text with links that follows the theme, reachable by Tab; `link` writes one into it."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QWidget

from desktop.theme import Theme

_JUNIPER = "@juniper"  # stands in a text for the colour of its links


def link(target: str, text: str) -> str:
    """A link for a text that is told; `target` is what `linkActivated` says."""
    return f"<a style='color:{_JUNIPER}; text-decoration:none' href='{escape(target)}'>{escape(text)}</a>"


class Told(QLabel):
    """Rich text in the tone of a theme token; hidden while there is none."""

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None, *, tone: str = "ink") -> None:
        super().__init__(parent)
        self._theme, self._tone, self._text = theme, tone, ""
        self.setAccessibleDescription(name)  # a name would be read out in the place of the text
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        theme.changed.connect(self._on_theme_changed)
        self.hide()

    def tell(self, text: str, tone: str = "") -> None:
        """Shows a text, '' none."""
        if (text, tone or self._tone) != (self._text, self._tone):
            self._text, self._tone = text, tone or self._tone
            self._on_theme_changed()
        self.setVisible(bool(text))

    def _on_theme_changed(self) -> None:
        inked = self._text.replace(_JUNIPER, self._theme.token("juniper"))
        self.setText(f"<span style='color:{self._theme.token(self._tone)}'>{inked}</span>" if self._text else "")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus if "<a " in self._text else Qt.FocusPolicy.NoFocus)
