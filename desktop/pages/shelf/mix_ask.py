# SPDX-License-Identifier: MIT
"""What every question of the mixing sheet has in common: fields, a plan, where a refusal is said; a material picked by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from desktop import wording
from desktop.language import tr
from desktop.models.mix import Mixing, Plan
from desktop.models.mix_words import role_of
from desktop.models.shelf_names import Candidate, ShelfNames
from desktop.pages.shelf.mix_parts import BottleBox
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Bottle, Finding, Refused, parse_strength
from perfumery.text import fold


class MaterialPick(TypeAhead):
    """A material by any of its names; `taken` when another one was picked or the name was typed over."""

    taken = Signal()

    def __init__(self, session: Session, parent: QWidget, *, carriers: bool = False) -> None:
        super().__init__(session.theme, self._sought, parent)
        self._session, self._carriers = session, carriers
        self._names = ShelfNames(session.book)
        self.key: int | None = None
        self.setProperty("role", "")
        self.textEdited.connect(self._on_edited)
        self.picked.connect(self._on_picked)
        self.editingFinished.connect(self._on_finished)

    def show_key(self, key: int | None) -> None:
        """Shows a material; None empties the field."""
        self.key = key
        with QSignalBlocker(self):
            self.setText(self._names.carrier(key) if self._carriers else self._names.short(key))
            self.setCursorPosition(0)

    def _sought(self, text: str) -> Sequence[Candidate]:
        found = [one for one in self._names.candidates(text, None) if one.material is not None]
        if self._carriers:
            carriers = {row.key for row in self._session.book.material_rows() if row.is_carrier}
            signs = [one for one in found if one.material in carriers]
            return signs or found
        return found

    def _on_edited(self) -> None:
        if self.key is not None:
            self.key = None
            self.taken.emit()

    def _on_picked(self, one: Any) -> None:
        if one is not None:
            self._take(one)
        if self.key is not None:
            self.close_list()
            self.focusNextChild()

    def _on_finished(self) -> None:
        text = self.text().strip()
        if self.key is not None or not text:
            return
        found = self._sought(text)
        same = [one for one in found if fold(one.label) == fold(text)] or found
        if len(same) == 1:
            self._take(same[0])
        elif self._carriers:
            sure = self._names.matcher.match(text).found
            if sure is not None:
                self.show_key(sure.key)
                self.taken.emit()

    def _take(self, one: Candidate) -> None:
        self.show_key(one.material)
        self.taken.emit()


class Ask(QWidget):
    """What is wanted. `edited` on every change; `plan()` says beside the fields what cannot be."""

    edited = Signal()
    brief = False
    settle = False
    vessels: tuple[str, ...] = ("dilution", "accord")

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.mixing = Mixing(session.book)
        self.fields: dict[str, Field] = {}
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(8)
        self._grid.setColumnStretch(0, 1)
        self._grid.setColumnStretch(1, 1)

    # what a question answers ------------------------------------------------------------------------------------------

    @property
    def title(self) -> str:
        """What the sheet is called."""
        raise NotImplementedError

    @property
    def first(self) -> QWidget:
        """Where typing begins."""
        raise NotImplementedError

    def plan(self) -> Plan | None:
        """What is to be weighed; None while something is missing or cannot be, which is then said."""
        try:
            return self._plan()
        except Refused as refused:
            for finding in refused.findings:
                self.place(finding)
            return None

    def _plan(self) -> Plan | None:
        raise NotImplementedError

    def base(self) -> Bottle:
        """The bottle that is filled, without what its own form says."""
        raise NotImplementedError

    def proposed(self) -> dict[str, str]:
        """Code and label that are likely."""
        raise NotImplementedError

    def refresh(self) -> None:
        """Looks again at what the book has."""

    def typed(self) -> dict[str, str]:
        """What stands in the lines of it."""
        return {name: field.editor.text() for name, field in self.fields.items() if isinstance(field.editor, QLineEdit)}

    def choose(self, line: int, bottle: int) -> None:
        """Takes another bottle for a line."""

    def place(self, finding: Finding, role: str = "wrong") -> bool:
        """Says a finding beside the field it concerns; False where no field of this question does."""
        name = self.field_of(finding)
        if name is None:
            return False
        self.fields[name].say(wording.sentence(finding), role)
        return True

    def tell(self, finding: Finding) -> bool:
        """As `place`, for what forbids nothing."""
        name = self.field_of(finding)
        if name is not None and self.fields[name].is_wrong:
            return True
        return self.place(finding, role_of(finding))

    def field_of(self, finding: Finding) -> str | None:
        """The name of the field a finding belongs beside."""
        raise NotImplementedError

    # building ---------------------------------------------------------------------------------------------------------

    def _add(self, name: str, caption: str, editor: QWidget, at: tuple[int, int, int, int], tip: str = "") -> Field:
        field = self.fields[name] = Field(caption, editor, self, tip=tip)
        self._grid.addWidget(field, *at, Qt.AlignmentFlag.AlignTop)
        return field

    def _line(
        self, name: str, caption: str, at: tuple[int, int, int, int], tip: str = "", does: Callable[[], None] | None = None
    ) -> QLineEdit:
        """A line; `does` follows its letters in the place of `edited`, which it then tells itself, once."""
        line = QLineEdit(self)
        line.textChanged.connect(self.edited if does is None else lambda _: does())
        self._add(name, caption, line, at, tip)
        return line

    @property
    def wished(self) -> float | None:
        """The strength typed; None where it is empty or cannot be."""
        editor: Any = self.fields["strength"].editor
        try:
            return parse_strength(editor.text())
        except Refused:
            return None

    def _strength(self) -> float | None:
        """As `wished`, and says what cannot be."""
        field = self.fields["strength"]
        editor: Any = field.editor
        field.say("")
        if not editor.text().strip():
            return None
        try:
            return parse_strength(editor.text())
        except Refused as refused:
            field.say(wording.sentences(refused.findings))
            return None

    def _tell_gone(self, name: str, told: str = "") -> None:
        """Says beside a choice of bottles that the one chosen is not offered any more, else what is told."""
        box = self.fields[name].editor
        assert isinstance(box, BottleBox)
        if not box.is_gone:
            self.fields[name].say(told, "quiet")
        elif box.gone:
            self.fields[name].say(tr("{bottle} is not offered here any more: choose another one.", bottle=box.gone), "amber")
        else:
            self.fields[name].say(tr("The bottle chosen is not offered here any more: choose another one."), "amber")

    def _picked(self, name: str) -> int | None:
        """The material picked; None where none is, which is said where something was typed."""
        field = self.fields[name]
        pick = field.editor
        assert isinstance(pick, MaterialPick)
        field.say("")
        unclear = pick.key is None and bool(pick.text().strip()) and not pick.hasFocus()
        if unclear:
            field.say(wording.sentence(Finding("carrier-unclear", {"text": pick.text().strip()})))
        return pick.key
