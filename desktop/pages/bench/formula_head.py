# SPDX-License-Identifier: MIT
"""What formula this is: project, version, its state and where it came from; the reason is asked for on the spot."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from desktop import figures
from desktop.language import tr
from desktop.session import Session
from desktop.widgets.labels import ElidedLabel
from perfumery import Making, Version


def state_text(session: Session, version: Version) -> str:
    """'frozen 11 Mar, weighed as T-027 · from SR-3, takes from SR-2B'."""
    book = session.book
    trials = [m.code for m in book.all(Making, version=version.key) if m.kind == "trial" and m.code]
    if version.frozen_at is None:
        state = "draft"
    else:
        state = tr("frozen {frozen_at}", frozen_at=figures.day(version.frozen_at, book.now()))
        if trials:
            state += tr(", weighed as {trials}", trials=figures.listed(trials))
    if version.retired_on is not None:
        state = tr("retired {retired_on}, {state}", retired_on=figures.day(version.retired_on, book.now()), state=state)
    parent = None if version.parent is None else book.get(Version, version.parent)
    other = None if version.takes_from is None else book.get(Version, version.takes_from)
    origin = ", ".join(filter(None, (tr(
        "from {code}", code=parent.code
    ) if parent else "", tr(
        "takes from {code}", code=other.code
    ) if other else "")))
    holders = book.uses.holders(version.key) if version.key is not None else ()
    # an edit of a draft reaches its drafts; a frozen one gets a child, and its users keep what they have
    used = tr("accord in {holders}", holders=figures.listed(holders, most=3)) if holders else ""
    return " · ".join(filter(None, (state, origin, used)))


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
        self.code.setAccessibleName(tr(
            "Version {text_}, opens the list", text_=self.code.text()
        ) if version else self.code.text())
        self.state.setText("" if version is None else state_text(self._session, version))
        self.under.setVisible(version is not None and self.mode.isHidden())
        if version is None:
            return
        self.star.setText("★" if version.starred else "☆")
        self.star.setAccessibleName(tr("Starred, take the star away") if version.starred else tr("Give this version a star"))
        self.star.setToolTip(tr("{accessiblename} (Ctrl+B)", accessiblename=self.star.accessibleName()))
        if self._held_for != version.key or not self.reason.isModified():
            self._held_for = version.key
            self.reason.setText(version.reason)
            self.reason.setCursorPosition(0)
        self.reason.setReadOnly(version.is_frozen)
        needed = version.parent is not None and not version.reason
        self.reason.setPlaceholderText(
            "" if version.is_frozen else tr("why? – needed before weighing") if needed else tr("what is this version for?")
        )
        self.reason.setToolTip(version.reason)

    def toggle_star(self) -> None:
        """Gives or takes the star; frozen versions too."""
        version = self._session.version
        if version is not None:
            what = f"{'no star for' if version.starred else 'star'} {version.code}"
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
