# SPDX-License-Identifier: MIT
"""Every command of the window in one table: menu, words, keys. The menus and the help read the same table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QAction, QActionGroup, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QLineEdit, QPlainTextEdit, QTextEdit, QWidget

from desktop.language import tr

BOOK, EDIT, VIEW, HELP = MENUS = tr("Book"), tr("Edit"), tr("View"), tr("Help")
# A command with this text is a rule between groups of one menu.
RULE = ""


@dataclass(frozen=True, slots=True)
class Command:
    """One command. `key` names its handler; commands of one `choice` exclude each other; `book`: only with an open book."""

    key: str
    menu: str
    text: str
    keys: tuple[str, ...] = ()
    choice: str = ""
    checkable: bool = False
    book: bool = False


COMMANDS: tuple[Command, ...] = (
    Command("new_book", BOOK, tr("New…")),
    Command("open_book", BOOK, tr("Open…"), ("Ctrl+O",)),
    Command("recent", BOOK, tr("Recent")),
    Command("demo_studio", BOOK, tr("Demo studio…")),
    Command("", BOOK, RULE),
    Command("backups", BOOK, tr("Backups…"), book=True),
    Command("leave_look", BOOK, tr("Go back to the book"), ("Ctrl+Shift+O",), book=True),
    Command("save_copy", BOOK, tr("Save a copy…"), book=True),
    Command("export_book", BOOK, tr("Export…"), book=True),
    Command("read_export", BOOK, tr("Make a book from an export…")),
    Command("check_book", BOOK, tr("Check the book"), book=True),
    Command("", BOOK, RULE),
    Command("import_materials", BOOK, tr("Import materials from a table…"), book=True),
    Command("export_materials", BOOK, tr("Export the materials as a table…"), book=True),
    Command("import_formula", BOOK, tr("Import a formula from a table…"), book=True),
    Command("export_formula", BOOK, tr("Export the formula as a table…"), book=True),
    Command("", BOOK, RULE),
    Command("close_book", BOOK, tr("Close the book"), book=True),
    Command("", BOOK, RULE),
    Command("quit", BOOK, tr("Quit"), ("Ctrl+Q",)),
    Command("undo", EDIT, tr("Undo"), ("Ctrl+Z",), book=True),
    Command("redo", EDIT, tr("Redo"), ("Ctrl+Shift+Z", "Ctrl+Y"), book=True),
    Command("", EDIT, RULE),
    Command("find", EDIT, tr("Find anything"), ("Ctrl+K",), book=True),
    Command("page_bench", VIEW, tr("Bench"), ("Ctrl+1",), choice="page", book=True),
    Command("page_shelf", VIEW, tr("Shelf"), ("Ctrl+2",), choice="page", book=True),
    Command("page_weigh", VIEW, tr("Weigh"), ("Ctrl+3",), choice="page", book=True),
    Command("page_smell", VIEW, tr("Smell"), ("Ctrl+4",), choice="page", book=True),
    Command("page_compare", VIEW, tr("Compare"), ("Ctrl+5",), choice="page", book=True),
    Command("again_today", VIEW, tr("Could I make it again today?"), ("Ctrl+Shift+M",), book=True),
    Command("", VIEW, RULE),
    Command("swap_widths", VIEW, tr("Smelling widths"), ("F6",), checkable=True, book=True),
    Command("drawer", VIEW, tr("Materials drawer"), ("F7",), checkable=True, book=True),
    Command("", VIEW, RULE),
    Command("text_larger", VIEW, tr("Text larger"), ("Ctrl++", "Ctrl+=")),
    Command("text_smaller", VIEW, tr("Text smaller"), ("Ctrl+-",)),
    Command("text_normal", VIEW, tr("Text at its normal size"), ("Ctrl+0",)),
    Command("", VIEW, RULE),
    Command("theme_light", VIEW, tr("Light"), choice="theme"),
    Command("theme_dark", VIEW, tr("Dark"), choice="theme"),
    Command("theme_system", VIEW, tr("Follow the system"), choice="theme"),
    Command("", VIEW, RULE),
    Command("tell_due", VIEW, tr("Tell me outside the window when a strip is due"), ("Ctrl+Shift+B",), checkable=True),
    Command("help", HELP, tr("Help"), ("F1",)),
    Command("why", HELP, tr("Why this value"), ("Shift+F1",)),
    Command("keys", HELP, tr("Keyboard shortcuts"), ("Ctrl+F1",)),
    Command("about", HELP, tr("About and cautions")),
    Command("", HELP, RULE),
    Command("log_folder", HELP, tr("Open the log folder")),
    Command("copy_report", HELP, tr("Copy report")),
)
# Menus whose entries are made when they are opened.
SUBMENUS = frozenset({"recent"})


def build(
    owner: QWidget, handlers: Mapping[str, Callable[[], None]], asked: Callable[[str], None]
) -> dict[str, QAction]:
    """{key: action} for every command; `asked(key)` takes those that have no handler here."""
    made: dict[str, QAction] = {}
    groups: dict[str, QActionGroup] = {}
    for command in COMMANDS:
        if command.text == RULE or command.key in SUBMENUS:
            continue
        action = QAction(command.text, owner)
        action.setObjectName(command.key)
        action.setShortcuts([QKeySequence(keys) for keys in command.keys])
        action.setCheckable(command.checkable or bool(command.choice))
        if command.choice:
            groups.setdefault(command.choice, QActionGroup(owner)).addAction(action)
        handler = handlers.get(command.key, partial(asked, command.key))
        action.triggered.connect(lambda _=False, h=handler: h())
        made[command.key] = action
    return made


def own_undo(widget: QWidget | None) -> QLineEdit | QTextEdit | QPlainTextEdit | None:
    """The widget where it is a text field that can take back its own typing."""
    if isinstance(widget, QLineEdit) and not widget.isReadOnly() and widget.isUndoAvailable():
        return widget
    if isinstance(widget, QTextEdit | QPlainTextEdit) and widget.document().isUndoAvailable():
        return widget
    return None


class FieldUndoFirst(QObject):
    """Lets Ctrl+Z through to the book where the focused text field has nothing of its own to take back.

    Qt's text fields keep the keys for themselves even then. Only the widget in focus is watched: a filter on the whole
    application would run Python for every event.
    """

    def __init__(self, app: QApplication, parent: QObject) -> None:
        super().__init__(parent)
        self._watched: QWidget | None = None
        app.focusChanged.connect(self._on_focus_changed)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            undo, redo = event.matches(QKeySequence.StandardKey.Undo), event.matches(QKeySequence.StandardKey.Redo)
            if (undo and own_undo(self._watched) is None) or (redo and not _own_redo(self._watched)):
                event.ignore()
                return True
        return False

    def _on_focus_changed(self, old: QWidget | None, new: QWidget | None) -> None:
        if self._watched is not None and self._watched is old:
            self._watched.removeEventFilter(self)
        self._watched = new if isinstance(new, QLineEdit | QTextEdit | QPlainTextEdit) else None
        if self._watched is not None:
            self._watched.installEventFilter(self)


def _own_redo(widget: QWidget | None) -> bool:
    if isinstance(widget, QLineEdit):
        return widget.isRedoAvailable()
    return isinstance(widget, QTextEdit | QPlainTextEdit) and widget.document().isRedoAvailable()
