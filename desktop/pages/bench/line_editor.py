# SPDX-License-Identifier: MIT
"""Editors in the formula's cells: a type-ahead over name, strength and parts where a line is typed or exchanged."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractItemDelegate, QLineEdit, QStyleOptionViewItem, QWidget

from desktop.language import tr
from desktop.models.entry import Asked, LineEntry
from desktop.models.lines import LinesModel
from desktop.models.shelf_names import Candidate
from desktop.theme import Theme
from desktop.widgets.emptied import empty
from desktop.widgets.grid import Grid, GridDelegate
from desktop.widgets.type_ahead import TypeAhead

_OWN_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class LineDelegate(GridDelegate):
    """Edits the entry row and the names by type-ahead; Enter adds the line and stays in the entry row."""

    def __init__(self, theme: Theme, grid: Grid, model: LinesModel, entry: LineEntry) -> None:
        super().__init__(theme, grid)
        self._model = model
        self._entry = entry

    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QWidget:
        if self._model.columns[index.column()].key != "material":
            return super().createEditor(parent, option, index)
        editor = TypeAhead(self._theme, self._entry.candidates, parent)
        editor.setAccessibleName(tr("Type a line: material, strength, parts"))
        kept = QPersistentModelIndex(index)
        editor.picked.connect(lambda candidate: self._on_candidate_picked(editor, kept, candidate))
        return editor

    def setEditorData(self, editor: QWidget, index: QModelIndex | QPersistentModelIndex) -> None:
        if isinstance(editor, TypeAhead) and self._model.row(index.row()).is_entry:
            if not editor.isModified() and not editor.text():
                editor.setText(self._model.entry_text)
            return
        super().setEditorData(editor, index)

    def setModelData(
        self, editor: QWidget, model: object, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        if isinstance(editor, TypeAhead):
            # a name is taken only by choosing it; what was typed into the entry row waits there
            self.taken = True
            if self._model.row(index.row()).is_entry:
                self._model.setData(QModelIndex(index), editor.text())
            return
        super().setModelData(editor, model, index)

    def updateEditorGeometry(
        self, editor: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().updateEditorGeometry(editor, option, index)
        if isinstance(editor, TypeAhead):
            # a whole line is typed here: over the cells of strength and parts as well
            right = max(
                self._grid.visualRect(index.siblingAtColumn(self._model.place_of(key))).right()
                for key in ("material", "strength", "parts")
            )
            rect = editor.geometry()
            rect.setRight(max(rect.right(), right))
            editor.setGeometry(rect)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(watched, TypeAhead) and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            text = self._grid.clipboard_text().strip()
            if event.matches(QKeySequence.StandardKey.Paste) and ("\n" in text or "\t" in text):
                # rows of a sheet are not one line: they are shown first
                self.closeEditor.emit(watched, QAbstractItemDelegate.EndEditHint.NoHint)
                self._grid.paste_asked.emit(text)
                return True
            if event.key() in _OWN_KEYS or (event.key() == Qt.Key.Key_Escape and watched.is_open):
                return False
            if event.key() == Qt.Key.Key_Tab and watched.chosen is not None and not watched.text().endswith(" "):
                complete(watched)
                return True
        return super().eventFilter(watched, event)

    def _on_candidate_picked(
        self, editor: TypeAhead, index: QPersistentModelIndex, candidate: Candidate | None
    ) -> None:
        row = self._model.row(index.row())
        if row.is_entry and not editor.text().strip():
            self.closeEditor.emit(editor, QAbstractItemDelegate.EndEditHint.NoHint)
            return
        if row.place is None:
            asked = self._entry.enter(editor.text(), candidate)
        else:
            asked = self._entry.exchange(row.place, editor.text(), candidate)
        if asked is not None:
            go_on(editor, asked)
        elif row.is_entry:
            empty(editor)
            editor.close_list()
            self._grid.scrollToBottom()
        else:
            self.closeEditor.emit(editor, QAbstractItemDelegate.EndEditHint.NoHint)


def go_on(editor: TypeAhead, asked: Asked) -> None:
    """Puts the question under the field and the cursor where its answer goes."""
    editor.setText(asked.text)
    editor.setModified(True)
    editor.setCursorPosition(asked.cursor)
    editor.offer()
    editor.ask(asked.sentence)


def complete(editor: TypeAhead) -> None:
    """Completes the name chosen in the list and keeps the figures typed behind it."""
    chosen = editor.chosen
    figures_typed = [word for word in editor.text().split()[1:] if word[:1].isdigit() or word in ("neat", tr("neat"))]
    if chosen.new_name == "":
        editor.setText(" ".join([chosen.label, *figures_typed]) + ("" if figures_typed else " "))
        editor.setModified(True)
    QLineEdit.end(editor, False)
    editor.offer()
