# SPDX-License-Identifier: MIT
"""A balance entered or changed: its name, its smallest step, and what is known of it. One undo step."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLineEdit, QPushButton, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.balances import grams_or_mg, spread_text
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Balance, Refused
from perfumery.weighing import FLOOR_OF_D

_FIELDS = (
    ("name", tr("name")), ("d_g", tr("reads to, g")), ("s_g", tr("repeatability, g")), ("accuracy_g", tr("accuracy, g")),
    ("max_g", tr("carries at most, g")),
)  # fmt: skip
_TIPS = {
    "d_g": tr("Its smallest step, as 0.001"),
    "s_g": tr("Standard deviation of net weighings: from your own test, or as its maker says; 0.8 mg is read too"),
    "accuracy_g": tr("As its maker states it, if at all"),
    "max_g": tr("Its capacity"),
}
_NOT_POSITIVE = {
    "s_g": tr("A repeatability of {mass} cannot be. Write more than 0, or leave it empty."),
    "accuracy_g": tr("An accuracy of {mass} cannot be. Write more than 0, or leave it empty."),
    "max_g": tr("A capacity of {mass} cannot be. Write more than 0, or leave it empty."),
}
# More of its own steps than this is rather a figure in mg than a repeatability.
MANY_STEPS = 100
NEW = tr("Its name and its smallest step are enough to begin. What you do not know stays empty.")
RETIRED = tr("Retired: nothing is weighed on it. Its checks stay in the book.")


def _example(name: str) -> str:
    """How a figure may be written, seen in the empty field."""
    if name == "d_g":
        return tr("as {figure}", figure=figures.parts(0.001))
    if name == "s_g":
        return tr("as {figure}, or {small}", figure=figures.parts(0.0008), small=figures.unit(figures.parts(0.8), "mg"))
    return ""


class BalanceForm(Sheet):
    """The fields of one balance; `kept(key)` when it stands in the book."""

    kept = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep"), parent)
        self.fields: dict[str, Field] = {}
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        for at, (name, caption) in enumerate(_FIELDS):
            edit = QLineEdit()
            edit.setPlaceholderText(_example(name))
            field = self.fields[name] = Field(caption, edit, tip=_TIPS.get(name, ""))
            edit.returnPressed.connect(self.confirm)
            edit.textEdited.connect(lambda _, name=name: self._look_at(name))
            place = (0, 0, 1, 2) if name == "name" else ((at + 1) // 2, (at + 1) % 2, 1, 1)
            grid.addWidget(field, *place, Qt.AlignmentFlag.AlignTop)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(1, 1)
        self.column.addLayout(grid)
        self.retire = QPushButton()
        self.retire.setProperty("role", "link")
        self.retire.setAutoDefault(False)
        self.retire.clicked.connect(self._on_retire_clicked)
        self.buttons.addWidget(self.retire)
        self.balance: Balance | None = None
        self._shown: dict[str, str] = {}

    def start(self, balance: Balance | None) -> None:
        """Begins with a balance as it stands, or with a new one."""
        self.balance = balance
        self.title.setText(tr("A new balance") if balance is None else balance.name)
        retired = balance is not None and balance.retired_on is not None
        self.tell(NEW if balance is None else RETIRED if retired else "")
        for name, field in self.fields.items():
            value = None if balance is None else getattr(balance, name)
            self._shown[name] = "" if value is None else figures.parts(value) if isinstance(value, float) else str(value)
            self.edit(name).setText(self._shown[name])
            field.say("")
        self.retire.setVisible(balance is not None)
        self.retire.setText(tr("Take it back into use") if retired else tr("Retire it"))
        self.say("")

    def take_focus(self) -> None:
        """The cursor to the name."""
        self.edit("name").setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.edit("name").selectAll()

    def edit(self, name: str) -> QLineEdit:
        """The line in which a field is typed."""
        edit = self.fields[name].editor
        assert isinstance(edit, QLineEdit)
        return edit

    def _typed(self, name: str) -> float | None:
        try:
            return grams_or_mg(self.edit(name).text())
        except Refused:
            return None

    def _look_at(self, name: str) -> None:
        """What a figure means, said beside it while it is typed."""
        self.fields[name].say("")
        if name not in ("d_g", "s_g"):
            return
        s, d = self._typed("s_g"), self._typed("d_g")
        text, tone, share = "", "quiet", figures.parts(FLOOR_OF_D)
        if s is not None and d and d > 0 and s > 0:
            if s > MANY_STEPS * d:
                facts = {"count": f"{s / d:.0f}", "figure": figures.parts(s)}
                text = tr("That is {count} of its steps. Meant in mg? Then write {figure} mg.", **facts)
                tone = "amber"
            elif s < FLOOR_OF_D * d:
                text = tr("Below {share} of a step: {spread} counts.", share=share, spread=spread_text(FLOOR_OF_D * d))
        elif d and d > 0 and not self.edit("s_g").text().strip():
            text = tr("Not known: {spread} counts, {share} of a step.", share=share, spread=spread_text(FLOOR_OF_D * d))
        self.fields["s_g"].say(text, tone)

    def keep(self) -> bool:
        """Puts the balance as it is now typed."""
        book = self._session.book
        found = self._read()
        if found is None:
            return False
        name = found["name"]
        taken = book.get(Balance, name) if name else None
        if taken is not None and (self.balance is None or taken.key != self.balance.key):
            self._wrong("name", tr("There is a balance {name} already. Give this one another name.", name=name))
            return False
        try:
            if self.balance is None:
                wanted = Balance(**found)
            else:
                standing = book.get(Balance, self.balance.key or 0) or self.balance
                # only what was typed over: the rest may have changed since the form was opened
                wanted = replace(standing, **{n: v for n, v in found.items() if self.edit(n).text() != self._shown[n]})
                if wanted == standing:
                    return True
            done = self._session.put(tr("balance {name}", name=wanted.name), wanted)
        except Refused as fault:
            for finding in fault.findings:
                field = {"name-empty": "name", "readability-not-positive": "d_g"}.get(finding.code)
                if field is None:
                    self.say(wording.sentence(finding))
                else:
                    self._wrong(field, wording.sentence(finding))
            return False
        if done:
            self._on_kept(done[0])
        return bool(done)

    def _on_kept(self, balance: Any) -> None:
        self.start(balance)
        self.kept.emit(balance.key)

    def _wrong(self, name: str, sentence: str) -> None:
        self.fields[name].say(sentence)
        self.edit(name).setFocus()

    def _read(self) -> dict[str, Any] | None:
        """Every field; None where one is wrong, which has then been said beside it, the cursor in the first of them."""
        found: dict[str, Any] = {"name": " ".join(self.edit("name").text().split())}
        faults: list[tuple[str, str]] = []
        for name, _ in _FIELDS[1:]:
            try:
                found[name] = self.read(self.fields[name], grams_or_mg, needed=name == "d_g")
            except Refused:
                faults.append((name, ""))
        for name, said in _NOT_POSITIVE.items():
            if found.get(name) is not None and not found[name] > 0:
                faults.append((name, said.format(mass=figures.unit(figures.parts(found[name]), "g"))))
        most = found.get("max_g")
        if most is not None and most > 0:
            for name in ("d_g", "s_g", "accuracy_g"):
                if found.get(name) is not None and found[name] >= most:
                    shown = figures.unit(figures.parts(most), "g")
                    said = tr("This is as much as it carries ({mass}). One of the two figures is wrong.", mass=shown)
                    faults.append((name, said))
        step = found.get("d_g")
        if step is not None and not step > 0:
            shown = figures.unit(figures.parts(step), "g")
            faults.append(("d_g", tr("A balance that reads to {mass} cannot be. Write its smallest step, as 0.001.", mass=shown)))
        if not found["name"]:
            faults.append(("name", tr("A name is missing: what stands on it, or how you call it.")))
        for name, sentence in faults:
            if sentence:
                self.fields[name].say(sentence)
        if faults:
            order = [name for name, _ in _FIELDS]
            self.edit(min((name for name, _ in faults), key=order.index)).setFocus()
            return None
        return found

    def _on_retire_clicked(self) -> None:
        if self.balance is None or self.balance.key is None:
            return
        if self.balance.retired_on is None:
            done = self._session.retire(self.balance.key)
        else:
            standing = self._session.book.get(Balance, self.balance.key) or self.balance
            put = self._session.edit(tr("balance {name} back in use", name=standing.name), replace(standing, retired_on=None))
            done = put[0] if put else None
        if done is not None:
            self._on_kept(done)
            self.left.emit()
