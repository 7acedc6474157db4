# SPDX-License-Identifier: MIT
"""The page shown instead of a book that could not be opened: what is the matter, what it means, and the ways on."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from db import AlteredBook, DamagedBook, DiskFull, LockedBook, MissingBook, NewerBook, ReadOnlyBook
from desktop import wording
from desktop.figures import moment
from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.centred import CentredPage
from desktop.widgets.labels import label

# The newest backup helps where the book itself cannot be had here and now.
_BACKUP_HELPS = (AlteredBook, DamagedBook, LockedBook, MissingBook, NewerBook)
_TRY_AGAIN_HELPS = (DiskFull, LockedBook, MissingBook, ReadOnlyBook, OSError)
SURE = tr(
    "The lock is from {who}. If the book is still open there, two programs write into one file, and it is torn. "
    "Open it here only when that computer is off, or you have seen that the book is closed there."
)


class FaultPage(CentredPage):
    """Signals, each with the file it is about: `retry_wanted`, `look_wanted`, `backups_wanted`, `break_wanted`;
    `first_wanted()`. `path` is the book that could not be opened."""

    retry_wanted = Signal(object)
    look_wanted = Signal(object)
    backups_wanted = Signal(object)
    break_wanted = Signal(object)
    first_wanted = Signal()
    details_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self.setAccessibleName(tr("The book could not be opened"))
        self.buttons: tuple[QPushButton, ...] = ()
        self.sure: _Sure | None = None
        self.words = ""
        self.path = Path()

    def show_fault(self, error: BaseException, path: Path, newest_backup: tuple[datetime, Path] | None) -> None:
        """Shows an error of opening the book at a path; a backup is offered where there is one and it helps."""
        self.path = path
        column = self.begin(top=72)
        self.words = wording.fault(error)
        column.addWidget(label(wording.fault_title(error), "title", wrap=True))
        column.addWidget(label(str(path), "caption", wrap=True))
        column.addWidget(label(self.words, wrap=True))
        column.addSpacing(8)
        buttons = [self._button(words, tip, signal, about) for words, tip, signal, about in _ways(
            error, path, newest_backup, self
        )]  # fmt: skip
        buttons[0].setProperty("role", "primary")
        for button in buttons:
            column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        self.sure = None
        if isinstance(error, LockedBook) and error.elsewhere:
            asking = QPushButton(tr("Nobody has it open there any more…"))
            asking.setToolTip(tr("For a computer that went off while the book was open there; asks once more"))
            self.sure = _Sure(error.who or tr("another program"), asking, self._button(
                tr("Open it here all the same"), tr("Opens the book in spite of the lock"), self.break_wanted, path
            ))  # fmt: skip
            column.insertWidget(column.indexOf(buttons[-1]), asking, 0, Qt.AlignmentFlag.AlignLeft)
            column.insertWidget(column.indexOf(buttons[-1]), self.sure)
            buttons.insert(-1, asking)
        details = QPushButton(tr("Copy details"))
        details.setProperty("role", "link")
        details.clicked.connect(self.details_wanted)
        column.addSpacing(8)
        column.addWidget(details, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)
        self.buttons = (*buttons, details)
        buttons[0].setFocus()

    def _button(self, words: str, tip: str, signal: Signal, about: Path | None) -> QPushButton:
        button = QPushButton(words)
        button.setToolTip(tip)
        button.clicked.connect(lambda: signal.emit() if about is None else signal.emit(about))
        return button


class _Sure(QWidget):
    """What breaking a lock may cost, and the question once more: hidden until it is asked for, the harmless answer in focus."""

    def __init__(self, who: str, asking: QPushButton, doing: QPushButton) -> None:
        super().__init__()
        self._asking, self.doing = asking, doing
        self.leave = QPushButton(tr("Leave it closed"))
        self.leave.setToolTip(tr("The book stays as it is"))
        rows = QVBoxLayout(self)
        rows.setContentsMargins(16, 0, 0, 4)
        rows.addWidget(label(SURE.format(who=who), "amber", wrap=True))
        for button in (self.leave, doing):
            rows.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        self.hide()
        asking.clicked.connect(self._on_asking_clicked)
        self.leave.clicked.connect(self._on_leave_clicked)

    def _on_asking_clicked(self) -> None:
        self.show()
        self.leave.setFocus(Qt.FocusReason.OtherFocusReason)
        self._asking.hide()

    def _on_leave_clicked(self) -> None:
        self._asking.show()
        self._asking.setFocus(Qt.FocusReason.OtherFocusReason)
        self.hide()


def _ways(
    error: BaseException, path: Path, newest_backup: tuple[datetime, Path] | None, page: FaultPage
) -> list[tuple[str, str, Signal, Path | None]]:
    """(words, tip, signal, what it is about) of each way on, the best first."""
    ways: list[tuple[str, str, Signal, Path | None]] = []
    if isinstance(error, _TRY_AGAIN_HELPS):
        ways.append((tr("Try again"), tr("Opens the same file again"), page.retry_wanted, path))
    if isinstance(error, ReadOnlyBook) and path.is_file():
        tip = tr("Opens a copy for reading; nothing can be changed in it")
        ways.append((tr("Look at it without writing"), tip, page.look_wanted, path))
    if isinstance(error, _BACKUP_HELPS) and newest_backup is not None:
        at, backup = newest_backup
        tip = tr("Opens it for reading; from there it can be made a book to go on with")
        ways.append((tr("Look at the backup of {moment}", moment=moment(at)), tip, page.look_wanted, backup))
        ways.append((tr("Other backups…"), tr("All of them, with their age and size"), page.backups_wanted, path))
    ways.append((tr("Choose another book"), tr("Back to the first page"), page.first_wanted, None))
    return ways
