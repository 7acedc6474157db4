# SPDX-License-Identifier: MIT
"""The page before there is a book: make one, open one, or look round an invented studio."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QStandardPaths, Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QGridLayout,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from desktop.figures import day
from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.centred import CentredPage
from desktop.widgets.emptied import take_out
from desktop.widgets.labels import ElidedLabel, label

ENDING = ".stillroom"
CURRENCIES = ("EUR", "USD", "GBP", "CHF", "SEK", "NOK", "DKK", "PLN", "CZK", "CAD", "AUD", "JPY", "INR", "BRL")


def documents() -> Path:
    """The folder where this person keeps documents."""
    place = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    return Path(place) if place else Path.home()


def free_path(folder: Path, name: str) -> Path:
    """A path for a book of this name at which nothing stands yet."""
    plain = "".join(c if c.isalnum() or c in " -_.,()" else " " for c in name).strip(" .") or tr("Bench book")
    return free(folder, plain, ENDING)


def free(folder: Path, name: str, ending: str = "") -> Path:
    """A path of this name, or with the first number behind it at which nothing stands yet."""
    path, number = folder / f"{name}{ending}", 2
    while path.exists():
        path, number = folder / f"{name} {number}{ending}", number + 1
    return path


class FirstPage(CentredPage):
    """Signals: `new_wanted(path, name, currency, with starting materials)`, `open_wanted(path)`, `demo_wanted(path)`,
    `backups_wanted(path)` of a book that is not there any more."""

    new_wanted = Signal(object, str, str, bool)
    open_wanted = Signal(object)
    demo_wanted = Signal(object)
    backups_wanted = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self.folder = documents()
        self._own_path = False
        self.setAccessibleName(tr("Begin"))
        self._build()
        self._on_name_edited()

    def show_recent(self, books: Sequence[Path], today: datetime, backed_up: Collection[Path] = ()) -> None:
        """Lists the books opened last; one that is not there any more says so, cannot be chosen, and offers its backups."""
        take_out(self._recent)
        for row, path in enumerate(books):
            button = QPushButton(path.stem)
            button.setProperty("role", "link")
            button.setAccessibleName(tr("Open {book}", book=path.stem))
            button.clicked.connect(lambda _=False, p=path: self.open_wanted.emit(p))
            there = path.is_file()
            button.setEnabled(there)
            when = ElidedLabel()
            when.setProperty("role", "caption")
            stamp = day(datetime.fromtimestamp(path.stat().st_mtime).astimezone(), today) if there else tr("not there")
            when.setText(f"{stamp} · {path.parent}")
            button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
            when.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
            self._recent.addWidget(button, row, 0)
            self._recent.addWidget(when, row, 1)
            if not there and path in backed_up:
                backups = QPushButton(tr("Its backups…"))
                backups.setProperty("role", "link")
                backups.setAccessibleName(tr("Backups of {book}", book=path.stem))
                backups.clicked.connect(lambda _=False, p=path: self.backups_wanted.emit(p))
                self._recent.addWidget(backups, row, 2)
        self._recent_head.setVisible(bool(books))

    def start_new(self) -> None:
        """Puts the cursor where the name of a new book is typed."""
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.name.selectAll()

    def start_demo(self) -> None:
        """Puts the focus on the demo studio's button."""
        self._fresh_demo_path()
        self.demo.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keep_in(self, folder: Path) -> None:
        """Offers this folder for the new book and the demo studio."""
        self.folder, self._own_path = folder, False
        self._on_name_edited()
        self._fresh_demo_path()

    def say(self, sentence: str) -> None:
        """Says beside the new book why it could not be made."""
        self.wrong.setText(sentence)
        self.wrong.setVisible(bool(sentence))

    # building ---------------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        column = self.begin(spacing=8)
        column.addWidget(label(tr("A bench book"), "title"))
        column.addWidget(
            label(
                tr("One file on this computer holds your formulas, weighings and strips. Nothing leaves it."),
                "quiet",
                wrap=True,
            )
        )
        column.addSpacing(20)
        self._build_new(column)
        column.addSpacing(24)
        column.addWidget(label(tr("Open a book"), "heading"))
        self.open = QPushButton(tr("Choose a file…"))
        self.open.clicked.connect(self.choose_file)
        column.addWidget(self.open, 0, Qt.AlignmentFlag.AlignLeft)
        self._recent_head = label(tr("opened last"), "caption")
        self._recent_head.hide()
        column.addWidget(self._recent_head)
        self._recent = QGridLayout()
        self._recent.setHorizontalSpacing(16)
        self._recent.setVerticalSpacing(2)
        self._recent.setColumnStretch(1, 1)
        column.addLayout(self._recent)
        column.addSpacing(24)
        self._build_demo(column)
        column.addStretch(1)

    def _build_new(self, column: QVBoxLayout) -> None:
        column.addWidget(label(tr("New book"), "heading"))
        form = QGridLayout()
        form.setHorizontalSpacing(12)
        form.setVerticalSpacing(2)
        form.setColumnStretch(0, 3)
        form.setColumnStretch(1, 1)
        self.name = QLineEdit(tr("Bench book"))
        self.currency = QComboBox()
        self.currency.addItems(CURRENCIES)
        self.place = QLineEdit()
        self.elsewhere = QPushButton(tr("Elsewhere…"))
        for row, col, caption, field in (
            (0, 0, tr("name"), self.name), (0, 1, tr("currency of prices"), self.currency), (2, 0, tr("kept in"), self.place),
        ):  # fmt: skip
            head = label(caption, "caption")
            head.setBuddy(field)
            field.setAccessibleName(caption)
            form.addWidget(head, row, col)
            form.addWidget(field, row + 1, col)
        form.addWidget(self.elsewhere, 3, 1)
        form.setRowMinimumHeight(2, self._theme.px(22))
        column.addLayout(form)
        self.starters = QCheckBox(tr("Begin with a list of common materials, without prices or bottles"))
        self.starters.setChecked(True)
        column.addWidget(self.starters)
        self.wrong = label("", "wrong", wrap=True)
        self.wrong.hide()
        column.addWidget(self.wrong)
        self.make = QPushButton(tr("Make the book"))
        self.make.setProperty("role", "primary")
        column.addWidget(self.make, 0, Qt.AlignmentFlag.AlignLeft)
        self.name.textEdited.connect(self._on_name_edited)
        self.place.textEdited.connect(self._on_place_edited)
        self.elsewhere.clicked.connect(self._on_elsewhere_clicked)
        self.make.clicked.connect(self._on_make_clicked)
        for field in (self.name, self.place):
            field.returnPressed.connect(self._on_make_clicked)

    def _build_demo(self, column: QVBoxLayout) -> None:
        column.addWidget(label(tr("Demo studio"), "heading"))
        column.addWidget(
            label(
                tr(
                    "A book of an invented perfumer, to look round in: one project, seven versions, eighteen strips. Names, "
                    "formulas, prices, limits and readings are made up."
                ),
                "quiet",
                wrap=True,
            )
        )
        self.demo_place = QLineEdit()
        self.demo_place.setAccessibleName(tr("Demo studio kept in"))
        head = label(tr("kept in"), "caption")
        head.setBuddy(self.demo_place)
        column.addWidget(head)
        column.addWidget(self.demo_place)
        self.demo = QPushButton(tr("Make the demo studio"))
        self.demo.clicked.connect(self._on_demo_clicked)
        self.demo_place.returnPressed.connect(self._on_demo_clicked)
        column.addWidget(self.demo, 0, Qt.AlignmentFlag.AlignLeft)
        self._fresh_demo_path()

    def _fresh_demo_path(self) -> None:
        self.demo_place.setText(str(free_path(self.folder, tr("Demo studio"))))

    # what the person does -----------------------------------------------------------------------------------------------

    def choose_file(self) -> None:
        """Asks for a book's file with the system's own dialog."""
        kinds = tr("Stillroom books") + f" (*{ENDING});;" + tr("All files") + " (*)"
        chosen, _ = QFileDialog.getOpenFileName(self.window(), tr("Open a book"), str(self.folder), kinds)
        if chosen:
            self.open_wanted.emit(Path(chosen))

    def _on_name_edited(self) -> None:
        self.say("")
        if not self._own_path:
            self.place.setText(str(free_path(self.folder, self.name.text())))

    def _on_place_edited(self) -> None:
        self._own_path = True
        self.say("")

    def _on_elsewhere_clicked(self) -> None:
        chosen = QFileDialog.getExistingDirectory(self.window(), tr("Keep the book in"), str(self.folder))
        if chosen:
            self.keep_in(Path(chosen))

    def _on_make_clicked(self) -> None:
        self.say("")
        if not self.name.text().strip():
            self.say(tr("The book has no name yet. Write one."))
            self.name.setFocus(Qt.FocusReason.OtherFocusReason)
        elif not self.place.text().strip():
            self.say(tr("Nothing says where the book is to be kept. Write a file, or choose a folder."))
            self.place.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            path = _with_ending(self.place.text())
            self.new_wanted.emit(path, self.name.text().strip(), self.currency.currentText(), self.starters.isChecked())

    def _on_demo_clicked(self) -> None:
        self.say("")
        if self.demo_place.text().strip():
            self.demo_wanted.emit(_with_ending(self.demo_place.text()))


def _with_ending(text: str) -> Path:
    path = Path(text.strip()).expanduser()
    return path if path.suffix else path.with_name(path.name + ENDING)
