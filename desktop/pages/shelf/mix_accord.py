# SPDX-License-Identifier: MIT
"""An accord asked for: a version made up into a bottle."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from desktop import figures
from desktop.language import tr
from desktop.models.mix import Plan
from desktop.pages.shelf.mix_ask import Ask
from desktop.pages.shelf.mix_parts import Box, read
from desktop.session import Session
from perfumery import Bottle, Finding, Version

ACCORD_G = 10.0
TIP = tr("Those used as accords come first. Of very many only the newest are offered: choose an older one on the Bench before.")


class AccordAsk(Ask):
    """Which version, and how much of it."""

    def __init__(self, session: Session, version: int | None, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self._chosen: dict[int, int] = {}
        self._version: Version | None = None
        self._wanted = version
        self.version = Box(self)
        self._add("version", tr("version"), self.version, (0, 0, 1, 2), TIP)
        self.amount = self._line("amount", tr("amount, g"), (1, 0, 1, 1))
        self.amount.setText(figures.parts(ACCORD_G))
        self.refresh()
        at = self.version.findData(version)
        self.version.setCurrentIndex(max(at, 0) if self.version.count() else -1)
        self.version.currentIndexChanged.connect(lambda _: self._on_version_changed())
        self._on_version_changed()

    @property
    def title(self) -> str:
        return tr("An accord")

    @property
    def first(self) -> QWidget:
        return self.amount

    def refresh(self) -> None:
        chosen = self.version.currentData()
        self.version.blockSignals(True)
        self.version.clear()
        for head in self.mixing.known.accords():
            self.version.addItem(" ".join(filter(None, (head.name, head.code))), head.key)
        wanted = self.mixing.known.version(self._wanted)
        if wanted is not None and wanted.retired_on is None and wanted.lines and self.version.findData(wanted.key) < 0:
            # of very many only the newest are offered
            self.version.addItem(" ".join(filter(None, (wanted.name, wanted.code))), wanted.key)
        # one that is not in use any more leaves nothing chosen, rather than another one
        self.version.setCurrentIndex(self.version.findData(chosen) if chosen is not None or not self.version.count() else 0)
        self.version.blockSignals(False)
        self._version = self._looked_up()
        self.edited.emit()

    def _looked_up(self) -> Version | None:
        key = self.version.currentData()
        return self.mixing.known.version(key)

    def _on_version_changed(self) -> None:
        self._version = self._looked_up()
        self._chosen.clear()
        self.edited.emit()

    def _plan(self) -> Plan | None:
        amount = read(self.fields["amount"])
        told = ""
        if self._version is not None and not self._version.is_frozen:
            told = tr(
                "Once weighed, the lines of {code} never change again; a later edit makes a new version.",
                code=self._version.code,
            )
        elif self._version is None and self.version.count():
            told = tr("The version chosen is not in use any more: choose another one.")
        self.fields["version"].say(told, "quiet" if self._version is not None else "amber")
        if self._version is None or amount is None:
            return None
        return self.mixing.accord(self._version, amount, self._chosen)

    def choose(self, line: int, bottle: int) -> None:
        self._chosen[line] = bottle
        self.edited.emit()

    def base(self) -> Bottle:
        return Bottle(code="?", kind="accord", version=self.version.currentData())

    def proposed(self) -> dict[str, str]:
        known = self._version
        name = "" if known is None else known.name or known.code
        return {"code": self.mixing.known.next_code("A-"), "label": name}

    def field_of(self, finding: Finding) -> str | None:
        return {"reason-missing": "version", "no-lines": "version", "mass-not-positive": "amount"}.get(finding.code)
