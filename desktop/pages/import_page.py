# SPDX-License-Identifier: MIT
"""Materials out of a table: which column is what, what every row would become, and all of it taken as one step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QAction, QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from desktop import wording
from desktop.language import tr, tr_count
from desktop.models.imported import CHOICES, FileColumn, ImportedModel, file_columns, taken, understood
from desktop.session import Session
from desktop.table_files import TableFile
from desktop.widgets.emptied import take_out
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import ElidedLabel, label
from desktop.widgets.panes import Panes
from perfumery import Material, Refused
from perfumery.materials_table import Imported

TOLD = tr("Say what each column is. Nothing is kept before you take it, and all of it is one step to undo.")
# So many rows and materials are looked through at once; more are between the turns of the event loop.
AT_ONCE = 500
# A timer of no time at all may run in the turn that set it.
NEXT_TURN_MS = 5
NO_NAME = tr("No column is the name yet. Choose which one holds the names of the materials.")


class ImportPage(QWidget):
    """`left` when it is put away, whether something was taken or not."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._tables: tuple[TableFile, ...] = ()
        self._columns: list[FileColumn] = []
        self._known: list[Material] | None = None
        self._put: list[Material] = []
        self._asked = 0
        self.fields: list[QComboBox] = []
        self.title = label("", "title")
        self.told = label(TOLD, "quiet", wrap=True)
        self.remark = label("", "amber", wrap=True)
        self.sheet = QComboBox(self)
        self.sheet_field = Field(tr("sheet of the file"), self.sheet, self)
        self.fill = QCheckBox(tr("fill what is empty in materials that are in the book"), self)
        self.fill.setChecked(True)
        self.wrong = label("", "wrong", wrap=True)
        self.counted = label("", wrap=True)
        self.model = ImportedModel(self)
        self.grid = Grid(session.theme, session.settings, "imported", "outcome", self)
        self.grid.setAccessibleName(tr("Rows as they are understood"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.take_button = QPushButton(self)
        self.take_button.setProperty("role", "primary")
        self.take_button.setToolTip("Ctrl+Enter")
        self.leave_button = QPushButton(tr("Leave it"), self)
        self._mapping = QGridLayout()
        self._lay_out()
        self.sheet.currentIndexChanged.connect(lambda _: self._show_table())
        self.fill.toggled.connect(lambda _: self._count())
        self.take_button.clicked.connect(lambda _=False: self.take())
        self.leave_button.clicked.connect(lambda _=False: self.left.emit())

    def _lay_out(self) -> None:
        body = QWidget(self)
        inside = QVBoxLayout(body)
        inside.setContentsMargins(0, 0, 8, 0)
        self._mapping.setHorizontalSpacing(12)
        self._mapping.setVerticalSpacing(6)
        self._mapping.setColumnStretch(0, 2)
        self._mapping.setColumnStretch(1, 3)
        inside.addLayout(self._mapping)
        inside.addStretch(1)
        scroll = QScrollArea(self)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidgetResizable(True)
        scroll.setWidget(body)
        body.setProperty("role", "pane")
        body.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(8, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.fill)
        column.addWidget(self.grid, 1)
        column.addWidget(self.counted)
        split = Panes(self._session.theme, self._session.settings, "import panes", (scroll, right), (420, 780), grows=1)
        buttons = QHBoxLayout()
        buttons.addWidget(self.take_button)
        buttons.addWidget(self.leave_button)
        buttons.addStretch(1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 12, 16, 12)
        whole.setSpacing(8)
        for part in (self.title, self.told, self.remark, self.sheet_field):
            whole.addWidget(part)
        whole.addWidget(split, 1)
        whole.addWidget(self.wrong)
        whole.addLayout(buttons)
        self.setProperty("role", "pane")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)

    def menus(self) -> tuple[tuple[str, tuple[QAction, ...]], ...]:
        """Nothing of its own in the menu bar."""
        return ()

    def take_focus(self) -> None:
        """The focus to the first column that is not known, else to the first."""
        unknown = next((box for box in self.fields if not box.currentData()), None)
        box = unknown or (self.fields[0] if self.fields else None)
        (box or self.leave_button).setFocus(Qt.FocusReason.OtherFocusReason)

    def start(self, path: Path, tables: tuple[TableFile, ...]) -> None:
        """Shows the tables of a file, the first of them."""
        self._tables = tables
        self._known = None
        self.title.setText(tr("Materials from {file}", file=path.name))
        self.sheet.blockSignals(True)
        self.sheet.clear()
        self.sheet.addItems([table.name or path.name for table in tables])
        self.sheet.blockSignals(False)
        self.sheet_field.setVisible(len(tables) > 1)
        self._say("")
        self._show_table()

    @property
    def table(self) -> TableFile:
        """The table that is shown."""
        return self._tables[max(self.sheet.currentIndex(), 0)]

    def _show_table(self) -> None:
        """One row of the form for each column of the file."""
        take_out(self._mapping)
        self.remark.setText(self.table.remark)
        self.remark.setVisible(bool(self.table.remark))
        self._columns = file_columns(self.table)
        self.fields = []
        for row, column in enumerate(self._columns):
            name, sample = ElidedLabel(self), ElidedLabel(self)
            name.setText(column.title)
            sample.setProperty("role", "caption")
            sample.setText(column.sample)
            box = QComboBox(self)
            box.setAccessibleName(tr("What column {title} is", title=column.title))
            for text, field in CHOICES:
                box.addItem(text, field)
            box.setCurrentIndex(box.findData(column.field))
            box.currentIndexChanged.connect(lambda _: self._show_rows())
            self.fields.append(box)
            for part in (name, sample):
                part.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            for at, part in enumerate((name, sample, box)):
                self._mapping.addWidget(part, row, at)
                # a layout shows what is put into it only a moment later, too late for the focus
                part.show()
        self._show_rows()
        self.take_focus()

    def _show_rows(self) -> None:
        fields = [str(box.currentData()) for box in self.fields]
        twice = [text for text, field in CHOICES if field and fields.count(field) > 1]
        if twice:
            self._say(tr("Two columns are {field}. Leave one of them out.", field=twice[0]))
        else:
            self._say("" if "name" in fields else NO_NAME)
        self._asked += 1
        if twice or "name" not in fields:
            self._show([])
            return
        rows: list[Imported] = []
        pieces = self._reading(self._asked, fields, rows)
        work = self._session.work
        if work is None or len(self.table.rows) + len(self._session.book.material_rows()) <= AT_ONCE:
            for _ in pieces:
                pass
            self._show(rows)
            return
        self._show([])
        self.take_button.setText(tr("Reading the rows…"))
        work.slices(pieces, lambda fault, asked=self._asked: self._on_read(asked, rows, fault), tr("Reading the rows"))

    def _reading(self, asked: int, fields: list[str], rows: list[Imported]) -> Iterator[tuple[int, int]]:
        """Adds what the rows are understood as, until other columns are asked for."""
        known = []
        if self._known is None:
            for material in self._session.book.all(Material):
                known.append(material)
                yield 0, len(self.table.rows)
            self._known = known
        for row in understood(self.table, fields, self._known):
            if asked != self._asked:
                return
            rows.append(row)
            yield len(rows), len(self.table.rows)

    def _on_read(self, asked: int, rows: list[Imported], fault: Exception | None) -> None:
        if asked != self._asked:
            return
        if fault is not None:
            self._session.said.emit(tr("The import was cancelled; nothing was taken."), "note")
            self.left.emit()
            return
        self._show(rows)

    def _show(self, rows: list[Imported]) -> None:
        self.model.show_rows(rows)
        other = next((found for row in rows for found in row.findings if found.code == "data-unreadable"), None)
        if other is not None:
            # what is to be done about it is done with the column, not with the row
            self._say(wording.sentence(other))
        self._count()

    def _count(self) -> None:
        rows = self.model.rows
        put = self._put = taken(rows, fill=self.fill.isChecked())
        new = sum(row.is_new for row in rows)
        wrong = sum(bool(row.findings) for row in rows)
        said = [tr_count(len(rows), "{n} row: {new} new", "{n} rows: {new} new", new=new)]
        if len(put) > new:
            said.append(tr("{number} filled", number=len(put) - new))
        if wrong:
            said.append(tr_count(wrong, "{n} row left out, as said beside it", "{n} rows left out, as said beside them"))
        self.counted.setText(", ".join(said) + "." if rows else "")
        if new and len(put) > new:
            told = tr_count(new, "Take {n} new material and fill {filled}", "Take {n} new materials and fill {filled}",
                            filled=len(put) - new)  # fmt: skip
        elif new:
            told = tr_count(new, "Take {n} new material", "Take {n} new materials")
        elif put:
            told = tr_count(len(put), "Fill {n} material", "Fill {n} materials")
        else:
            told = tr("Nothing to take")
        self.take_button.setText(told)
        self.take_button.setEnabled(bool(put))

    def _say(self, sentence: str) -> None:
        self.wrong.setText(sentence)
        self.wrong.setVisible(bool(sentence))

    def take(self) -> None:
        """Puts what is to be taken as one step."""
        put, self._put = self._put, []
        work = self._session.work
        if len(put) <= AT_ONCE or work is None:
            if put and self._is_taken(put):
                self.left.emit()
            return
        self.take_button.setEnabled(False)
        keyed: list[Material] = []
        work.slices(self._keying(put, keyed), lambda fault: self._on_keyed(keyed, fault), tr("Taking the materials"))

    def _keying(self, put: list[Material], keyed: list[Material]) -> Iterator[tuple[int, int]]:
        """Keys, and rows to be written, ready beforehand: so much less is left for the one transaction."""
        book = self._session.book
        for material in put:
            keyed.append(material if material.key is not None else replace(material, key=book.new_key()))
            book.make_ready(keyed[-1])
            yield len(keyed), len(put)

    def _on_keyed(self, keyed: list[Material], fault: Exception | None) -> None:
        if fault is None and self._is_taken(keyed):
            # the page that comes up then has as much to show: in a turn of its own
            QTimer.singleShot(NEXT_TURN_MS, self, self.left.emit)
        elif fault is not None:
            self._session.said.emit(tr("The import was cancelled; nothing was taken."), "note")
            self._count()

    def _is_taken(self, put: list[Material]) -> bool:
        step = tr_count(len(put), "import of {n} material", "import of {n} materials")
        try:
            done = self._session.put(step, *put)
        except Refused as fault:
            self._count()
            self._say(wording.sentences(fault.findings))
            return False
        if done is None:
            self._count()
            return False
        said = tr_count(len(put), "{n} material taken from the file.", "{n} materials taken from the file.")
        self._session.said.emit(said, "done")
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif is_enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.take()
        else:
            super().keyPressEvent(event)
