# SPDX-License-Identifier: MIT
"""Projects and their versions, in the place of the formula: choose one, begin one, name it, retire it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from db import VersionHead
from desktop import figures
from desktop.language import tr
from desktop.models.shown import VERSIONS, shown
from desktop.models.tree import newest_first, state_of
from desktop.pages.bench.project_form import ProjectForm
from desktop.pages.notes import Notes
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.flow import Flow
from desktop.widgets.labels import name_choices
from perfumery import Decision, Project, Version

_KEY = Qt.ItemDataRole.UserRole
CODE, STATE, REASON = 0, 1, 2


def _state_text(head: VersionHead, decisions: Sequence[Decision], trials: list[str]) -> str:
    """'chosen, T-022': what was decided, else whether it is frozen, and what was weighed."""
    state = shown(VERSIONS, state_of(head, decisions))
    return f"{state}, {figures.listed(trials, most=2)}" if trials and not head.retired else state


class VersionsSheet(QWidget):
    """Enter shows the version and leaves; Escape leaves. `left` asks to be put away, `line_asked(key)` to take a version
    into the formula as an accord line."""

    left = Signal()
    line_asked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._filling = False
        self.projects = QComboBox(self)
        name_choices(self.projects, tr("Project"))
        self.projects.currentIndexChanged.connect(self._on_project_chosen)
        self.begin = QPushButton(tr("New project…"), self)
        self.begin.setProperty("role", "link")
        self.begin.clicked.connect(self._on_begin_clicked)
        self.mend = QPushButton(tr("Edit project…"), self)
        self.mend.setProperty("role", "link")
        self.mend.clicked.connect(self._on_mend_clicked)
        self.form = ProjectForm(session, self)
        self.form.made.connect(self._on_project_made)
        self.form.left.connect(self._on_project_left)
        self.tree = QTreeWidget(self)
        self.tree.setAccessibleName(tr("Versions of this project"))
        self.tree.setHeaderLabels([tr("version"), tr("state"), tr("reason")])
        self.tree.setUniformRowHeights(True)
        self.tree.setRootIsDecorated(False)
        self.tree.setIndentation(16)
        self.tree.setStyleSheet("QTreeView::item { padding: 4px 0; }")
        self.tree.header().setSectionResizeMode(REASON, QHeaderView.ResizeMode.Stretch)
        self.tree.currentItemChanged.connect(self._on_item_changed)
        self.tree.itemDoubleClicked.connect(lambda *_: self.show_chosen())
        self.empty = QLabel(tr("This project has no version yet. A new version begins empty."), self)
        self.empty.setProperty("role", "quiet")
        self.empty.setWordWrap(True)
        self.name = QLineEdit(self)
        self.name.editingFinished.connect(self._on_name_finished)
        self.name_field = Field(tr("name of this version, shown where it is used as an accord"), self.name, self)
        self.notes = Notes(session, "version", self)
        self.show_retired = QPushButton(tr("Show retired"), self)
        self.show_retired.setProperty("role", "link")
        self.show_retired.setCheckable(True)
        self.show_retired.toggled.connect(self._on_retired_toggled)
        self._build()

    def _build(self) -> None:
        top = QHBoxLayout()
        top.addWidget(self.projects, 1)
        top.addWidget(self.mend)
        top.addWidget(self.begin)
        self.buttons = {
            "show": QPushButton(tr("Show this version"), self),
            "empty": QPushButton(tr("New version"), self),
            "child": QPushButton(tr("New child of it"), self),
            "line": QPushButton(tr("Use as accord"), self),
            "retire": QPushButton(tr("Retire"), self),
        }
        self.buttons["show"].setProperty("role", "primary")
        self.buttons["empty"].setToolTip(tr("An empty draft without a parent"))
        self.buttons["child"].setToolTip(tr("A draft with the same lines, to be changed"))
        self.buttons["line"].setToolTip(tr("Adds the chosen version to the formula that was open, as one line"))
        handlers = (self.show_chosen, self.make_empty, self.make_child, self._on_line_clicked, self._on_retire_clicked)
        for button, handler in zip(self.buttons.values(), handlers, strict=True):
            button.clicked.connect(handler)
        rows = Flow()
        for key in ("show", "line", "child", "empty", "retire"):
            rows.addWidget(self.buttons[key])
        rows.addWidget(self.show_retired)
        self.list = QWidget(self)
        listed = QVBoxLayout(self.list)
        listed.setContentsMargins(0, 0, 0, 0)
        listed.setSpacing(8)
        for part in (self.empty, self.tree, self.name_field, self.notes):
            listed.addWidget(part, 1 if part is self.tree else 0)
        listed.addLayout(rows)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 12, 12)
        column.setSpacing(8)
        column.addLayout(top)
        column.addWidget(self.form, 1)
        column.addWidget(self.list, 1)

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, *, new_project: bool = False) -> None:
        """Begins at the chosen version, or with the fields of a new project."""
        self.open_for = self._session.version_key
        self.refresh()
        self._show_form(new_project or self._session.project is None)

    def _show_form(self, shown: bool, project: Project | None = None) -> None:
        """The fields of a project take the place of the list: one thing to do at a time."""
        self.form.setVisible(shown)
        self.list.setVisible(not shown)
        self.begin.setVisible(not shown)
        self.mend.setVisible(not shown and self._session.project is not None)
        self.projects.setVisible(not shown and self.projects.count() > 0)
        if shown:
            self.form.start(project)
        else:
            self.tree.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def refresh(self) -> None:
        """Reads projects and versions anew."""
        self._filling = True
        self.projects.clear()
        for project in self._session.book.all(Project):
            if project.retired_on is None or project.key == self._session.project_key:
                self.projects.addItem(f"{project.name or project.code}   {project.code}", project.key)
        self.projects.setCurrentIndex(self.projects.findData(self._session.project_key))
        self._fill_tree()
        self._filling = False
        self._on_item_changed()

    def _fill_tree(self) -> None:
        self.tree.clear()
        project = self._session.project_key
        heads = () if project is None else self._session.book.version_heads(project)
        retired_too = self.show_retired.isChecked()
        heads = [h for h in heads if retired_too or not h.retired or h.key == self._session.version_key]
        trials: dict[int | None, list[str]] = {}
        for making in () if project is None else self._session.book.trials(project):
            trials.setdefault(making.version, []).append(making.code or "")
        items: dict[int, QTreeWidgetItem] = {}
        decisions = () if project is None else newest_first(self._session.book.all(Decision, project=project))
        for head in sorted(heads, key=lambda h: h.key):
            state = _state_text(head, decisions, trials.get(head.key, []))
            item = QTreeWidgetItem([self._code_text(head), state, head.reason])
            item.setData(CODE, _KEY, head.key)
            item.setToolTip(REASON, head.reason)
            items[head.key] = item
            above = items.get(head.parent or -1)
            if above is None:
                self.tree.addTopLevelItem(item)
            else:
                above.addChild(item)
        self.tree.expandAll()
        theme = self._session.theme
        self.tree.header().resizeSection(CODE, theme.px(150))
        self.tree.header().resizeSection(STATE, theme.px(140))
        chosen = items.get(self._session.version_key or -1)
        if chosen is not None:
            self.tree.setCurrentItem(chosen)
        self.tree.setVisible(bool(items))
        self.empty.setVisible(not items and project is not None)

    @staticmethod
    def _code_text(head: VersionHead) -> str:
        return " ".join(filter(None, (head.code, "★" if head.starred else "", head.name)))

    @property
    def chosen_key(self) -> int | None:
        """The version under the cursor."""
        item = self.tree.currentItem()
        return None if item is None else item.data(CODE, _KEY)

    def _chosen(self) -> Version | None:
        return None if self.chosen_key is None else self._session.book.get(Version, self.chosen_key)

    def _on_item_changed(self, *_: object) -> None:
        version = self._chosen()
        for key in ("show", "child", "retire", "line"):
            self.buttons[key].setEnabled(version is not None)
        self.buttons["empty"].setEnabled(self._session.project is not None)
        self.name_field.setVisible(version is not None)
        self.notes.setVisible(version is not None)
        self.notes.show_for(None if version is None else version.key)
        if version is None:
            return
        self.name.setText(version.name)
        self.buttons["show"].setText(tr("Show {code}", code=version.code))
        self.buttons["child"].setText(tr("New child of {code}", code=version.code))
        self.buttons["retire"].setText(tr("Bring back") if version.retired_on else tr("Retire"))
        self.buttons["line"].setEnabled(self.open_for is not None and version.key != self.open_for)

    open_for: int | None = None

    # choosing and making ----------------------------------------------------------------------------------------------

    def show_chosen(self) -> None:
        """Shows the version under the cursor and leaves."""
        if self.chosen_key is not None:
            self._session.choose_version(self.chosen_key)
            self.left.emit()

    def make_empty(self) -> None:
        """A new draft without lines or parent."""
        project = self._session.project
        if project is None:
            self.start(new_project=True)
            return
        code = self._session.book.next_code(Version, f"{project.code}-", project=project.key)
        self._show_made(self._session.edit(tr("new version {code}", code=code), Version(project=project.key, code=code)))

    def make_child(self) -> None:
        """A draft child of the version under the cursor, with its lines; of the one shown where the list is away."""
        key = self.chosen_key if self.isVisible() and self.chosen_key is not None else self._session.version_key
        if key is not None:
            draft = self._session.book.draft_of(key)
            self._show_made(self._session.edit(tr("new version {code}", code=draft.code), draft))

    def _show_made(self, made: tuple[object, ...] | None) -> None:
        if made and isinstance(made[0], Version):
            self._session.choose_version(made[0].key)
            self.left.emit()

    def _on_begin_clicked(self) -> None:
        self._show_form(True)

    def _on_mend_clicked(self) -> None:
        self._show_form(True, self._session.project)

    def _on_project_made(self, key: int) -> None:
        if key == self._session.project_key:
            self.refresh()
            self._show_form(False)
            return
        self._show_form(False)
        self._session.choose_project(key)
        self.make_empty()

    def _on_project_left(self) -> None:
        self._show_form(False)
        if self._session.project is None:
            self.left.emit()

    def _on_project_chosen(self, place: int) -> None:
        key = self.projects.itemData(place)
        if not self._filling and key is not None and key != self._session.project_key:
            self._session.choose_project(key)
            self.refresh()

    def _on_line_clicked(self) -> None:
        version = self._chosen()
        if version is not None and self.open_for is not None:
            self._session.choose_version(self.open_for)
            self.left.emit()
            self.line_asked.emit(version.key)

    def _on_retire_clicked(self) -> None:
        version = self._chosen()
        if version is None:
            return
        if version.retired_on is not None:
            self._session.edit(tr("bring back {code}", code=version.code), replace(version, retired_on=None))
        else:
            self._session.retire(version.key)
        self.refresh()

    def _on_retired_toggled(self, on: bool) -> None:
        self.refresh()

    def _on_name_finished(self) -> None:
        version = self._chosen()
        text = self.name.text().strip()
        if version is not None and self.name.isModified() and text != version.name:
            self.name.setModified(False)
            self._session.edit(tr("name of {code}", code=version.code), replace(version, name=text))
            item = self.tree.currentItem()
            head = next(h for h in self._session.book.version_heads(version.project) if h.key == version.key)
            item.setText(CODE, self._code_text(head))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.tree.hasFocus():
            self.show_chosen()
        else:
            super().keyPressEvent(event)
