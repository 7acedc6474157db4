# SPDX-License-Identifier: MIT
"""What formula this is: project, version, its state and where it came from; the reason is asked for on the spot."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from desktop import figures
from desktop.language import tr
from desktop.models.tree import decision_on, newest_first
from desktop.session import Session
from desktop.widgets.labels import ElidedLabel
from perfumery import Decision, Making, Version


def state_text(session: Session, version: Version) -> str:
    """'chosen 24 Mar · frozen 11 Mar, weighed as T-027 · from SR-3, takes from SR-2B'."""
    book, now = session.book, session.book.now()
    trials = [m for m in book.all(Making, version=version.key) if m.kind == "trial" and m.code]
    weighed = [m.code for m in trials if m.mode != "not weighed"]
    unweighed = [m.code for m in trials if m.mode == "not weighed"]
    if version.frozen_at is None:
        states = [tr("draft")]
    else:
        states = [tr("frozen {day}", day=figures.day(version.frozen_at, now))]
        if weighed:
            states.append(tr("weighed as {trials}", trials=figures.listed(weighed)))
        if unweighed:
            states.append(tr("made as {trials}, not weighed", trials=figures.listed(unweighed)))
    if version.retired_on is not None:
        states.insert(0, tr("retired {day}", day=figures.day(version.retired_on, now)))
    parent = None if version.parent is None else book.get(Version, version.parent)
    other = None if version.takes_from is None else book.get(Version, version.takes_from)
    origin = []
    if parent is not None:
        origin.append(tr("from {code}", code=parent.code))
    if other is not None:
        origin.append(tr("takes from {code}", code=other.code))
    holders = book.uses.holders(version.key) if version.key is not None else ()
    # an edit of a draft reaches its drafts; a frozen one gets a child, and its users keep what they have
    used = tr("accord in {versions}", versions=figures.listed(holders, most=3)) if holders else ""
    said = (decision_text(session, version), ", ".join(states), ", ".join(origin), used)
    return " · ".join(filter(None, said))


def decision_text(session: Session, version: Version) -> str:
    """'chosen 24 Mar': what the newest decision that names a version says of it; empty for none."""
    book = session.book
    one = decision_on(version.key, newest_first(book.all(Decision, project=version.project)))
    if one is None:
        return ""
    day = figures.day(one.made_on, book.now())
    return tr("chosen {day}", day=day) if version.key in one.chosen else tr("rejected {day}", day=day)


class FormulaHead(QWidget):
    """The title line with the button that opens the versions, and the reason beside the star."""

    versions_asked = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._held_for: int | None = None
        self.title = ElidedLabel(self)
        self.title.setProperty("role", "title")
        self.code = QPushButton(self)
        self.code.setProperty("role", "code")
        self.code.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.code.setCursor(Qt.CursorShape.PointingHandCursor)
        self.code.setToolTip(tr("Versions and projects (F4)"))
        self.code.clicked.connect(self.versions_asked)
        self.state = ElidedLabel(self)
        self.state.setProperty("role", "caption")
        self.star = QPushButton(self)
        self.star.setProperty("role", "link")
        self.star.clicked.connect(self.toggle_star)
        self.reason = QLineEdit(self)
        self.reason.setProperty("role", "flat")
        self.reason.setAccessibleName(tr("Reason for this version"))
        self.reason.editingFinished.connect(self._on_reason_finished)
        top = QHBoxLayout()
        top.setSpacing(6)
        top.addWidget(self.title)
        top.addWidget(self.code)
        # the state takes the room that is left: the name of the project is never cut for its sake
        self.state.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        top.addWidget(self.state, 1, Qt.AlignmentFlag.AlignBottom)
        top.addStretch(0)
        self.under = QWidget(self)
        below = QHBoxLayout(self.under)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(4)
        below.addWidget(self.star)
        below.addWidget(self.reason, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(1)
        column.addLayout(top)
        column.addWidget(self.under)
        self.state.setContentsMargins(0, 0, 0, 4)
        self.mode = QLabel(tr("smelling widths, F6 goes back"), self)
        self.mode.setProperty("role", "caption")
        self.mode.hide()
        column.addWidget(self.mode)

    def set_mode(self, mode: str) -> None:
        """While smelling only the title stays."""
        self.under.setVisible(mode == "composing" and self._session.version_key is not None)
        self.state.setVisible(mode == "composing")
        self.mode.setVisible(mode == "smelling")

    def refresh(self) -> None:
        """Shows the chosen project and version."""
        project, version = self._session.project, self._session.version
        self.title.setVisible(project is not None)
        self.title.setText("" if project is None else project.name or project.code)
        self.code.setText(tr("Projects…") if project is None else tr("Versions…") if version is None else version.code)
        named = self.code.text() if version is None else tr("Version {code}, opens the list", code=version.code)
        self.code.setAccessibleName(named)
        self.state.setText("" if version is None else state_text(self._session, version))
        self.under.setVisible(version is not None and self.mode.isHidden())
        if version is None:
            return
        self.star.setText("★" if version.starred else "☆")
        self.star.setAccessibleName(tr("Starred, take the star away") if version.starred else tr("Give this version a star"))
        self.star.setToolTip(f"{self.star.accessibleName()} (Ctrl+B)")
        if self._held_for != version.key or not self.reason.isModified():
            self._held_for = version.key
            self.reason.setText(version.reason)
            self.reason.setCursorPosition(0)
        self.reason.setReadOnly(version.is_frozen)
        needed = version.parent is not None and not version.reason
        asked = tr("why? – needed before weighing") if needed else tr("what is this version for?")
        self.reason.setPlaceholderText("" if version.is_frozen else asked)
        self.reason.setToolTip(version.reason)

    def toggle_star(self) -> None:
        """Gives or takes the star; frozen versions too."""
        version = self._session.version
        if version is not None:
            what = tr("no star for {code}", code=version.code) if version.starred else tr("star {code}", code=version.code)
            self._session.edit(what, replace(version, starred=not version.starred))

    def ask_reason(self) -> None:
        """Puts the cursor where the reason goes."""
        self.reason.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.reason.selectAll()

    def _on_reason_finished(self) -> None:
        version = self._session.version
        if not self.reason.isModified() or version is None or version.key != self._held_for:
            return
        self.reason.setModified(False)
        text = self.reason.text().strip()
        if text != version.reason:
            self._session.edit(tr("reason of {code}", code=version.code), replace(version, reason=text))
