# SPDX-License-Identifier: MIT
"""Blind: the seal put on a sitting, and opened again.

Either somebody else writes the codes on the papers: then the list of which is which is shown to that person, once, and never
again. Or the papers are shuffled unseen, with their own codes on the hidden ends: then nobody knows, the book included.
"""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.session import Session
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.field import Field
from desktop.widgets.labels import label
from perfumery import Bottle, Finding, Refused, Sitting, Strip

ASIDE = tr(
    "Give the screen to whoever writes the codes. Each paper gets its code on the free end; its own code is cut off or folded "
    "under."
)
SHUFFLE = tr(
    "Write each paper's own code on its hidden end, shuffle them unseen, and write these codes on the free ends, in any order. "
    "Nobody knows which is which until you turn them over."
)
ONE_CLOCK = tr("From now on all of them have one clock and are told by these codes only.")


class SealSheet(QFrame):
    """`left` when it is put away; nothing of the key stays in it."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._sitting: Sitting | None = None
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Seal the sitting"))
        self.told = label("", wrap=True)
        self.other = QPushButton(tr("Somebody else writes the codes"), self)
        self.shuffle = QPushButton(tr("I shuffle the papers"), self)
        self.leave_button = QPushButton(tr("Leave"), self)
        self.leave_button.setProperty("role", "link")
        self.list = QLabel(self)
        self.list.setAccessibleName(tr("Codes to write"))
        self.list.setTextFormat(Qt.TextFormat.PlainText)
        self.take = QPushButton(tr("The codes are written: hide this for good"), self)
        self.take.setProperty("role", "primary")
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        for button in (self.other, self.shuffle, self.take, self.leave_button):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(8)
        column.addWidget(self.told)
        column.addWidget(self.list)
        column.addLayout(buttons)
        self.other.clicked.connect(lambda: self._seal(shuffled=False))
        self.shuffle.clicked.connect(lambda: self._seal(shuffled=True))
        self.take.clicked.connect(self.leave)
        self.leave_button.clicked.connect(self.leave)
        clicked_by_enter(self.other, self.shuffle, self.take, self.leave_button)
        self.hide()

    def open(self, sitting: Sitting) -> None:
        """Asks how a sitting is to be sealed, or says that it cannot be any more."""
        self._sitting = sitting
        read = () if sitting.key is None else self._session.book.sittings.read_strips(sitting.key)
        if read:
            self.told.setText(wording.sentence(Finding("sitting-read", {"code": sitting.code, "strips": list(read)})))
        else:
            self.told.setText(tr("Who writes the three-digit codes on the papers? A sealed sitting takes no more strips."))
        self.list.clear()
        self.list.hide()
        self.take.hide()
        for button in (self.other, self.shuffle):
            button.setVisible(not read)
        self.leave_button.show()
        self.show()
        (self.leave_button if read else self.other).setFocus(Qt.FocusReason.OtherFocusReason)

    @property
    def is_asking(self) -> bool:
        """Whether it asks or refuses; not while it shows codes that are still to be written."""
        return not self.isHidden() and self.take.isHidden()

    def leave(self) -> None:
        """Puts it away; the list is gone with it."""
        self.list.clear()
        self.hide()
        self.left.emit()

    def _seal(self, *, shuffled: bool) -> None:
        sitting, book = self._sitting, self._session.book
        if sitting is None or sitting.key is None:
            return
        vials = {strip.key: book.get(Bottle, strip.bottle) for strip in book.all(Strip, sitting=sitting.key)}
        coded: Mapping[str, Strip] | None = self._session.attempt(book.sittings.seal, sitting.key, shuffled=shuffled)
        if coded is None:
            return
        if shuffled:
            self.list.setText("   ".join(sorted(coded)))
        else:
            lines = []
            for code, strip in coded.items():
                vial = vials.get(strip.key)
                paper = tr("{strip} from {vial}", strip=strip.code, vial="" if vial is None else vial.code)
                lines.append(f"{paper}   →   {code}")
            self.list.setText("\n".join(lines))
        self.told.setText(f"{SHUFFLE if shuffled else ASIDE} {ONE_CLOCK}")
        self.list.setFont(self._session.theme.font(16))
        self.list.show()
        self.take.show()
        for button in (self.other, self.shuffle, self.leave_button):
            button.hide()
        self.take.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)


class RevealSheet(QFrame):
    """The seal opened: at once, or by what stands on the hidden end of each paper. `left` when it is put away."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._sitting: Sitting | None = None
        self.fields: dict[str, Field] = {}
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Reveal the sitting"))
        self.told = label("", wrap=True)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(12)
        self.reveal = QPushButton(tr("Reveal"), self)
        self.reveal.setProperty("role", "primary")
        self.leave_button = QPushButton(tr("Leave it sealed"), self)
        self.leave_button.setProperty("role", "link")
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        for button in (self.reveal, self.leave_button):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(8)
        column.addWidget(self.told)
        column.addLayout(self._grid)
        column.addLayout(buttons)
        self.reveal.clicked.connect(self.confirm)
        self.leave_button.clicked.connect(self.leave)
        clicked_by_enter(self.reveal, self.leave_button)
        self.hide()

    def open(self, sitting: Sitting, codes: tuple[str, ...]) -> None:
        """Asks for what is needed: nothing, or what stands on each hidden end."""
        self._sitting = sitting
        for field in self.fields.values():
            field.deleteLater()
        self.fields = {}
        if sitting.shuffled and sitting.key is not None:
            papers = self._session.book.sittings.papers(sitting.key)
            named = figures.listed(papers, 8)
            self.told.setText(
                tr("Turn the papers over and write what stands on the hidden end of each: {papers}.", papers=named)
            )
            for place, code in enumerate(sorted(codes)):
                line = QLineEdit(self)
                line.returnPressed.connect(self._on_return_pressed)
                field = self.fields[code] = Field(code, line, self, tip=tr("What stands on the hidden end of {code}", code=code))
                self._grid.addWidget(field, place // 4, place % 4, Qt.AlignmentFlag.AlignTop)
        else:
            self.told.setText(
                tr("Which code was which returns, with the true times of the dips. Readings from now on are marked.")
            )
        self.show()
        first = next(iter(self.fields.values()), None)
        (self.reveal if first is None else first.editor).setFocus(Qt.FocusReason.OtherFocusReason)

    def leave(self) -> None:
        """Puts it away; the sitting stays sealed."""
        self.hide()
        self.left.emit()

    def confirm(self) -> None:
        """Opens the seal; what is missing or named twice is said beside it."""
        sitting, book = self._sitting, self._session.book
        if sitting is None or sitting.key is None:
            return
        named = {code: self._typed(code) for code in self.fields}
        papers = book.sittings.papers(sitting.key)
        wrong = False
        for code, field in self.fields.items():
            said = ""
            if named[code] not in papers:
                said = tr("No paper of this sitting is called that; there are {papers}.", papers=figures.listed(papers, 8))
            elif sum(other == named[code] for other in named.values()) > 1:
                said = tr("{paper} stands on one paper only.", paper=named[code])
            field.say(said)
            wrong = wrong or bool(said)
        if wrong:
            next(field for field in self.fields.values() if field.is_wrong).editor.setFocus()
            return
        try:
            opened = self._session.do(book.sittings.reveal, sitting.key, named)
        except Refused as refused:
            self.told.setText(wording.sentences(refused.findings))
            return
        if opened is not None:
            self._session.said.emit(tr("{code} is revealed.", code=sitting.code), "done")
            self.leave()

    def _typed(self, code: str) -> str:
        line = self.fields[code].editor
        assert isinstance(line, QLineEdit)
        return line.text().strip().upper()

    def _on_return_pressed(self) -> None:
        lines = [field.editor for field in self.fields.values()]
        at = next((place for place, line in enumerate(lines) if line.hasFocus()), len(lines) - 1)
        if at + 1 < len(lines):
            lines[at + 1].setFocus(Qt.FocusReason.TabFocusReason)
        else:
            self.confirm()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)
