# SPDX-License-Identifier: MIT
"""The versions that are compared, as words in a row: each taken out by a click or Delete, more added from a list."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QToolButton, QWidget

from desktop.language import tr
from desktop.models.compared import FEWEST, MOST, Compared
from desktop.session import Session
from perfumery import Version

ADD = tr("add a version…")


class Picker(QWidget):
    """Follows `compared`."""

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._compared = compared
        self._buttons: dict[int, _Word] = {}
        self.add = QComboBox(self)
        self.add.setAccessibleName(tr("Add a version to compare"))
        self.add.setToolTip(tr("Up to {most} versions stand side by side", most=MOST))
        self.add.activated.connect(self._on_version_added)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(4)
        self._row.addWidget(self.add)
        compared.changed.connect(self.refresh)
        self.refresh()

    @property
    def words(self) -> tuple[str, ...]:
        """The versions' codes from the left."""
        return tuple(self._buttons[key].code for key in self._compared.keys if key in self._buttons)

    def refresh(self) -> None:
        """Shows the versions that are compared, and offers the others of the project."""
        versions = self._compared.versions
        had_focus = any(button.hasFocus() for button in self._buttons.values())
        for button in self._buttons.values():
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._buttons = {}
        for place, version in enumerate(versions):
            assert version.key is not None
            button = _Word(version, self)
            button.setEnabled(len(versions) > FEWEST)
            button.clicked.connect(lambda _=False, key=version.key: self._compared.remove(key))
            self._buttons[version.key] = button
            self._row.insertWidget(place, button)
        if had_focus:
            self.add.setFocus(Qt.FocusReason.OtherFocusReason)
        self._fill(versions)

    def _fill(self, versions: tuple[Version, ...]) -> None:
        project = versions[0].project if versions else self._session.project_key
        heads = [] if project is None else self._session.book.version_heads(project)
        shown = {version.key for version in versions}
        self.add.clear()
        self.add.addItem(ADD, None)
        for head in sorted(heads, key=lambda head: (head.retired, -head.key)):
            if head.key not in shown:
                named = f"{head.code} {head.name}".strip()
                self.add.addItem(tr("{version} (retired)", version=named) if head.retired else named, head.key)
        self.add.setEnabled(self.add.count() > 1 and len(versions) < MOST)

    def _on_version_added(self, place: int) -> None:
        key = self.add.itemData(place)
        if key is not None:
            self._compared.add(key)


class _Word(QToolButton):
    """One version; Delete takes it out as a click does."""

    def __init__(self, version: Version, parent: QWidget) -> None:
        super().__init__(parent)
        self.code = version.code
        self.setText(f"{version.code}  ×")
        self.setProperty("role", "chip")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(tr("Take {code} out of the comparison", code=version.code))
        self.setToolTip(version.reason or version.name or version.code)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.click()
        else:
            super().keyPressEvent(event)
