# SPDX-License-Identifier: MIT
"""The look in one place: colour tokens, sizes, palette and style sheet, light and dark, switched live.

Widgets ask a `Theme` for a token by name and repaint on its `changed`; nothing else in the program holds a colour.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QFontMetricsF, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

import resources

LIGHT = {
    "ground": "#F6F4EF", "sheet": "#FFFFFF", "ink": "#22262B", "quiet": "#666B72", "hairline": "#E0DBD1",
    "juniper": "#1E6A60", "on_juniper": "#FFFFFF", "chosen": "#E4EFEC", "amber": "#9A5B00", "brick": "#A8322A",
    "moss": "#39703F", "paper": "#FBF7EC", "tint": "#C99A4B", "rail": "#F0ECE4",
}  # fmt: skip
DARK = {
    "ground": "#1B1D20", "sheet": "#24272B", "ink": "#ECE8E1", "quiet": "#A3A8AF", "hairline": "#3A3E44",
    "juniper": "#63BFB2", "on_juniper": "#14211F", "chosen": "#2B3B3A", "amber": "#E0A64B", "brick": "#EC8E85",
    "moss": "#86C08C", "paper": "#3A3A38", "tint": "#B98A3E", "rail": "#17191B",
}  # fmt: skip
# Okabe and Ito's colour-blind safe set; those under 3 : 1 on their ground are made darker or lighter within their hue.
CURVES_LIGHT = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#B27600", "#2F8FC9", "#7A7A00", "#22262B")
CURVES_DARK = ("#56A9E8", "#F0843C", "#2CC79A", "#E3A3C8", "#E9A83A", "#8CCBF2", "#E8DF63", "#ECE8E1")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")

BODY, CAPTION, HEADING, TITLE, WEIGHING = 13, 11, 15, 20, 96


def system_is_dark() -> bool:
    """Whether this computer is set to dark now."""
    return QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark


class Theme(QObject):
    """The tokens in force: `choice` is 'system', 'light' or 'dark', `name` what it comes to, `scale` the text size.

    `restyled()` asks for every part that is on the screen to be dressed, `changed()` tells that it is. Between the two and
    between pages `turn` is called, so that no change holds the window up at one go."""

    restyled = Signal()
    changed = Signal()

    def __init__(self, app: QApplication, choice: str = "system", scale: float = 1.0) -> None:
        super().__init__(app)
        self._app = app
        self.choice = choice
        self.scale = scale
        self.turn: Callable[[], object] = lambda: None
        app.styleHints().colorSchemeChanged.connect(self._on_system_changed)
        self._apply()

    @property
    def name(self) -> str:
        """'light' or 'dark'."""
        if self.choice in ("light", "dark"):
            return self.choice
        return "dark" if system_is_dark() else "light"

    def token(self, name: str) -> str:
        """The colour of a token as '#RRGGBB'."""
        return (DARK if self.name == "dark" else LIGHT)[name]

    def colour(self, name: str) -> QColor:
        """The colour of a token for painting."""
        return QColor(self.token(name))

    def curve(self, place: int) -> tuple[str, str]:
        """(colour, marker) of the curve at a place in the list of curves."""
        colours = CURVES_DARK if self.name == "dark" else CURVES_LIGHT
        return colours[place % len(colours)], MARKERS[place % len(MARKERS)]

    def px(self, size: float) -> int:
        """A size in pixels at the chosen text size."""
        return round(size * self.scale)

    def font(self, size: float = BODY, *, bold: bool = False) -> QFont:
        """The system's own font at a size of ours in pixels; figures tabular."""
        font = QFont(self._app.font())
        font.setPixelSize(self.px(size))
        font.setBold(bold)
        return font

    def row_height(self, window_height: int = 1000) -> int:
        """Rows are 28 px, 24 where the window is under 900 px high, and never too low for the text."""
        wanted = self.px(24 if window_height < 900 else 28)
        return max(wanted, QFontMetrics(self.font()).height() + 4)

    def choose(self, choice: str) -> None:
        """Switches to 'system', 'light' or 'dark' at once."""
        self.choice = choice
        self._apply()

    def resize_text(self, scale: float) -> None:
        """Sets the text size, 0.8 to 2."""
        self.scale = min(max(scale, 0.8), 2.0)
        self._apply()

    def _on_system_changed(self) -> None:
        if self.choice == "system":
            self._apply()

    def dress(self, part: QWidget) -> bool:
        """Gives a part of the window, and all in it, the style sheet in force; False where it has it already.

        Part by part, and not the program as a whole: what is out of sight is dressed when it is shown next, so that a change of
        the look takes as long as what is on the screen. A page is made first and dressed then: a part that was dressed before
        it was given its role would keep the look of one without.
        """
        if part.styleSheet() == self._style:
            return False
        part.setStyleSheet(self._style)
        return True

    def _apply(self) -> None:
        font = QFont(self._app.font())
        font.setPixelSize(self.px(BODY))
        self._app.setFont(font)
        self._app.setPalette(self._palette())
        self._style = self._sheet()
        self.restyled.emit()
        self.turn()
        self.changed.emit()

    def _palette(self) -> QPalette:
        palette, role = QPalette(), QPalette.ColorRole
        for target, token in (
            (role.Window, "ground"), (role.Base, "sheet"), (role.AlternateBase, "ground"), (role.Button, "ground"),
            (role.WindowText, "ink"), (role.Text, "ink"), (role.ButtonText, "ink"), (role.BrightText, "ink"),
            (role.PlaceholderText, "quiet"), (role.Highlight, "chosen"), (role.HighlightedText, "ink"),
            (role.Link, "juniper"), (role.LinkVisited, "juniper"),
            (role.ToolTipBase, "sheet"), (role.ToolTipText, "ink"),
            (role.Mid, "hairline"), (role.Midlight, "hairline"), (role.Light, "sheet"), (role.Dark, "hairline"),
            (role.Shadow, "hairline"), (role.Accent, "juniper"),
        ):  # fmt: skip
            palette.setColor(target, self.colour(token))
        for target in (role.WindowText, role.Text, role.ButtonText):
            palette.setColor(QPalette.ColorGroup.Disabled, target, self.colour("quiet"))
        return palette

    def _sheet(self) -> str:
        t = self.token
        # a list of choices takes room for the padding its box has with the focus and is drawn with that of one without: they are
        # the same, else the last row is cut; two px of height make up for it, so that nothing jumps
        in_box = max(ceil(QFontMetricsF(self.font()).height()), 14) + 4
        return f"""
        QToolTip {{ background: {t("sheet")}; color: {t("ink")}; border: 1px solid {t("hairline")}; padding: 4px; }}
        QLineEdit, QTextEdit, QPlainTextEdit, QComboBox, QDateEdit, QAbstractSpinBox {{
            background: {t("sheet")}; color: {t("ink")}; border: 1px solid {t("hairline")}; border-radius: 4px;
            padding: 3px 6px; selection-background-color: {t("juniper")}; selection-color: {t("on_juniper")}; }}
        QLineEdit:focus, QTextEdit:focus, QPlainTextEdit:focus, QComboBox:focus, QDateEdit:focus,
        QAbstractSpinBox:focus {{
            border: 2px solid {t("juniper")}; padding: 2px 5px; }}
        QComboBox, QComboBox:focus {{ padding-top: 2px; padding-bottom: 2px; }}
        QComboBox:!focus {{ min-height: {in_box}px; }}
        QComboBox QLineEdit, QComboBox QLineEdit:focus {{ border: none; padding: 0; }}
        QLineEdit[role="flat"] {{ background: transparent; border: 1px solid transparent; padding: 1px 3px; }}
        QLineEdit[role="flat"]:hover {{ border-color: {t("hairline")}; }}
        QLineEdit[role="flat"]:read-only:hover {{ border-color: transparent; }}
        QLineEdit[role="flat"]:focus {{ border: 2px solid {t("juniper")}; padding: 0 2px; background: {t("sheet")}; }}
        QLineEdit[tone="amber"] {{ color: {t("amber")}; }}
        QLineEdit[role="cell"] {{ border: 2px solid {t("juniper")}; border-radius: 0; padding: 0 2px; }}
        QPushButton[role="code"] {{ border: none; color: {t("juniper")}; font-size: {self.px(TITLE)}px;
            font-weight: 600; padding: 0 4px; text-align: left; }}
        QPushButton[role="code"]:hover {{ text-decoration: underline; }}
        QPushButton[role="code"]:focus {{ border: 2px solid {t("juniper")}; padding: 0 2px; }}
        QComboBox::drop-down {{ border: none; width: 18px; }}
        QComboBox::down-arrow {{ image: none; width: 0; height: 0; margin-right: 6px; border-left: 4px solid {t("sheet")};
            border-right: 4px solid {t("sheet")}; border-top: 5px solid {t("quiet")}; }}
        QCheckBox {{ outline: none; }}
        QCheckBox::indicator {{ width: {self.px(12)}px; height: {self.px(12)}px; border: 1px solid {t("quiet")};
            border-radius: 3px; background: {t("sheet")}; }}
        QCheckBox::indicator:checked {{ background: {t("juniper")}; border-color: {t("juniper")};
            image: url("{resources.path(f"icons/tick-{self.name}.svg").as_posix()}"); }}
        QCheckBox:focus {{ color: {t("juniper")}; }}
        QCheckBox::indicator:focus {{ width: {self.px(12) - 2}px; height: {self.px(12) - 2}px;
            border: 2px solid {t("juniper")}; }}
        QPushButton, QToolButton {{ background: transparent; color: {t("ink")}; border: 1px solid {t("hairline")};
            border-radius: 4px; padding: 4px 10px; }}
        QPushButton:hover, QToolButton:hover {{ border-color: {t("juniper")}; }}
        QPushButton:focus, QToolButton:focus {{ border: 2px solid {t("juniper")}; padding: 3px 9px; }}
        QPushButton:disabled, QToolButton:disabled {{ color: {t("quiet")}; }}
        QPushButton[role="primary"] {{ background: {t("juniper")}; color: {t("on_juniper")};
            border: 1px solid {t("juniper")}; font-weight: 600; padding: 6px 14px; }}
        QPushButton[role="primary"]:disabled {{ background: transparent; color: {t("quiet")}; border-color: {t("hairline")}; }}
        QPushButton[role="primary"]:focus {{ border: 2px solid {t("ink")}; padding: 5px 13px; }}
        QPushButton[role="link"], QToolButton[role="link"] {{ border: none; color: {t("juniper")}; padding: 2px 0;
            text-align: left; }}
        QPushButton[role="link"]:disabled, QToolButton[role="link"]:disabled {{ color: {t("quiet")}; }}
        QPushButton[role="link"]:focus, QToolButton[role="link"]:focus {{ border: none; text-decoration: underline; }}
        QToolButton[role="chip"] {{ border: 1px solid transparent; border-radius: 10px; padding: 2px 9px; color: {t("quiet")}; }}
        QToolButton[role="chip"]:hover {{ border-color: {t("hairline")}; }}
        QToolButton[role="chip"]:checked {{ background: {t("chosen")}; color: {t("ink")}; font-weight: 600; }}
        QToolButton[role="chip"]:focus {{ border: 2px solid {t("juniper")}; padding: 1px 8px; }}
        QProgressBar {{ background: {t("hairline")}; border: none; border-radius: 2px; }}
        QProgressBar::chunk {{ background: {t("juniper")}; border-radius: 2px; }}
        QLabel[role="caption"] {{ color: {t("quiet")}; font-size: {self.px(CAPTION)}px; }}
        QLabel[role="title"] {{ font-size: {self.px(TITLE)}px; font-weight: 600; }}
        QLabel[role="heading"] {{ font-size: {self.px(HEADING)}px; font-weight: 600; }}
        QLabel[role="strong"] {{ font-weight: 600; }}
        QLabel[role="wrong"] {{ color: {t("brick")}; }}
        QLabel[role="amber"] {{ color: {t("amber")}; }}
        QLabel[role="quiet"] {{ color: {t("quiet")}; }}
        QFrame[role="sheet"], QWidget[role="pane"], QScrollArea, QWidget#qt_scrollarea_viewport {{
            background: {t("sheet")}; }}
        QFrame[role="inline"] {{ background: {t("sheet")}; border: 1px solid {t("hairline")}; border-radius: 6px; }}
        QTableView, QListView, QTreeView {{ background: {t("sheet")}; color: {t("ink")}; border: none;
            selection-background-color: {t("chosen")}; selection-color: {t("ink")}; outline: none; }}
        QTreeView {{ border: 2px solid transparent; }} QTreeView:focus {{ border-color: {t("juniper")}; }}
        QFrame#found {{ background: {t("sheet")}; border: 1px solid {t("hairline")}; border-radius: 4px; }}
        QFrame#found QListView::item {{ padding: {self.px(4)}px 8px; }}
        QFrame#offered {{ background: {t("sheet")}; border: 1px solid {t("juniper")}; }}
        QFrame#offered QListView::item {{ padding: {self.px(3)}px 6px; }}
        QListView[role="choices"] {{ border: 2px solid transparent; border-radius: 4px; }}
        QListView[role="choices"]:focus {{ border-color: {t("juniper")}; }}
        QListView[role="choices"]::item {{ padding: 4px 8px; }}
        QHeaderView, QHeaderView::section {{ background: {t("sheet")}; color: {t("quiet")}; border: none;
            font-size: {self.px(CAPTION)}px; font-weight: 400; }}
        QHeaderView::section {{ border-bottom: 1px solid {t("hairline")}; padding: 3px 4px; }}
        QTableCornerButton::section {{ background: {t("sheet")}; border: none; }}
        QSplitter::handle {{ background: {t("hairline")}; }}
        QSplitter::handle:horizontal {{ width: 1px; }} QSplitter::handle:vertical {{ height: 1px; }}
        QScrollBar {{ background: transparent; }}
        QScrollBar:vertical {{ width: 10px; }} QScrollBar:horizontal {{ height: 10px; }}
        QScrollBar::handle {{ background: {t("hairline")}; border-radius: 4px; min-height: 24px; min-width: 24px;
            margin: 1px; }}
        QScrollBar::handle:hover {{ background: {t("quiet")}; }}
        QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
        QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
        QMenuBar, QMenu {{ background: {t("ground")}; color: {t("ink")}; }}
        QMenu {{ border: 1px solid {t("hairline")}; padding: 4px; }}
        QMenu::item {{ padding: 4px 20px; }}
        QMenu::item:selected, QMenuBar::item:selected {{ background: {t("chosen")}; }}
        QMenu::item:disabled {{ color: {t("quiet")}; }}
        QMenu::separator {{ height: 1px; background: {t("hairline")}; margin: 4px; }}
        """
