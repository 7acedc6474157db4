# SPDX-License-Identifier: MIT
"""The table of a delivery: Enter goes on to the next figure and at the end to the next bottle, Tab to the next cell."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractItemDelegate, QLineEdit, QStyleOptionViewItem, QWidget

from desktop.language import tr
from desktop.models.delivery import DeliveryModel
from desktop.models.shelf_names import Candidate
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.grid import Grid, GridDelegate
from desktop.widgets.type_ahead import TypeAhead

# What Enter leads through; the other cells are reached by Tab.
FLOW = ("material", "ordered", "density", "gross", "tare", "price", "lot")
# They take the room of a wide window.
ROOMY = {"material": 240, "strength": 150, "lot": 120, "number": 120, "container": 190, "liner": 150, "place": 90}
_RETURNS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_STAY = QAbstractItemDelegate.EndEditHint.NoHint


def is_booking(event: QEvent) -> bool:
    """Whether a key asks to book the delivery: Ctrl+Enter."""
    return isinstance(event, QKeyEvent) and event.key() in _RETURNS and _has_control(event)


def is_copying(event: QEvent) -> bool:
    """Whether a key asks for the cell above: Ctrl+D."""
    return isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_D and _has_control(event)


def _is_table(text: str) -> bool:
    """Whether a text is rows of a sheet, and not one field."""
    return "\t" in text or "\n" in text.strip()


def _has_control(event: QKeyEvent) -> bool:
    return event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier == Qt.KeyboardModifier.ControlModifier


class DeliveryDelegate(GridDelegate):
    """Edits names by type-ahead and everything else as a line; what was typed is kept even where it cannot be read."""

    def __init__(self, theme: Theme, grid: DeliveryGrid, model: DeliveryModel) -> None:
        super().__init__(theme, grid)
        self._table = grid
        self._model = model

    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QWidget:
        if self._model.columns[index.column()].key != "material":
            return super().createEditor(parent, option, index)
        editor = TypeAhead(self._theme, self._model.candidates, parent)
        editor.setAccessibleName(tr("Material of this bottle"))
        kept = QPersistentModelIndex(index)
        editor.picked.connect(lambda candidate: self._on_candidate_picked(editor, kept, candidate))
        return editor

    def setModelData(self, editor: QWidget, model: object, index: QModelIndex | QPersistentModelIndex) -> None:
        if not editor.property("picked"):
            super().setModelData(editor, model, index)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if not isinstance(watched, QLineEdit) or not isinstance(event, QKeyEvent):
            return super().eventFilter(watched, event)
        if event.type() == QEvent.Type.ShortcutOverride and (is_booking(event) or is_copying(event)):
            # elsewhere these keys are commands of the window; here they belong to the table
            event.accept()
            return True
        if event.type() == QEvent.Type.KeyPress and self._answers(watched, event):
            return True
        is_returned = event.type() == QEvent.Type.KeyPress and isinstance(watched, TypeAhead) and event.key() in _RETURNS
        return False if is_returned or self._closes_list(watched, event) else super().eventFilter(watched, event)

    @staticmethod
    def _closes_list(editor: QObject, event: QKeyEvent) -> bool:
        return isinstance(editor, TypeAhead) and event.key() == Qt.Key.Key_Escape and editor.is_open

    def _answers(self, editor: QLineEdit, event: QKeyEvent) -> bool:
        """Does what a key in an editor asks for; whether it asked for anything of ours."""
        if is_booking(event):
            self._finish(editor)
            self._table.booking_asked.emit()
        elif is_copying(event):
            self.closeEditor.emit(editor, _STAY)
            self._table.copy_asked.emit(self._table.currentIndex())
        elif event.matches(QKeySequence.StandardKey.Paste) and _is_table(self._table.clipboard_text()):
            self.closeEditor.emit(editor, _STAY)
            self._table.paste_asked.emit(self._table.clipboard_text())
        elif isinstance(editor, TypeAhead):
            if event.key() != Qt.Key.Key_Tab or editor.chosen is None:
                return False
            self._pick(editor, self._table.currentIndex(), editor.chosen)
            self._table.step(1)
        elif event.key() in _RETURNS:
            if self._finish(editor):
                self._table.go_on()
        else:
            return False
        return True

    def _finish(self, editor: QLineEdit) -> bool:
        """Keeps what was typed and closes; whether it could be read."""
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, _STAY)
        return self.taken

    def _on_candidate_picked(self, editor: TypeAhead, index: QPersistentModelIndex, candidate: Candidate | None) -> None:
        if candidate is not None:
            self._pick(editor, QModelIndex(index), candidate)
            self._table.go_on()
        elif self._finish(editor):
            self._table.go_on()

    def _pick(self, editor: TypeAhead, index: QModelIndex, candidate: Candidate) -> None:
        # the editor must not write its few letters over what was chosen
        editor.setProperty("picked", True)
        self.taken = True
        place = index.row()
        self.closeEditor.emit(editor, _STAY)
        self._model.choose(place, candidate)


class DeliveryGrid(Grid):
    """`booking_asked` on Ctrl+Enter, `copy_asked(cell)` on Ctrl+D, `finished` on Enter in the empty row."""

    booking_asked = Signal()
    copy_asked = Signal(QModelIndex)
    finished = Signal()

    def __init__(self, theme: Theme, settings: Settings, model: DeliveryModel, parent: QWidget | None = None) -> None:
        super().__init__(theme, settings, "delivery", "told", parent, roomy=ROOMY)
        self.setAccessibleName(tr("Bottles of the delivery"))
        self.setItemDelegate(DeliveryDelegate(theme, self, model))
        self.enter_edits = False
        self.show_model(model)
        self._model = model

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and (is_booking(event) or is_copying(event)):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.state() == Grid.State.EditingState and not self.hasFocus():
            super().keyPressEvent(event)
        elif is_booking(event):
            self.booking_asked.emit()
        elif is_copying(event) and self.currentIndex().isValid():
            self.copy_asked.emit(self.currentIndex())
        elif event.key() in _RETURNS:
            self.go_on()
        else:
            super().keyPressEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab goes through the cells and leaves the table from the empty row at its end, or back from its first cell."""
        if self.hasFocus() and self.step(1 if forward else -1):
            return True
        return super().focusNextPrevChild(forward)

    def begin(self) -> None:
        """The cursor in the first cell of the empty row."""
        self.go_to(self._model.index(self._model.rowCount() - 1, self._model.place_of("material")))
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def step(self, by: int) -> bool:
        """Goes to the next cell or the one before; whether there is one."""
        current = self.currentIndex()
        if not current.isValid() or (by > 0 and self._model.row(current.row()).is_blank):
            return False
        beside = self._beside(by)
        self.go_to(beside)
        return beside != current

    def go_on(self) -> None:
        """To the next figure of the row, after the last one to the next row's material."""
        current = self.currentIndex()
        if not current.isValid():
            return
        row = self._model.row(current.row())
        if row.is_blank:
            self.finished.emit()
            return
        shown = [key for key in self.shown_columns() if key != "told"]
        key = self._model.columns[current.column()].key
        later = shown[shown.index(key) + 1 :]
        wanted = [cell for cell in later if cell in FLOW and (cell != "density" or self._asks_density(row.wants))]
        target = wanted if key in FLOW else later
        if target:
            self.go_to(self._model.index(current.row(), self._model.place_of(target[0])))
        else:
            self.go_to(self._model.index(current.row() + 1, self._model.place_of("material")))

    @staticmethod
    def _asks_density(wants: str) -> bool:
        return wants == "density"

    def show_density(self) -> None:
        """Puts the column of the density beside what was ordered, where it is not on screen."""
        shown = list(self.shown_columns())
        if "density" not in shown:
            shown.insert(shown.index("ordered") + 1 if "ordered" in shown else len(shown), "density")
            self.choose_columns(shown)
