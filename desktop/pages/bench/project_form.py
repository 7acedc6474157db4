# SPDX-License-Identifier: MIT
"""The few words and figures of a project, typed in place: for a new one, or to change the one that is shown."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.near_codes import near_codes
from desktop.models.right_bottle import named
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Bottle, Finding, Project, Refused, Value, parse_number


class ProjectForm(QWidget):
    """Name, code, brief, price wish and benchmark. `made(key)` when the project stands, `left` when it was given up."""

    made = Signal(int)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._project: Project | None = None
        # a code no bottle has, of which was said that it makes one
        self._told_new = ""
        self.name, self.code, self.brief = QLineEdit(self), QLineEdit(self), QLineEdit(self)
        self.price, self.benchmark = QLineEdit(self), QLineEdit(self)
        self.code.setMaximumWidth(90)
        self.name.textEdited.connect(self._on_name_edited)
        currency = figures.SYMBOLS.get(session.book.currency, session.book.currency)
        self.name_field = Field(tr("name of the project"), self.name, self, reserve=True)
        self.code_field = Field(
            tr("code"), self.code, self, tip=tr("Begins the codes of its versions, as SR in SR-1"), reserve=True
        )
        self.brief_field = Field(tr("brief: what it is to be, in a sentence"), self.brief, self, reserve=True)
        self.price_field = Field(
            tr("price wish, at most {currency} per g", currency=currency), self.price, self, reserve=True,
            tip=tr("The cost above the formula says “over” where it is passed"),
        )  # fmt: skip
        self.benchmark_field = Field(
            tr("benchmark: the code of its bottle"), self.benchmark, self, reserve=True,
            tip=tr("What strips are smelled beside; a code that is new becomes a bottle of unknown contents"),
        )  # fmt: skip
        self._refusable = (self.name_field, self.code_field, self.price_field, self.benchmark_field)
        self.keep = QPushButton(self)
        self.keep.setProperty("role", "primary")
        self.keep.clicked.connect(self.make)
        leave = QPushButton(tr("Leave it"), self)
        leave.clicked.connect(self.left)
        names, wishes, buttons = QHBoxLayout(), QHBoxLayout(), QHBoxLayout()
        # beside a field that says something the others stay where they are
        top = Qt.AlignmentFlag.AlignTop
        names.addWidget(self.name_field, 1, top)
        names.addWidget(self.code_field, 0, top)
        wishes.addWidget(self.price_field, 1, top)
        wishes.addWidget(self.benchmark_field, 1, top)
        for button in (self.keep, leave):
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 8)
        column.addLayout(names)
        column.addWidget(self.brief_field)
        column.addLayout(wishes)
        column.addLayout(buttons)
        column.addStretch(1)
        for field in self._fields:
            field.returnPressed.connect(self.make)

    @property
    def _fields(self) -> tuple[QLineEdit, ...]:
        return self.name, self.code, self.brief, self.price, self.benchmark

    def start(self, project: Project | None = None) -> None:
        """Begins empty, or with what a project says, the cursor in the name."""
        self._project = project
        benchmark = None if project is None or project.benchmark is None else self._session.book.get(Bottle, project.benchmark)
        texts = ("", "", "", "", "")
        if project is not None:
            price = "" if project.price_ceiling is None else figures.parts(project.price_ceiling)
            texts = (project.name, project.code, project.brief, price, "" if benchmark is None else benchmark.code)
        for field, text in zip(self._fields, texts, strict=True):
            field.setText(text)
            field.setCursorPosition(0)
        self._told_new = ""
        for field in self._refusable:
            field.say("")
        self.keep.setText(tr("Make the project") if project is None else tr("Keep the project"))
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def make(self) -> None:
        """Puts the project; what is missing or wrong is said beside its field."""
        for field in self._refusable:
            field.say("")
        if not self.name.text().strip():
            self._refuse(self.name_field, wording.sentence(Finding("name-empty")))
            return
        try:
            ceiling = parse_number(self.price.text()) if self.price.text().strip() else None
            if ceiling is not None and not ceiling > 0:
                raise Refused(Finding("number-unreadable", {"text": self.price.text()}))
        except Refused as fault:
            self._refuse(self.price_field, wording.sentences(fault.findings))
            return
        if self._asks_for_benchmark():
            return
        try:
            project = self._project or Project(code=self.code.text().strip(), started_on=self._session.book.now().date())
            benchmark, *bottles = self._benchmark()
            project = replace(
                project, code=self.code.text().strip(), name=self.name.text().strip(), brief=self.brief.text().strip(),
                price_ceiling=ceiling, benchmark=benchmark,
            )  # fmt: skip
            what = tr("new project {code}", code=project.code)
            if self._project is not None:
                what = tr("project {code}", code=project.code)
            made = self._session.put(what, *bottles, project)
        except Refused as fault:
            self._refuse(self.code_field, wording.sentences(fault.findings))
            return
        if made is not None:
            self.made.emit(made[-1].key)

    def _refuse(self, field: Field, sentence: str, role: str = "wrong") -> None:
        """Says beside a field why the project does not stand yet, and puts the cursor there."""
        field.say(sentence, role)
        field.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def _asks_for_benchmark(self) -> bool:
        """Whether the benchmark's code has to be confirmed first: no bottle has it, and nobody said yet that it makes one."""
        book, code = self._session.book, self.benchmark.text().strip()
        if not code or code == self._told_new or named(book, code) is not None:
            return False
        self._told_new = code
        told = [tr("No bottle is called {code}.", code=code)]
        near = near_codes(book, code)
        if near:
            told.append(tr("Alike: {codes}.", codes=figures.listed(near)))
        told.append(tr("Enter once more makes it a new bottle of unknown contents."))
        self._refuse(self.benchmark_field, " ".join(told), "amber")
        return True

    def _benchmark(self) -> tuple[int | None, *tuple[Value, ...]]:
        """(key of the benchmark's bottle or None, the bottle where it is new)."""
        code = self.benchmark.text().strip()
        if not code:
            return (None,)
        known = named(self._session.book, code)
        if known is not None:
            return (known.key,)
        bottle = Bottle(code=code, kind="benchmark", label=code, key=self._session.book.new_key())
        return bottle.key, bottle

    def _on_name_edited(self, text: str) -> None:
        """Offers the initials for the code until one is typed."""
        if not self.code.isModified() and self._project is None:
            words = text.split()
            initials = "".join(word[0] for word in words[:3]) if len(words) > 1 else text.strip()[:3]
            self.code.setText(initials.upper())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            # Enter was the field's; passed on it would also choose a version in the sheet around
            super().keyPressEvent(event)
