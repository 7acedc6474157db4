# SPDX-License-Identifier: MIT
"""The preview of a pasted formula, in the place of the table: what each row was taken for, and what has to be mended.

Enter takes the rows that are ready as one step; the others stay here until they are mended or given up with Escape.
"""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.lines import LinesModel
from desktop.models.pasted import PastedModel
from desktop.models.shelf_names import Candidate
from desktop.session import Session
from desktop.theme import Theme
from desktop.widgets.grid import Grid, GridDelegate
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Refused

UNITS = {"g": tr("grams"), "%": tr("percent"), "‰": tr("per thousand")}

# So many rows are looked up in one go.
AT_ONCE = 20


class PastedDelegate(GridDelegate):
    """Chooses what a row is by type-ahead; the likeliest stand in the list before anything is typed."""

    def __init__(self, theme: Theme, grid: Grid, model: PastedModel) -> None:
        super().__init__(theme, grid)
        self._model = model

    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QWidget:
        if self._model.columns[index.column()].key != "material":
            return super().createEditor(parent, option, index)
        kept = QPersistentModelIndex(index)
        editor = TypeAhead(self._theme, lambda text: self._model.candidates(kept.row(), text), parent)
        editor.setAccessibleName(tr("What this row is"))
        editor.picked.connect(lambda candidate: self._on_candidate_picked(editor, kept, candidate))
        return editor

    def setEditorData(self, editor: QWidget, index: QModelIndex | QPersistentModelIndex) -> None:
        super().setEditorData(editor, index)
        if isinstance(editor, TypeAhead) and not editor.is_open:
            editor.offer()

    def setModelData(self, editor: QWidget, model: object, index: QModelIndex | QPersistentModelIndex) -> None:
        # a material is taken only by choosing it
        self.taken = True
        if not isinstance(editor, TypeAhead):
            super().setModelData(editor, model, index)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(watched, TypeAhead) and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                return False
        return super().eventFilter(watched, event)

    def _on_candidate_picked(
        self, editor: TypeAhead, index: QPersistentModelIndex, candidate: Candidate | None
    ) -> None:
        place = index.row()
        self.closeEditor.emit(editor, QAbstractItemDelegate.EndEditHint.NoHint)
        if candidate is not None:
            self._model.choose(place, candidate)


