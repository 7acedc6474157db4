# SPDX-License-Identifier: MIT
"""A field of a form: the sentence beside it comes and goes without anything else leaving its place."""

from typing import Any

from PySide6.QtWidgets import QApplication, QHBoxLayout, QLineEdit, QPlainTextEdit, QVBoxLayout, QWidget

from desktop.theme import Theme
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow


def _at(field: Field) -> int:
    return field.editor.mapTo(field.window(), field.editor.rect().topLeft()).y()


def test_the_sentence_of_a_neighbour_leaves_the_editor_in_its_place(qtbot: Any) -> None:
    form = QWidget()
    qtbot.addWidget(form)
    first, second = Field("received", QLineEdit(), form), Field("re-test on", QLineEdit(), form)
    row = QHBoxLayout()
    for field in (first, second):
        row.addWidget(field)
    whole = QVBoxLayout(form)
    whole.addLayout(row)
    whole.addStretch(1)
    form.resize(320, 300)
    form.show()
    before = _at(first), _at(second)
    second.say("“tomorrow” is no day. Write it as 5 Oct 2024, 5.10.2024 or 2024-10-05.")
    QApplication.processEvents()
    assert (_at(first), _at(second)) == before


def test_a_text_of_several_lines_still_takes_the_room(qtbot: Any) -> None:
    field = Field("remark", QPlainTextEdit())
    qtbot.addWidget(field)
    field.resize(300, 600)
    field.show()
    assert field.editor.height() > 500


def test_a_row_of_narrow_fields_keeps_a_line_free_for_the_first_sentence(qtbot: Any, qapp: QApplication) -> None:
    theme = Theme(qapp, "light")
    form = QWidget()
    theme.dress(form)
    qtbot.addWidget(form)
    fields = [Field(caption, QLineEdit(), form) for caption in ("supplier", "came on", "balance")]
    below = QLineEdit(form)
    column = QVBoxLayout(form)
    column.addLayout(FieldRow(theme, [(field, 110) for field in fields]))
    column.addWidget(below)
    column.addStretch(1)
    form.resize(600, 300)
    form.show()
    before = below.y()
    for field in fields:
        field.say("1 Jan 2026 has not come yet.")
        QApplication.processEvents()
        assert below.y() == before
        field.say("")
