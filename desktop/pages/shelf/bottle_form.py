# SPDX-License-Identifier: MIT
"""What stands on a bottle and is known of it, changed in place: one undo step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from db import BottleRow
from desktop import figures, wording
from desktop.language import tr
from desktop.models.days import parse_day
from desktop.pages.masses import grams
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Bottle, Refused, parse_number

_TEXT: tuple[tuple[str, str], ...] = (
    ("code", tr("code")), ("label", tr("label")), ("place", tr("place")), ("lot", tr("lot")), ("supplier", tr("supplier")),
    ("supplier_no", tr("supplier's number")), ("container", tr("container")), ("liner", tr("cap liner")),
)  # fmt: skip
_FIGURES: tuple[tuple[str, str, Callable[[str], float]], ...] = (
    ("tare_g", tr("tare, g"), grams), ("volume_ml", tr("holds when full, ml"), parse_number),
    ("price_per_g", tr("price per g"), parse_number),
)  # fmt: skip
_DAYS: tuple[tuple[str, str], ...] = (
    ("received_on", tr("received")), ("opened_on", tr("opened")), ("dropper_on", tr("dropper cap since")),
    ("retest_on", tr("re-test on")), ("ready_on", tr("ready on")), ("gone_on", tr("gone since")),
)  # fmt: skip
_WIDE = ("label", "container", "remark")


class BottleForm(Sheet):
    """The fields of one bottle. A wrong one keeps its text and says why below itself."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep"), parent)
        self.fields: dict[str, Field] = {}
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        at = 0
        names = [*_TEXT, *((name, caption) for name, caption, _ in _FIGURES), *_DAYS, ("remark", tr("remark"))]
        for name, caption in names:
            edit = QLineEdit()
            field = Field(caption, edit)
            edit.returnPressed.connect(self.confirm)
            edit.textEdited.connect(lambda _, field=field: field.say(""))
            self.fields[name] = field
            wide = name in _WIDE
            at += at % 2 if wide else 0
            grid.addWidget(field, at // 2, at % 2, 1, 2 if wide else 1, Qt.AlignmentFlag.AlignTop)
            at += 2 if wide else 1
        self.column.addLayout(grid)
        self._bottle: Bottle | None = None
        self._shown: dict[str, str] = {}

    def start(self, row: BottleRow) -> None:
        """Begins with a bottle as it stands."""
        bottle = self._bottle = row.bottle
        self.title.setText(f"{bottle.code}, {row.what}")
        self.tell(tr("What is in it is changed by what is poured, drawn and weighed."))
        self._shown = {}
        for name, field in self.fields.items():
            value = getattr(bottle, name)
            text = "" if value is None else figures.parts(value) if isinstance(value, float) else str(value)
            self._edit(name).setText(text)
            self._shown[name] = text
            field.say("")
        if bottle.tare_inferred:
            inferred = tr("Inferred from gross and the net mass stated; a figure weighed takes its place.")
            self.fields["tare_g"].say(inferred, "quiet")
        self.say("")
        self._edit("code").setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _edit(self, name: str) -> QLineEdit:
        edit = self.fields[name].editor
        assert isinstance(edit, QLineEdit)
        return edit

    def keep(self) -> bool:
        """Puts the bottle as it is now typed."""
        assert self._bottle is not None
        # only what was typed over: the rest may have changed since the form was opened
        typed = [name for name in self.fields if self._edit(name).text() != self._shown[name]]
        parse: dict[str, Callable[[str], Any]] = {name: read for name, _, read in _FIGURES}
        parse |= {name: parse_day for name, _ in _DAYS}
        found: dict[str, Any] = {}
        wrong = False
        for name in typed:
            text = self._edit(name).text().strip()
            try:
                found[name] = self.read(self.fields[name], parse[name]) if name in parse else text
            except Refused:
                wrong = True
        if wrong:
            return False
        if "tare_g" in found:
            found["tare_inferred"] = False
        standing = self._session.book.get(Bottle, self._bottle.key)
        try:
            wanted = replace(standing or self._bottle, **found)
            done = wanted == standing or self._session.put(tr("bottle {code}", code=wanted.code), wanted)
        except Refused as fault:
            of = {"code-taken": "code", "code-empty": "code", "mass-not-positive": "tare_g", "volume-not-positive": "volume_ml"}
            for finding in fault.findings:
                name = of.get(finding.code)
                if name is None:
                    self.say(wording.sentence(finding))
                else:
                    self.fields[name].say(wording.sentence(finding))
                    self._edit(name).setFocus()
            return False
        return bool(done)