class PasteSheet(QWidget):
    """`left` asks to be put away: everything was taken, or the rest was given up."""

    left = Signal()

    def __init__(
        self, session: Session, lines: LinesModel, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session = session
        self.model = PastedModel(session, lines, self)
        self.title = QLabel(tr("Pasted lines"), self)
        self.title.setProperty("role", "title")
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setProperty("role", "quiet")
        self.of_row = QLabel(self)
        self.of_row.setWordWrap(True)
        self.of_row.setProperty("role", "amber")
        self.of_row.setAccessibleName(tr("What this row needs"))
        self.wrong = QLabel(self)
        self.wrong.setWordWrap(True)
        self.wrong.setProperty("role", "wrong")
        self.asked = QWidget(self)
        self.question = QLabel(self.asked)
        self.question.setProperty("role", "amber")
        self.ways = (QPushButton(self.asked), QPushButton(self.asked))
        for way, button in enumerate(self.ways):
            button.clicked.connect(lambda _=False, way=way: self.model.read_all(way))
        self.grid = Grid(session.theme, session.settings, "pasted", "text", self)
        self.grid.setAccessibleName(tr("Pasted rows"))
        self.grid.setItemDelegate(PastedDelegate(session.theme, self.grid, self.model))
        self.grid.enter_edits = False
        self.grid.entered.connect(self._on_row_entered)
        self.grid.given_up.connect(lambda _: self.left.emit())
        self.grid.show_model(self.model)
        self.grid.selectionModel().currentChanged.connect(self._say_of_row)
        self.take_button = QPushButton(self)
        self.take_button.setProperty("role", "primary")
        self.take_button.clicked.connect(self.take)
        self.leave_button = QPushButton(self)
        self.leave_button.clicked.connect(self.left)
        self.model.judged.connect(self._on_model_judged)
        self._reading: Iterator[tuple[int, int]] | None = None
        self.left.connect(self._stop_reading)
        self._build()

    def _build(self) -> None:
        question, buttons = QHBoxLayout(self.asked), QHBoxLayout()
        question.setContentsMargins(0, 0, 0, 0)
        question.addWidget(self.question)
        for button in self.ways:
            question.addWidget(button)
        question.addStretch(1)
        buttons.addWidget(self.take_button)
        buttons.addWidget(self.leave_button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 12, 12)
        column.setSpacing(8)
        for part in (self.title, self.told, self.asked, self.grid, self.of_row, self.wrong):
            column.addWidget(part, 1 if part is self.grid else 0)
        column.addLayout(buttons)

    def start(self, text: str) -> None:
        """Shows what a pasted text was understood as."""
        self.wrong.setText("")
        self._stop_reading()
        work = self._session.work
        if work is None or text.count("\n") <= AT_ONCE:
            self.model.read(text)
            self._on_read(None)
            return
        # names are looked for in thousands of others
        self.model.show_rows([])
        self.told.setText(tr("Looking the names up…"))
        self.take_button.setEnabled(False)
        self.leave_button.setFocus()
        pieces = self._reading = self.model.reading(text)
        work.slices(pieces, lambda fault: self._on_read(fault) if self._reading is pieces else None, tr("Looking the names up"))

    def _stop_reading(self) -> None:
        """A paste that was left, or that another took the place of, is looked up no further."""
        if self._reading is not None:
            self._reading.close()  # type: ignore[attr-defined]
            self._reading = None

    def _on_read(self, fault: Exception | None) -> None:
        if fault is not None:
            self._session.said.emit(tr("The paste was cancelled; nothing was taken."), "note")
            self.left.emit()
            return
        places = [place for place, row in enumerate(self.model.rows) if not row.is_ready]
        self.grid.go_to(self.model.index(places[0] if places else 0, self.model.place_of("material")))
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def take(self) -> None:
        """Takes what is ready; leaves when nothing is left."""
        try:
            taken = self.model.take()
        except Refused as fault:
            self.wrong.setText(wording.sentences(fault.findings))
            return
        if not taken:
            return
        rest = self.model.rowCount()
        if not rest:
            self._session.said.emit(tr_count(taken, "{n} line pasted.", "{n} lines pasted."), "done")
            self.left.emit()
            return
        said = tr_count(taken, "{n} line pasted", "{n} lines pasted")
        stay = tr_count(rest, "{n} row could not be taken and stays here.", "{n} rows could not be taken and stay here.")
        self._session.said.emit(f"{said}; {stay}", "note")
        self.wrong.setText(" ".join((stay, tr("Mend what is left, or leave it."))))

    def _on_row_entered(self, place: int) -> None:
        """Enter takes what is ready; on a row that asks for something it opens the cell that has to be mended."""
        wanted = self.model.row(place).wants
        if wanted in ("material", "strength", "parts"):
            index = self.model.index(place, self.model.place_of(wanted))
            self.grid.go_to(index)
            self.grid.edit(index)
        else:
            self.take()

    def _say_of_row(self, *_: object) -> None:
        """The whole of what the row under the cursor needs: the cell is too narrow for a sentence."""
        place = self.grid.currentIndex().row()
        row = self.model.row(place) if 0 <= place < self.model.rowCount() else None
        text = "" if row is None else row.asks or row.note
        self.of_row.setText(f"{' '.join(row.pasted.text.split())}: {text}" if row is not None and text else "")

    def _on_model_judged(self) -> None:
        self._say_of_row()
        rows = self.model.rows
        ready = sum(row.is_ready for row in rows)
        fresh = {row.taken.new_name for row in rows if row.is_ready and row.taken and row.taken.new_name}
        sheet = self.model.sheet
        of = tr_count(len(rows), "{n} row", "{n} rows")
        told = [tr_count(ready, "{n} line ready of {rows}.", "{n} lines ready of {rows}.", rows=of)]
        if sheet.unit in UNITS:
            told.append(tr("The quantities are in {unit}; they are taken as parts.", unit=UNITS[sheet.unit]))
        if sheet.unused:
            told.append(tr("Columns not used: {names}.", names=figures.listed(sheet.unused)))
        if fresh:
            told.append(tr("New on the shelf: {names}.", names=figures.listed(sorted(fresh))))
        self.told.setText(" ".join(told))
        two = next((row for row in rows if row.parts is None and row.pasted.readings), None)
        self.asked.setVisible(two is not None)
        if two is not None:
            first, second = (figures.parts(value) for value in two.pasted.readings)
            self.question.setText(tr("Some figures can be read two ways. All of them:"))
            for button, text in zip(self.ways, (first, second), strict=True):
                button.setText(tr("as {figure}", figure=text))
                button.setToolTip(tr("Reads every such figure the way that makes this one {figure}", figure=text))
        self.take_button.setText(tr_count(ready, "Take {n} line", "Take {n} lines"))
        self.take_button.setEnabled(ready > 0)
        self.leave_button.setText(tr("Leave them") if ready else tr("Leave the rest"))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        control = event.modifiers() == Qt.KeyboardModifier.ControlModifier
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() == Qt.Key.Key_Return and control:
            self.take()
        else:
            super().keyPressEvent(event)
