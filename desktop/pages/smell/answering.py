# SPDX-License-Identifier: MIT
"""Set after set by keyboard: the codes large, each answer on disk at once, and nothing told of right or wrong meanwhile."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import wording
from desktop.language import tr
from desktop.models.blind_tests import LETTERS, asks, prepared, sample_name
from desktop.models.shown import METHODS
from desktop.models.sittings import pacing_told
from desktop.session import Session
from desktop.widgets.emptied import empty
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.labels import label
from perfumery import Answer, BlindTest, Refused
from perfumery.blind import REFERENCE, codes_of, served
from perfumery.smelled import RANKING

BIG = 28
RIGHT, WRONG = tr("right"), tr("wrong")
# what may be typed where the paper is turned over
TURNED_OVER = {"1": True, "r": True, "right": True, RIGHT: True, "2": False, "w": False, "wrong": False, WRONG: False}


class Answering(QWidget):
    """One set at a time. `answered` after each; `ended` when the last set has its answer or the test is stopped."""

    answered = Signal()
    ended = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.test: BlindTest | None = None
        self.place: int | None = None
        self.title = label("", "heading")
        self.asks = label("", "quiet", wrap=True)
        self.prepare = label("", wrap=True)
        self.codes = QLabel(self)
        self.codes.setAccessibleName(tr("Codes of this set"))
        self.codes.setTextFormat(Qt.TextFormat.PlainText)
        self.line = QLineEdit(self)
        self.line.setAccessibleName(tr("Answer"))
        self.note = QLineEdit(self)
        self.note.setAccessibleName(tr("Note"))
        self.note.setPlaceholderText(tr("a note, if there is one"))
        self.said = label("", "wrong", wrap=True)
        self.before = label("", "quiet", wrap=True)
        self.rest = label("", "amber", wrap=True)
        self.keep = QPushButton(tr("Keep the answer"), self)
        self.keep.setProperty("role", "primary")
        self.keep.setToolTip("Enter")
        self.back = QPushButton(tr("Set before"), self)
        self.back.setToolTip(tr("To put a slip right; the answer kept last counts"))
        self.stop = QPushButton(tr("Stop and evaluate"), self)
        for button in (self.back, self.stop):
            button.setProperty("role", "link")
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        for button in (self.keep, self.back, self.stop):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        for part in (self.title, self.asks, self.prepare, self.before, self.codes, self.line, self.note, self.said, self.rest):
            column.addWidget(part)
        column.addLayout(buttons)
        column.addStretch(1)
        self.line.returnPressed.connect(self.confirm)
        self.note.returnPressed.connect(self.confirm)
        self.keep.clicked.connect(self.confirm)
        self.back.clicked.connect(self._on_back_clicked)
        self.stop.clicked.connect(self.ended)
        clicked_by_enter(self.keep, self.back, self.stop)
        session.theme.changed.connect(self.restyle)
        self.restyle()

    def restyle(self) -> None:
        """Takes the sizes from the theme anew."""
        theme = self._session.theme
        self.codes.setFont(theme.font(BIG, bold=True))
        self.line.setFont(theme.font(BIG))
        self.line.setMaximumWidth(theme.px(460))
        self.note.setMaximumWidth(theme.px(460))

    def open(self, test: BlindTest, place: int) -> None:
        """Shows a set of a test."""
        assert test.key is not None
        self.test, self.place = test, place
        book = self._session.book
        count = len(book.tests.answers(test.key))
        which = tr("set {number} of {sets}", number=place + 1, sets=len(test.sets))
        self.title.setText(f"{test.code} · {METHODS[test.method]} · {which}")
        self.asks.setText(asks(test.method, test.question))
        one = test.sets[place]
        shown = [f"{number}   {code}" for number, code in enumerate(codes_of(one), 1)]
        if test.shuffled:
            letters = [letter for _, letter in served(book.tests.serving(test.key)[place])]
            named = [
                tr("{letter} is {sample}", letter=letter, sample=sample_name(book, key))
                for letter, key in zip(LETTERS, test.samples, strict=False)
            ]
            self.prepare.setText(f"{prepared(test, place, letters)} {', '.join(named)}.")
            self.codes.setText(f"1   {RIGHT}        2   {WRONG}")
            self.line.setPlaceholderText(tr("turn it over: 1 right, 2 wrong"))
        else:
            reference = any(code == REFERENCE for code, _ in served(one))
            self.prepare.setText(tr("Smell the open reference first.") if reference else "")
            self.codes.setText("        ".join(shown))
            ranked = test.method == RANKING
            self.line.setPlaceholderText(tr("codes from the least to the most") if ranked else tr("its number here, or its code"))
        self.prepare.setVisible(bool(self.prepare.text()))
        before = book.tests.answers(test.key).get(place)
        empty(self.line, self.note)
        self.said.setText("")
        self.before.setText("" if before is None else self._answered_before(before))
        self.rest.setText(pacing_told(book.sittings.pacing(book.now())))
        for part in (self.before, self.rest):
            part.setVisible(bool(part.text()))
        self.back.setEnabled(place > 0)
        self.stop.setEnabled(count > 0)
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)

    def _answered_before(self, before: Answer) -> str:
        answer = before.chosen or (RIGHT if before.right else WRONG)
        return tr("Answered before: {answer}. A new answer replaces it.", answer=answer)

    def confirm(self) -> None:
        """Keeps the answer: on disk at once."""
        test, place = self.test, self.place
        if test is None or test.key is None or place is None:
            return
        book, typed = self._session.book, self.line.text().strip()
        try:
            chosen, right = self._read(test, place, typed)
            kept = self._session.do(book.tests.answer, test.key, place, chosen, right=right, note=self.note.text().strip())
        except Refused as refused:
            self.said.setText(wording.sentences(refused.findings))
            self.line.setFocus()
            return
        if kept is None:
            return
        self.answered.emit()
        following = book.tests.next_set(test.key)
        if following is None:
            self.ended.emit()
        else:
            self.open(test, following)

    def _read(self, test: BlindTest, place: int, typed: str) -> tuple[str, bool | None]:
        """(codes, right or wrong where it was turned over) of what was typed: numbers of the row, or codes."""
        if test.shuffled and test.method != RANKING:
            return "", TURNED_OVER.get(typed.casefold())
        codes = codes_of(test.sets[place])
        words = list(typed) if typed.isdigit() and len(typed) == len(codes) and test.method == RANKING else typed.split()
        named = [codes[int(word) - 1] if word.isdigit() and 1 <= int(word) <= len(codes) else word for word in words]
        return " ".join(named), None

    def _on_back_clicked(self) -> None:
        if self.test is not None and self.place:
            self.open(self.test, self.place - 1)

