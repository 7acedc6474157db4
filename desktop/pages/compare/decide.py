# SPDX-License-Identifier: MIT
"""A decision written down: what was chosen, why, and why the others were not. A record: a correction is a row of its own."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from db import VersionHead
from desktop import figures, wording
from desktop.language import tr
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Decision, Refused, Version, compose

TOLD = tr(
    "A decision is kept for good, with the day's cost; it can be corrected by another row, never undone. A version whose reason "
    "is left empty is not named as rejected."
)
NO_REASON = tr("A decision needs its reason in a sentence. Write why this one.")


class DecideSheet(Sheet):
    """The reason of the choice, and one for each other version."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep the decision"), parent)
        self.tell(TOLD)
        self.reason, self.reason_field = self.line(tr("why"))
        self._chosen: tuple[int, ...] = ()
        self._replaced: Decision | None = None
        self.rejected: dict[int, Field] = {}

    def start(self, chosen: Sequence[VersionHead], others: Sequence[VersionHead], replaced: Decision | None = None) -> None:
        """Begins for the chosen versions; `replaced` is the decision that is corrected."""
        for field in self.rejected.values():
            self.column.removeWidget(field)
            field.hide()
            field.deleteLater()
        self._chosen = tuple(head.key for head in chosen)
        self._replaced = replaced
        codes = figures.listed([head.code for head in chosen])
        if replaced is None:
            self.title.setText(tr("Decide: {versions} chosen", versions=codes))
        else:
            self.title.setText(tr("Correct: {versions} chosen", versions=codes))
        self.reason.setText("" if replaced is None else replaced.reason)
        self.reason_field.say("")
        self.say("")
        self.rejected = {}
        for head in others:
            edit, field = self.line(tr("{code} rejected, because", code=head.code))
            edit.setText("" if replaced is None else replaced.rejected.get(head.key, ""))
            self.rejected[head.key] = field
        self.reason.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keep(self) -> bool:
        """Adds the record, with the strips it stands on and the cost of the day."""
        reason = " ".join(self.reason.text().split())
        if not reason:
            self.reason_field.say(NO_REASON)
            return False
        book, session = self._session.book, self._session
        texts = {key: " ".join(field.editor.text().split()) for key, field in self.rejected.items()}  # type: ignore[attr-defined]
        rejected = {key: text for key, text in texts.items() if text}
        if self._replaced is not None and self._replaced.key is not None:
            fields = {"chosen": self._chosen, "reason": reason, "rejected": rejected}
            return session.correct(self._replaced.key, tr("decision corrected"), **fields) is not None
        first = book.get(Version, self._chosen[0])
        assert first is not None
        try:
            decision = Decision(
                project=first.project, made_on=book.now().date(), chosen=self._chosen, reason=reason, rejected=rejected,
                code=book.next_code(Decision, "DE-"), evidence=self._evidence({*self._chosen, *rejected}, first.project),
                costs=self._costs(),
            )  # fmt: skip
            return session.put(tr("decision for {code}", code=first.code), decision) is not None
        except Refused as fault:
            self.say(wording.sentences(fault.findings))
            return False

    def _evidence(self, versions: set[int], project: int) -> tuple[int, ...]:
        """The strips of these versions; those under seal are of none."""
        book = self._session.book
        found = []
        strips = book.strips(project)
        origins = book.origins(strip.bottle for strip in strips)
        for strip in strips:
            version = origins[strip.bottle].version
            if version is not None and version.key in versions and strip.key is not None:
                found.append(strip.key)
        return tuple(found)

    def _costs(self) -> dict[int, float]:
        """{version: price per g of concentrate today} as far as it is known."""
        book = self._session.book
        found = {}
        for key in self._chosen:
            version = book.get(Version, key)
            cost = None if version is None else compose(version, book.shelf(version)).cost_per_g
            if cost is not None:
                found[key] = cost
        return found
