# SPDX-License-Identifier: MIT
"""A field of a form: the sentence beside it comes and goes without anything else leaving its place."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QStyle,
    QStyleOptionButton,
    QVBoxLayout,
    QWidget,
)

from desktop.theme import Theme
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow
from desktop.widgets.type_ahead import TypeAhead


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


@dataclass(frozen=True)
class Offer:
    label: str
    hint: str = ""


@pytest.fixture
def theme(qapp: QApplication) -> Iterator[Theme]:
    made = Theme(qapp, "light")
    yield made
    made.resize_text(1.0)


@pytest.fixture
def form(theme: Theme, qtbot: Any) -> QWidget:
    made = QWidget()
    qtbot.addWidget(made)
    theme.dress(made)
    QVBoxLayout(made)
    made.resize(500, 400)
    return made


def _parts(box: QCheckBox) -> tuple[Any, ...]:
    """Where the sign and the label of a check box are drawn, and how large it wants to be."""
    option = QStyleOptionButton()
    box.initStyleOption(option)
    elements = (QStyle.SubElement.SE_CheckBoxIndicator, QStyle.SubElement.SE_CheckBoxContents)
    rects = (box.style().subElementRect(element, option, box).getRect() for element in elements)
    return (*rects, box.sizeHint().toTuple())


def test_a_check_box_with_the_focus_stays_as_it_is(form: QWidget, qtbot: Any) -> None:
    first, second = QCheckBox("nose has a cold", form), QCheckBox("tired nose", form)
    for box in (first, second):
        form.layout().addWidget(box)
    form.show()
    form.activateWindow()
    qtbot.waitUntil(form.isActiveWindow)
    second.setFocus(Qt.FocusReason.TabFocusReason)
    without = _parts(first)
    first.setFocus(Qt.FocusReason.TabFocusReason)
    assert first.hasFocus() and _parts(first) == without


def test_a_check_box_grows_with_the_text(form: QWidget, theme: Theme) -> None:
    box = QCheckBox("tired nose", form)
    form.show()
    small = _parts(box)[0]
    theme.resize_text(2.0)
    theme.dress(form)
    QApplication.processEvents()
    assert _parts(box)[0][2] - small[2] == 12 and _parts(box)[0][3] - small[3] == 12


@pytest.mark.qt_log_ignore("This plugin does not support (raise|grabbing the keyboard)", extend=True)
@pytest.mark.parametrize("scale", [1.0, 1.6])
def test_a_list_of_choices_shows_its_last_row_whole(form: QWidget, theme: Theme, scale: float, qtbot: Any) -> None:
    theme.resize_text(scale)
    theme.dress(form)
    box, other = QComboBox(form), QComboBox(form)
    for one in (box, other):
        one.addItems([f"SR-{number}" for number in range(6)])
        form.layout().addWidget(one)
    form.show()
    form.activateWindow()
    qtbot.waitUntil(form.isActiveWindow)
    heights = set()
    for one in (other, box):
        one.setFocus()
        for each in (box, other):
            each.addItem("reckoned anew")
            each.removeItem(6)
            heights.add(each.sizeHint().height())
    assert len(heights) == 1, "nothing jumps when the focus comes"
    box.showPopup()
    QApplication.processEvents()
    view = box.view()
    last = view.visualRect(view.model().index(5, 0))
    assert view.verticalScrollBar().maximum() == 0 and last.bottom() < view.viewport().height()
    box.hidePopup()


@pytest.mark.parametrize("look", ["light", "dark"])
def test_an_offered_list_has_a_line_on_every_side(form: QWidget, theme: Theme, look: str) -> None:
    theme.choose(look)
    theme.dress(form)
    field = TypeAhead(theme, lambda text: (Offer("Linalool"), Offer("Linalyl acetate")), form)
    form.layout().addWidget(field)
    form.show()
    for sentence in ("", "Which of them is meant?"):
        field.offer()
        field.ask(sentence)
        QApplication.processEvents()
        frame = form.findChild(QFrame, "offered")
        drawn = frame.grab().toImage()
        right, foot = drawn.width() - 1, drawn.height() - 1
        sides = ((0, foot // 2), (right, foot // 2), (right // 2, 0), (right // 2, foot))
        assert {drawn.pixelColor(*side).name().upper() for side in sides} == {theme.token("juniper")}, sentence


def test_a_row_of_narrow_fields_follows_the_size_of_the_text(form: QWidget, theme: Theme) -> None:
    fields = [Field(caption, QLineEdit(), form) for caption in ("vial", "empty vessel, g")]
    form.layout().addLayout(FieldRow(theme, ((fields[0], 110), (fields[1], 130))))
    form.layout().addStretch(1)
    form.resize(700, 300)
    form.show()
    theme.resize_text(1.6)
    theme.dress(form)
    for width in (700, 1):
        form.resize(width, 300)
        QApplication.processEvents()
        assert _at(fields[0]) == _at(fields[1])
