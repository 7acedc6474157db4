# SPDX-License-Identifier: MIT
"""Parts of the sheet on which liquids are brought together: the bottle boxes and the form of the bottle that is filled."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QLineEdit, QSizePolicy, QWidget

from db import BottleRow
from desktop import figures, wording
from desktop.language import tr
from desktop.models.days import parse_day
from desktop.models.mix import last_vessel
from desktop.models.mix_words import bottle_text, role_of
from desktop.pages.masses import mass_of, millilitres
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Bottle, Finding, Refused

UNBOOKED = 0
# The key of no bottle.
NONE = -1
DAY_WIDTH = 160
UNBOOKED_TEXT = tr("a bottle not in the book yet")


def read(field: Field, parse: Callable[[str], float] = mass_of) -> float | None:
    """The figure in a field; None where it is empty, or cannot be read, which is then said beside it."""
    editor: Any = field.editor
    field.say("")
    if not editor.text().strip():
        return None
    try:
        return parse(editor.text())
    except Refused as refused:
        field.say(wording.sentences(refused.findings))
        return None


class Box(QComboBox):
    """A choice that the wheel leaves alone while something else is typed in, and that gives way in a narrow pane."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(10)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()


class BottleBox(Box):
    """One bottle out of some; `changed` when another one was chosen."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._rows: tuple[BottleRow, ...] = ()
        self._of: object = None
        self._gone: int | None = None
        self.gone = ""
        self.currentIndexChanged.connect(lambda _: self._on_chosen())

    def show_rows(self, rows: Iterable[BottleRow], wanted: int | None = None, *, of: object = None, unbooked: bool = False,
                  telling: int | None = None) -> None:  # fmt: skip
        """Offers bottles of something. `wanted` is chosen, else the one that was, else, for something else, the first. One that
        is not offered any more leaves nothing chosen, until it comes back or another one is chosen."""
        keep = wanted
        if keep is None and of == self._of:
            keep = self.currentData() if self._gone is None else self._gone
        named = next((row.bottle.code for row in self._rows if row.key == keep), self.gone)
        self._rows, self._of = tuple(rows), of
        with QSignalBlocker(self):
            self.clear()
            for row in self._rows:
                self.addItem(bottle_text(row, telling), row.key)
                self.setItemData(self.count() - 1, bottle_text(row, telling), Qt.ItemDataRole.ToolTipRole)
            if unbooked:
                self.addItem(UNBOOKED_TEXT, UNBOOKED)
            at = 0 if keep is None and self.count() else self.findData(keep)
            self.setCurrentIndex(at)
        self._gone = keep if at < 0 else None
        self.gone = "" if self._gone is None else named
        self.setEnabled(bool(self.count()))

    @property
    def is_gone(self) -> bool:
        """Whether the bottle that was chosen is not offered any more; `gone` is its code, where it is known."""
        return self._gone is not None

    def _on_chosen(self) -> None:
        self._gone, self.gone = None, ""
        self.changed.emit()

    @property
    def row(self) -> BottleRow | None:
        """The bottle chosen; None for one that is not in the book yet, or none at all."""
        return next((row for row in self._rows if row.key == self.currentData()), None)

    @property
    def is_none(self) -> bool:
        """Whether nothing can be chosen."""
        return self.currentData() is None

    def choose(self, key: int) -> None:
        """Chooses a bottle by its key."""
        at = self.findData(key)
        if at >= 0:
            self.setCurrentIndex(at)


class BottlePart(QWidget):
    """The bottle that is filled: what stands on its label, its glass and cap, its place. `edited` on every change."""

    edited = Signal()
    # name, caption, tool tip, column, columns taken; a row begins where the column is 0
    _FIELDS = (
        ("code", tr("code"), tr("Stands on its label and finds it again"), 0, 1),
        ("label", tr("label"), tr("What is written on it"), 1, 1),
        ("container", tr("container"), tr("amber glass bottle 30 ml"), 0, 1),
        ("volume", tr("holds, ml"), tr("Filled to the brim; an own figure, a bottle says less"), 1, 1),
        ("liner", tr("liner of the cap"), tr("PTFE-faced, cone"), 0, 1),
        ("dropper", tr("dropper cap since"), tr("Only where it stays in: 5 Oct 2024, 5.10.2024 or 2024-10-05"), 1, 1),
        ("tare", tr("tare, g"), tr("The empty bottle with its cap and label"), 0, 1),
        ("place", tr("place"), tr("Where it will stand"), 1, 1),
        ("ready", tr("ready on"), tr("The day a solid has dissolved"), 0, 2),
    )  # fmt: skip

    def __init__(self, session: Session, *, brief: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._proposed: dict[str, str] = {}
        self.brief = brief
        self.fields: dict[str, Field] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(1, 1)
        at = -1
        for name, caption, tip, column, wide in self._FIELDS:
            line = QLineEdit(self)
            field = self.fields[name] = Field(caption, line, self, tip=tip)
            line.textChanged.connect(lambda _, field=field: field.say(""))
            line.textChanged.connect(self.edited)
            if wide > 1:
                line.setMaximumWidth(session.theme.px(DAY_WIDTH))
            at += column == 0
            if brief and name not in ("label", "volume"):
                field.hide()
                continue
            place = (0, int(name == "volume")) if brief else (at, column)
            grid.addWidget(field, *place, 1, wide, Qt.AlignmentFlag.AlignTop)
        self.show_ready(None)

    # proposing --------------------------------------------------------------------------------------------------------

    def propose(self, **texts: str) -> None:
        """Fills fields with what is likely; one that was typed over stays as it was typed."""
        for name, text in texts.items():
            line = self.line(name)
            if line.text().strip() == self._proposed.get(name, ""):
                with QSignalBlocker(line):
                    line.setText(text)
                    line.setCursorPosition(0)
            self._proposed[name] = text

    def propose_vessel(self, kinds: Sequence[str]) -> None:
        """The same glass and cap as the bottle filled last."""
        last = last_vessel(self._session.book, kinds)
        if last is not None:
            volume = "" if last.volume_ml is None else figures.parts(last.volume_ml)
            self.propose(container=last.container, liner=last.liner, volume=volume)

    def fill(self, bottle: Bottle) -> None:
        """Shows a bottle that stands."""
        self.propose(
            code=bottle.code, label=bottle.label, container=bottle.container, liner=bottle.liner, place=bottle.place,
            volume="" if bottle.volume_ml is None else figures.parts(bottle.volume_ml),
        )  # fmt: skip

    def show_ready(self, on: date | None) -> None:
        """Asks for the day it is ready only where something has to dissolve."""
        self.fields["ready"].setVisible(on is not None and not self.brief)
        self.propose(ready="" if on is None else figures.day(on))

    def line(self, name: str) -> QLineEdit:
        """The editor of a field."""
        editor = self.fields[name].editor
        assert isinstance(editor, QLineEdit)
        return editor

    # reading ----------------------------------------------------------------------------------------------------------

    @property
    def is_typed(self) -> bool:
        """Whether something in it is not as it was proposed."""
        return any(self._text(name) != " ".join(self._proposed.get(name, "").split()) for name in self.fields)

    def bottle(self, base: Bottle) -> Bottle | None:
        """The bottle as it stands in the fields; None where one of them is wrong, which is then said beside it."""
        code = self._text("code")
        standing = None if self.brief or not code else self._session.book.get(Bottle, code)
        volume = read(self.fields["volume"], millilitres)
        tare = read(self.fields["tare"])
        dropper, ready = self._day("dropper"), self._day("ready")
        wrong = [] if code else [Finding("code-empty")]
        if standing is not None:
            wrong = [Finding("code-taken", {"code": code, "kind": "bottle"})]
        self.fields["code"].say(wording.sentences(wrong))
        if any(field.is_wrong for field in self.fields.values()):
            return None
        if self.brief:
            return replace(base, label=self._text("label"), volume_ml=volume)
        return replace(
            base, code=code, label=self._text("label"), container=self._text("container"), volume_ml=volume,
            liner=self._text("liner"), dropper_on=dropper, tare_g=tare, place=self._text("place"), ready_on=ready,
        )  # fmt: skip

    @property
    def vessel(self) -> Bottle:
        """Glass, cap and volume as far as they can be read, for what is said while typing."""
        try:
            volume = millilitres(self._text("volume"))
        except Refused:
            volume = None
        dropper = self._session.book.now().date() if self._text("dropper") else None
        return Bottle(code="?", container=self._text("container"), liner=self._text("liner"), dropper_on=dropper,
                      volume_ml=volume)  # fmt: skip

    def tell(self, findings: Iterable[Finding]) -> None:
        """Says beside its field what is worth knowing of the vessel; what is wrong there stays said."""
        where = {"vessel-too-small": "volume", "head-space-small": "volume", "container-plastic": "container",
                 "liner-none": "liner", "dropper-rubber": "dropper", "dissolve-solid": "ready"}  # fmt: skip
        told = {where[one.code]: one for one in findings if one.code in where}
        for name in set(where.values()):
            field = self.fields[name]
            if name in told:
                field.say(wording.sentence(told[name]), role_of(told[name]))
            elif not field.is_wrong:
                field.say("")

    def _text(self, name: str) -> str:
        return " ".join(self.line(name).text().split())

    def _day(self, name: str) -> date | None:
        field = self.fields[name]
        text = self._text(name)
        if not text or field.isHidden():
            return None
        field.say("")
        try:
            return parse_day(text)
        except Refused as refused:
            field.say(wording.sentences(refused.findings))
            return None
