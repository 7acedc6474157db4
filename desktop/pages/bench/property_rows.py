# SPDX-License-Identifier: MIT
"""Physical data in the form of a material: one row a datum, with its source and how well it is known."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models import properties
from desktop.widgets.field import Field
from desktop.widgets.labels import name_choices
from perfumery import Property, Refused, parse_number

NO_BASIS = tr("not said")


class PropertyRow(QWidget):
    """One datum: kind, figure or text, basis, source, and a way to take it out."""

    edited = Signal()
    taken_out = Signal(object)

    def __init__(self, datum: Property, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._datum = datum
        self.kind = QComboBox(self)
        for one in properties.KINDS.values():
            self.kind.addItem(f"{one.label}, {one.unit}" if one.unit else one.label, one.kind)
        if datum.kind not in properties.KINDS:
            self.kind.addItem(datum.kind, datum.kind)
        self.kind.setCurrentIndex(self.kind.findData(datum.kind))
        self.value = QLineEdit(datum.text if datum.value is None else figures.parts(datum.value), self)
        self.field = Field("", self.value)
        self.field.caption.hide()
        self.basis = QComboBox(self)
        known = {"": NO_BASIS, **properties.BASES}
        for basis, shown in {**known, datum.basis: known.get(datum.basis, datum.basis)}.items():
            self.basis.addItem(shown, basis)
        self.basis.setCurrentIndex(self.basis.findData(datum.basis))
        self.source = QLineEdit(datum.source, self)
        self.source.setPlaceholderText(tr("source"))
        self.source.setCursorPosition(0)
        self.remove = QPushButton(tr("take out"), self)
        self.remove.setProperty("role", "link")
        self.remove.setAutoDefault(False)
        label = properties.kind_of(datum.kind).label
        self.kind.setAccessibleName(tr("Kind of datum"))
        self.value.setAccessibleName(tr("Figure, {datum}", datum=label))
        self.basis.setAccessibleName(tr("How well it is known"))
        self.source.setAccessibleName(tr("Source, {datum}", datum=label))
        self.remove.setAccessibleName(tr("Take out {datum}", datum=label))
        for box in (self.kind, self.basis):
            name_choices(box, box.accessibleName())
            box.setMinimumContentsLength(5)
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        first, second = QHBoxLayout(), QHBoxLayout()
        first.addWidget(self.kind, 1)
        first.addWidget(self.remove)
        second.addWidget(self.field, 1)
        second.addWidget(self.basis, 1)
        second.setAlignment(self.basis, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 2, 0, 10)
        column.setSpacing(3)
        column.addLayout(first)
        column.addLayout(second)
        column.addWidget(self.source)
        self.kind.currentIndexChanged.connect(self._on_part_edited)
        self.basis.currentIndexChanged.connect(self._on_part_edited)
        self.value.textEdited.connect(self._on_part_edited)
        self.source.textEdited.connect(self._on_part_edited)
        self.remove.clicked.connect(self._on_remove_clicked)

    def datum(self) -> Property | None:
        """What the row holds; None where nothing was written, or where it cannot be kept, which is then said beside it."""
        self.field.say("")
        text = self.value.text().strip()
        if not text:
            return None
        kind = self.kind.currentData()
        made = replace(self._datum, kind=kind, source=self.source.text().strip(), basis=self.basis.currentData())
        is_text = properties.kind_of(kind).is_text or (kind == self._datum.kind and self._datum.value is None and
                                                       bool(self._datum.text))  # fmt: skip
        if is_text:
            return replace(made, value=None, text=text)
        if self._datum.value is not None and text == figures.parts(self._datum.value):
            return made
        try:
            return replace(made, value=parse_number(text), text="")
        except Refused as refused:
            self.field.say(wording.sentences(refused.findings))
            return None

    def _on_part_edited(self) -> None:
        self.edited.emit()

    def _on_remove_clicked(self) -> None:
        self.taken_out.emit(self)


class PropertyRows(QWidget):
    """All data of a material, and a way to add one."""

    edited = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows: list[PropertyRow] = []
        self.add = QPushButton(tr("Add a datum"), self)
        self.add.setProperty("role", "link")
        self.add.setAutoDefault(False)
        self.add.clicked.connect(self._on_add_clicked)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._column.addWidget(self.add)

    def show_data(self, data: tuple[Property, ...]) -> None:
        """Fills the rows anew."""
        for row in tuple(self.rows):
            self._drop(row)
        for datum in data:
            self._append(datum)

    def data(self) -> tuple[Property, ...]:
        """What the rows hold, as far as it can be kept."""
        return tuple(datum for row in self.rows if (datum := row.datum()) is not None)

    @property
    def is_wrong(self) -> bool:
        """Whether a row holds something that cannot be kept, after `data` was asked."""
        return any(row.field.is_wrong for row in self.rows)

    def _append(self, datum: Property) -> PropertyRow:
        row = PropertyRow(datum, self)
        row.edited.connect(self.edited)
        row.taken_out.connect(self._on_row_taken_out)
        self.rows.append(row)
        self._column.insertWidget(len(self.rows) - 1, row)
        return row

    def _drop(self, row: PropertyRow) -> None:
        self.rows.remove(row)
        self._column.removeWidget(row)
        row.hide()
        row.deleteLater()

    def _on_add_clicked(self) -> None:
        held = {row.kind.currentData() for row in self.rows}
        kind = next((kind for kind in properties.KINDS if kind not in held), "note class")
        self._append(Property(kind)).value.setFocus()

    def _on_row_taken_out(self, row: PropertyRow) -> None:
        self._drop(row)
        self.add.setFocus()
        self.edited.emit()
