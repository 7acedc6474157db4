# SPDX-License-Identifier: MIT
"""The backups of a book: what there is, a look into one, one made a book beside the present one. Nothing here deletes anything.

It knows no open book, so that it also serves one that cannot be opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QHideEvent, QKeyEvent, QShowEvent
from PySide6.QtWidgets import QAbstractItemView, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.models.backups import NONE_THERE, NONE_YET, RULES, BackupRow, BackupsModel, summary
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.grid import Grid
from desktop.widgets.labels import ElidedLabel, label

REFRESH_MS = 60_000


class BackupsPage(QWidget):
    """Signals: `look_wanted(file)`, `restore_wanted(file)`, `open_wanted(file)`; `now_wanted`, `copy_wanted`, `check_wanted` for
    the open book; `folder_wanted`, `refresh_wanted`; `left` when Escape or the button goes back to where one was."""

    left = Signal()
    look_wanted = Signal(object)
    restore_wanted = Signal(object)
    open_wanted = Signal(object)
    now_wanted = Signal()
    copy_wanted = Signal()
    check_wanted = Signal()
    folder_wanted = Signal()
    refresh_wanted = Signal()

    def __init__(self, theme: Theme, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._made: Path | None = None
        self.setAccessibleName(tr("Backups"))
        self.title = label("", "title")
        self.total = label("")
        self.place = ElidedLabel(self)
        self.place.setProperty("role", "caption")
        self.folder = self._button(tr("Open the folder"), tr("Shows the files of the backups"), self.folder_wanted.emit, "link")
        self.rules = label(RULES, "quiet", wrap=True)
        self.none = label(NONE_YET, wrap=True)
        self.model = BackupsModel(self)
        self.grid = Grid(theme, settings, "backups", "why", self)
        self.grid.setAccessibleName(tr("Backups, newest first"))
        self.grid.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.look = self._button(
            tr("Look into it"), tr("Opens the backup for reading only, in place of the book (Enter)"), self._look, "primary"
        )
        self.restore = self._button(
            tr("Restore beside the present one"),
            tr("Makes a book of it that stands beside the present one; the present book stays as it is (Ctrl+R)"),
            self._restore,
        )
        self.now = self._button(tr("Make a backup now"), tr("Does not wait for the hour (Ctrl+N)"), self.now_wanted.emit)
        self.copy = self._button(
            tr("Save a copy…"), tr("Writes the book as it is now to another place (Ctrl+S)"), self.copy_wanted.emit
        )
        self.check = self._button(
            tr("Check the book"), tr("Reads all of it and says whether it is whole (Ctrl+T)"), self.check_wanted.emit
        )
        self.back = self._button(tr("Back"), tr("Back to where you were (Esc)"), self.left.emit)
        self.said = ElidedLabel(self)
        self.open = self._button(tr("Open it"), tr("Opens the restored book in place of the present one"), self._open, "link")
        self._lay_out()
        self.grid.entered.connect(lambda _: self._look())
        self.grid.doubleClicked.connect(lambda _: self._look())
        self.grid.given_up.connect(lambda _: self.left.emit())
        self._timer = QTimer(self, interval=REFRESH_MS)
        self._timer.timeout.connect(self.refresh_wanted)

    def _button(self, words: str, tip: str, call: object, role: str = "") -> QPushButton:
        button = QPushButton(words, self)
        button.setToolTip(tip)
        button.clicked.connect(lambda _=False: call())  # type: ignore[operator]
        if role:
            button.setProperty("role", role)
        return button

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.total)
        head.addWidget(self.place)
        head.addWidget(self.folder)
        head.addStretch(1)
        chosen, whole = QHBoxLayout(), QHBoxLayout()
        for row, parts in ((chosen, (self.look, self.restore)), (whole, (self.now, self.copy, self.check, self.back))):
            row.setSpacing(8)
            for part in parts:
                row.addWidget(part)
            row.addStretch(1)
        outcome = QHBoxLayout()
        outcome.setSpacing(12)
        outcome.addWidget(self.said)
        outcome.addWidget(self.open)
        outcome.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addLayout(head)
        column.addWidget(self.rules)
        column.addWidget(self.none)
        column.addWidget(self.grid, 1)
        column.addLayout(outcome)
        column.addLayout(chosen)
        column.addLayout(whole)
        column.addStretch(0)
        self.setProperty("role", "pane")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)

    # what is shown ----------------------------------------------------------------------------------------------------

    def show_book(self, name: str, folder: Path, *, is_open: bool) -> None:
        """Whose backups these are; only an open book is backed up, copied and checked."""
        self.title.setText(tr("Backups of {book}", book=name))
        self.place.setText(tr("in {folder}", folder=folder))
        self.none.setText(NONE_YET if is_open else NONE_THERE)
        for button in (self.now, self.copy, self.check):
            button.setVisible(is_open)
        self.say("")

    def show_rows(self, rows: Sequence[BackupRow]) -> None:
        """Shows these backups; the one that was chosen stays chosen."""
        chosen = self.chosen
        self.model.show_rows(rows)
        self.choose(chosen)
        self.total.setText(f"{summary([row.backup for row in rows])}," if rows else "")
        self.none.setVisible(not rows)
        for part in (self.total, self.place, self.folder, self.grid, self.look, self.restore):
            part.setVisible(bool(rows))

    @property
    def chosen(self) -> Path | None:
        """The file of the chosen backup."""
        places = self.grid.chosen_rows()
        return self.model.row(places[0]).backup.path if places else None

    def choose(self, file: Path | None) -> None:
        """Chooses a backup by its file, the newest where there is none of that name."""
        place = next((at for at, row in enumerate(self.model.rows) if row.backup.path == file), 0)
        self.grid.go_to(self.model.index(place, 0))

    def say(self, sentence: str, made: Path | None = None) -> None:
        """Says what came of a command; a book that was made of a backup can be opened from there."""
        self._made = made
        if made is None and self.open.hasFocus():
            self.take_focus()
        self.said.setText(sentence)
        self.said.setVisible(bool(sentence))
        self.open.setVisible(made is not None)
        if made is not None and self.isVisible():
            self.open.setFocus(Qt.FocusReason.OtherFocusReason)

    def take_focus(self) -> None:
        """The focus to the list, or to what can be done where it is empty."""
        ways = (self.grid, self.now, self.back)
        next(part for part in ways if not part.isHidden()).setFocus(Qt.FocusReason.OtherFocusReason)

    # what the person does ---------------------------------------------------------------------------------------------

    def _look(self) -> None:
        if self.chosen is not None:
            self.look_wanted.emit(self.chosen)

    def _restore(self) -> None:
        if self.chosen is not None:
            self.restore_wanted.emit(self.chosen)

    def _open(self) -> None:
        if self._made is not None:
            self.open_wanted.emit(self._made)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_ctrl = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier == Qt.KeyboardModifier.ControlModifier
        keys = {Qt.Key.Key_R: self.restore, Qt.Key.Key_N: self.now, Qt.Key.Key_S: self.copy, Qt.Key.Key_T: self.check}
        button = next((button for key, button in keys.items() if is_ctrl and key == event.key()), None)
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif button is not None and button.isVisible():
            button.click()
        else:
            super().keyPressEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._timer.stop()
