# SPDX-License-Identifier: MIT
"""A new material, or one being changed: a form beside the list. Nothing typed is lost by looking elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFrame,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.days import parse_day
from desktop.models.forms import form_of, form_text
from desktop.pages.bench.property_rows import PropertyRows
from desktop.session import Session
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.flow import Flow
from desktop.widgets.word_entry import WordEntry
from perfumery import Bottle, Finding, Material, Refused, Word, cas, parse_number
from perfumery.findings import refuse
from perfumery.text import fold
from perfumery.values import FORMS, MOST_MONTHS

BENCH_NAME_MAX = 24
# of these something may be said at every letter: the form must not jump below the hand
SAID_WHILE_TYPING = ("bench_name", "cas")


class MaterialForm(QWidget):
    """The form. Signals: `kept(key)` when the book took it, `left()` when the person goes back to the list."""

    kept = Signal(int)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._material: Material | None = None
        self._filled: tuple[Any, ...] = ()
        self._lines: dict[str, QLineEdit] = {}
        self.fields: dict[str, Field] = {}
        self.title = QLabel(self)
        self.title.setWordWrap(True)
        self.form = QComboBox(self)
        self.form.setEditable(True)
        self.form.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.form.setMinimumContentsLength(8)
        self.form.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.form.addItems([form_text(form) for form in FORMS])
        self.carrier = QCheckBox(tr("a carrier"), self)
        self.carrier.setToolTip(tr("Counts as what others are diluted in; a line of a formula may say otherwise."))
        self.words = WordEntry(session.theme, self)
        self.data = PropertyRows(self)
        self.keep_button = QPushButton(tr("Keep"), self)
        self.keep_button.setProperty("role", "primary")
        self.back_button = QPushButton(tr("Back"), self)
        self.discard_button = QPushButton(tr("Discard"), self)
        for button, slot in ((self.keep_button, self.keep), (self.back_button, self._on_back_clicked),
                             (self.discard_button, self._on_discard_clicked)):  # fmt: skip
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        self.back_button.setProperty("role", "link")
        self.discard_button.setProperty("role", "link")
        self.back_button.setToolTip(tr("Back to the list; what was typed waits here (Escape)"))
        self.discard_button.setToolTip(tr("Forgets what was typed"))
        self._lay_out()
        self._lines["cas"].textEdited.connect(self._on_cas_edited)
        self._lines["cas"].editingFinished.connect(self._on_cas_finished)
        self._lines["bench_name"].textEdited.connect(self._on_bench_name_edited)
        self.start(None)

    # filling ----------------------------------------------------------------------------------------------------------

    def start(self, key: int | None, name: str = "") -> None:
        """Shows a material for changing; None a new one, with the name that was searched for."""
        book = self._session.book
        self._material = None if key is None else book.get(Material, key)
        material = self._material or Material(name=name or "new")
        title = tr("Change the material") if self._material else tr("New material")
        self.title.setText(f"<b>{title}</b>")
        for attribute in ("cas", "bench_name", "inci", "botanical", "storage"):
            self._lines[attribute].setText(getattr(material, attribute))
        self._lines["name"].setText(material.name if self._material else name)
        self._lines["synonyms"].setText("; ".join(material.synonyms))
        self._lines["retest_months"].setText("" if material.retest_months is None else str(material.retest_months))
        self.form.setCurrentText(form_text(material.form))
        self.carrier.setChecked(material.is_carrier)
        self.words.show_words(material.words)
        self.words.offer(sorted(word.text for word in book.all(Word)))
        self.data.show_data(material.properties)
        for line in self._bottle_lines():
            empty(line)
        self._lines["code"].setText(self._next_code())
        for line in self._lines.values():
            line.setCursorPosition(0)
        for field in self.fields.values():
            field.say("")
        self._fold("data", True)
        self._fold("bottle", True)
        self._filled = self._typed()

    @property
    def is_dirty(self) -> bool:
        """Whether something was typed that is not kept."""
        return self._typed() != self._filled

    @property
    def unfinished(self) -> str:
        """What the unfinished material is called."""
        return self._lines["bench_name"].text() or self._lines["name"].text() or tr("new material")

    def focus_first(self) -> None:
        """Puts the cursor where typing begins."""
        line = self._lines["name" if self._material is None else "bench_name"]
        line.setFocus(Qt.FocusReason.OtherFocusReason)
        line.selectAll()

    # keeping ----------------------------------------------------------------------------------------------------------

    def keep(self) -> None:
        """Puts the material, its new words and its bottle as one undo step; what is wrong is said beside its field."""
        values = self._values()
        wrong = next((field for field in self.fields.values() if field.is_wrong), None)
        if values is None or wrong is not None or self.data.is_wrong:
            self._show_wrong(wrong)
            return
        material = values[0]
        what = tr("change {name}", name=material.short) if self._material else tr("new material {name}", name=material.short)
        if self._session.edit(what, *values) is not None:
            self._filled = self._typed()
            self.kept.emit(material.key)

    def _values(self) -> tuple[Any, ...] | None:
        """The material and what comes with it; None where a field is wrong."""
        for name in ("name", "bench_name", "retest_months", "price", "opened", "code"):
            self.fields[name].say("")
        name = self._text("name") or self._text("bench_name")
        if not name:
            self.fields["name"].say(wording.sentence(Finding("name-empty")))
        self._on_bench_name_edited()
        self._on_cas_finished()
        months = self._read("retest_months", _whole_months)
        price, opened = self._read("price", parse_number), self._read("opened", parse_day)
        if price is not None and price < 0:
            self.fields["price"].say(wording.sentence(Finding("price-negative", {"price": price})))
            price = None
        if months is not None and months > MOST_MONTHS:
            self.fields["retest_months"].say(wording.sentence(Finding("habit-range", {"value": months, "most": MOST_MONTHS})))
            months = None
        data = self.data.data()
        if not name:
            return None
        material = replace(
            self._material or Material(name=name, key=self._session.book.new_key()),
            name=name,
            bench_name=self._text("bench_name"),
            cas=cas.tidy(self._text("cas")),
            form=form_of(self._text_of(self.form)) or "liquid",
            is_carrier=self.carrier.isChecked(),
            inci=self._text("inci"),
            botanical=self._text("botanical"),
            synonyms=tuple(filter(None, (" ".join(s.split()) for s in self._text("synonyms").split(";")))),
            words=self.words.words(),
            properties=data,
            retest_months=months,
            storage=self._text("storage"),
        )
        return (material, *self._new_words(material), *self._bottle(material, price, opened))

    def _new_words(self, material: Material) -> list[Word]:
        """Smell words typed here for the first time, so that they are offered from now on."""
        known = {fold(word.text) for word in self._session.book.all(Word)}
        return [Word(text=word) for word in material.words if fold(word) not in known]

    def _bottle(self, material: Material, price: float | None, opened: date | None) -> list[Bottle]:
        """The bottle it came in, where anything about it was written."""
        if not any(line.text().strip() for line in self._bottle_lines()):
            return []
        code = self._text("code")
        if not code:
            self.fields["code"].say(wording.sentence(Finding("code-empty")))
        elif self._session.book.get(Bottle, code) is not None:
            self.fields["code"].say(wording.sentence(Finding("code-taken", {"code": code, "kind": "bottle"})))
        return [
            Bottle(
                code=code or "?", label=material.short, material=material.key, price_per_g=price, opened_on=opened,
                lot=self._text("lot"), supplier=self._text("supplier"),
            )
        ]  # fmt: skip

    def _read(self, name: str, parse: Callable[[str], Any]) -> Any:
        """The value of an optional line, None where it is empty or cannot be read, which is then said."""
        text = self._text(name)
        if not text:
            return None
        try:
            return parse(text)
        except Refused as refused:
            self.fields[name].say(wording.sentences(refused.findings))
            return None

    def _show_wrong(self, wrong: Field | None) -> None:
        """Unfolds and focuses the first field that is wrong."""
        if wrong is None:
            self._fold("data", False)
            wrong = next((row.field for row in self.data.rows if row.field.is_wrong), None)
        elif wrong in (self.fields[name] for name in ("price", "lot", "supplier", "opened", "code")):
            self._fold("bottle", False)
        if wrong is not None:
            wrong.editor.setFocus(Qt.FocusReason.OtherFocusReason)
            self._area.ensureWidgetVisible(wrong)

    # while typing -----------------------------------------------------------------------------------------------------

    def _on_cas_edited(self) -> None:
        """The check digit is told as soon as it is typed; the shape only when the field is left."""
        text = self._text("cas")
        found = cas.findings(text) if text else ()
        if found and found[0].code == "cas-shape":
            found = ()
        self.fields["cas"].say(wording.sentences(found))
        if text and not found and not cas.findings(text):
            self._tell_same_cas(cas.tidy(text))

    def _on_cas_finished(self) -> None:
        text = self._text("cas")
        found = cas.findings(text) if text else ()
        if found:
            self.fields["cas"].say(wording.sentences(found))
        else:
            self._tell_same_cas(cas.tidy(text))

    def _tell_same_cas(self, number: str) -> None:
        own = None if self._material is None else self._material.key
        same = [m.short for m in self._session.book.all(Material, cas=number) if m.key != own] if number else []
        told = tr_count(
            len(same), "{names} has the same number.", "{names} have the same number.", names=figures.listed(same)
        )
        self.fields["cas"].say(told if same else "", "amber")

    def _on_bench_name_edited(self) -> None:
        length = len(self._text("bench_name"))
        over = length > BENCH_NAME_MAX
        told = tr("{number} letters; at most {most} fit on a vial.", number=length, most=BENCH_NAME_MAX)
        self.fields["bench_name"].say(told if over else "")

    def _on_back_clicked(self) -> None:
        self.left.emit()

    def _on_discard_clicked(self) -> None:
        self.start(None)
        self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.keep()
        else:
            super().keyPressEvent(event)

    # laying out -------------------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        sheet = QFrame()
        sheet.setProperty("role", "sheet")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(12, 8, 12, 12)
        column.setSpacing(8)
        column.addWidget(self.title)
        short = tr("Short, for vials and formulas: at most {most} letters", most=BENCH_NAME_MAX)
        for name, caption, tip in (
            ("name", tr("full name"), tr("As it stands on the card")),
            ("bench_name", tr("bench name"), short),
            ("cas", tr("CAS number"), tr("Its last digit is checked")),
        ):
            column.addWidget(self._line(name, caption, tip))
        self.fields["form"] = Field(tr("form"), self.form)
        column.addWidget(self.fields["form"])
        column.addWidget(self.carrier)
        self.fields["words"] = Field(tr("smell words, between commas"), self.words)
        column.addWidget(self.fields["words"])
        for name, caption, tip in (
            ("botanical", tr("botanical name"), ""),
            ("inci", tr("INCI name"), ""),
            ("synonyms", tr("other names, between ;"), tr("Found by the search as well")),
            ("retest_months", tr("re-test after opening, months"), ""),
            ("storage", tr("kept in"), tr("Fridge, dark, under nitrogen")),
        ):
            column.addWidget(self._line(name, caption, tip))
        self._folds: dict[str, tuple[QPushButton, QWidget, str]] = {}
        column.addWidget(self._folding("data", tr("Physical data"), self.data))
        column.addWidget(self.data)
        bottle = QWidget()
        inner = QVBoxLayout(bottle)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(8)
        currency = self._session.book.currency
        per = tr("price per g neat, {currency}", currency=figures.SYMBOLS.get(currency, currency))
        for name, caption, tip in (
            ("price", per, ""),
            ("supplier", tr("supplier"), ""),
            ("lot", tr("lot"), ""),
            ("opened", tr("opened on"), tr("5 Oct 2024, 5.10.2024 or 2024-10-05")),
            ("code", tr("code of the bottle"), tr("Stands on its label")),
        ):
            inner.addWidget(self._line(name, caption, tip))
        column.addWidget(self._folding("bottle", tr("Its bottle"), bottle))
        column.addWidget(bottle)
        column.addStretch()
        self._area = QScrollArea(self)
        self._area.setFrameShape(QFrame.Shape.NoFrame)
        self._area.setWidgetResizable(True)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setWidget(sheet)
        buttons = Flow(spacing=14)
        for button in (self.keep_button, self.back_button, self.discard_button):
            buttons.addWidget(button)
        foot = QVBoxLayout()
        foot.setContentsMargins(12, 8, 12, 8)
        foot.addLayout(buttons)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self._area, 1)
        whole.addLayout(foot)

    def _line(self, name: str, caption: str, tip: str) -> Field:
        line = self._lines[name] = QLineEdit()
        field = self.fields[name] = Field(caption, line, tip=tip, reserve=name in SAID_WHILE_TYPING)
        return field

    def _folding(self, name: str, title: str, body: QWidget) -> QPushButton:
        button = QPushButton(title)
        button.setProperty("role", "link")
        button.setAutoDefault(False)
        button.clicked.connect(lambda: self._fold(name, not body.isHidden()))
        self._folds[name] = (button, body, title)
        return button

    def _fold(self, name: str, folded: bool) -> None:
        button, body, title = self._folds[name]
        body.setVisible(not folded)
        button.setText(f"{'▸' if folded else '▾'} {title}")
        button.setAccessibleName(tr("{title}, folded", title=title) if folded else tr("{title}, open", title=title))

    def _bottle_lines(self) -> tuple[QLineEdit, ...]:
        return tuple(self._lines[name] for name in ("price", "supplier", "lot", "opened"))

    def _next_code(self) -> str:
        """A code for the bottle: the next of this material's own, else the next B."""
        book = self._session.book
        own = [] if self._material is None else [b.code for b in book.all(Bottle, material=self._material.key)]
        stem = next((code.rpartition("-")[0] + "-" for code in own if "-" in code), "B")
        return book.next_code(Bottle, stem)

    def _text(self, name: str) -> str:
        return " ".join(self._lines[name].text().split())

    def _text_of(self, box: QComboBox) -> str:
        return " ".join(box.currentText().split())

    def _typed(self) -> tuple[Any, ...]:
        """Everything as it stands in the fields, to tell whether something was typed."""
        rows = tuple(
            (row.kind.currentData(), row.value.text(), row.basis.currentText(), row.source.text())
            for row in self.data.rows
            if row.value.text().strip()
        )
        texts = tuple(line.text() for line in self._lines.values())
        return (*texts, self.form.currentText(), self.carrier.isChecked(), self.words.text(), rows)


def _whole_months(text: str) -> int:
    value = parse_number(text)
    if value < 1 or value % 1:
        raise refuse("number-unreadable", text=text)
    return int(value)
