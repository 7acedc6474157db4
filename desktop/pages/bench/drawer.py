# SPDX-License-Identifier: MIT
"""The materials at the right hand of the bench: a search field, the list, the card of the chosen one, the form."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from PySide6.QtCore import QEvent, QModelIndex, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QSplitter, QVBoxLayout, QWidget

from db import Change, add_starter
from desktop import figures
from desktop.language import tr, tr_count
from desktop.led import Led
from desktop.models.holdings import captions
from desktop.models.materials import CaptionRole, KeyRole, MaterialsModel, RetiredRole, fields_found
from desktop.pages.bench.card import MaterialCard
from desktop.pages.bench.material_form import MaterialForm
from desktop.session import Session
from desktop.widgets.labels import ElidedLabel, clearable
from desktop.widgets.two_lines import TwoLineDelegate, TypingList
from perfumery import Bottle, Contents, Material, Move, Note, Version, Word

# From this width on the card stands beside the list.
WIDE = 560
CARD_PAUSE_MS = 120
# A change of more values than this is an import.
MANY = 500
STARTERS = 182
# So many versions are named, or one fewer and how many others.
CODES_SAID = 4
RETIRED = tr("Retired, it leaves this list; a search still finds it.")
STARTER_TEXTS = (tr("Add the starter materials ({number})", number=STARTERS), tr("Add starters ({number})", number=STARTERS))


class MaterialsDrawer(QWidget):
    """The drawer. Signal: `material_picked(key)` when a material is to go into the formula."""

    menu_title = tr("Material")
    material_picked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._led = Led(session)
        self._mode = "composing"
        self._is_stale = True
        self._is_setting = False
        self._asked_to_retire: int | None = None
        self.model = MaterialsModel(lambda rows: captions(session.book, rows), self)
        self._build()
        self._build_actions()
        self._lay_out()
        self.search.textChanged.connect(self._on_search_changed)
        self.search.returnPressed.connect(self._on_list_taken)
        self.search.installEventFilter(self)
        self.list.typed.connect(self._on_list_typed)
        self.list.taken.connect(self._on_list_taken)
        self.list.left_upwards.connect(self._on_list_left)
        self.list.emptied.connect(self._on_list_emptied)
        self.list.selectionModel().currentChanged.connect(self._on_list_current_changed)
        self.card.picked.connect(self.material_picked)
        self.card.edit_wanted.connect(self.open_form)
        self.card.retire_wanted.connect(self._on_card_retire_wanted)
        self.card.return_wanted.connect(self._on_card_return_wanted)
        self.form.kept.connect(self._on_form_kept)
        self.form.left.connect(self._on_form_left)
        session.changed.connect(self._on_session_changed)
        session.theme.changed.connect(self._on_theme_changed)

    # what others use --------------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:
        """What the window puts into its menu."""
        return self._actions

    def set_mode(self, mode: str) -> None:
        """'composing' shows everything; 'smelling' folds to the search field, the list below it while something is sought."""
        self._mode = mode
        self._show_parts()

    def focus_search(self) -> None:
        """Puts the cursor into the search field."""
        self._leave_form()
        self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.search.selectAll()

    def choose(self, key: int) -> None:
        """Shows a material and its card, whatever is being searched."""
        self._refresh()
        if self.model.place_of(key) < 0:
            row = next((row for row in self._session.book.material_rows() if row.key == key), None)
            self.search.setText("" if row is None else row.short)
        self._set_current(key)

    @property
    def current_key(self) -> int | None:
        """The material that is chosen in the list."""
        index = self.list.currentIndex()
        return index.data(KeyRole) if index.isValid() else None

    def open_form(self, key: int | None = None) -> None:
        """Opens the form for a material, None for a new one; an unfinished one comes first."""
        if self.form.is_dirty:
            self.form_note.setText(tr("This one is not kept yet. Keep it or discard it first."))
            self.form_note.show()
        else:
            known = bool(self.model.rowCount())
            self.form.start(key, "" if key is not None or known else self.search.text().strip())
            self.form_note.hide()
        self._has_form = True
        self._show_parts()
        self.form.focus_first()

    # building ---------------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        session = self._session
        self._has_form = False
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Find a material"))
        self.search.setAccessibleName(tr("Find a material"))
        self.search.setToolTip(tr("Name, synonym, CAS number, form or smell word. Enter adds the first one to the formula."))
        clearable(self.search)
        self.count = ElidedLabel()
        self.count.setProperty("role", "caption")
        self.new_button = self._button(tr("New"), "link", tr("New material"))
        self.unfinished = self._button("", "link")
        self.list = TypingList()
        self.list.setAccessibleName(tr("Materials"))
        self.list.setModel(self.model)
        self.list.setItemDelegate(TwoLineDelegate(session.theme, CaptionRole, RetiredRole, self.list))
        self.list.fit_rows()
        # while letters come quickly only the list follows; the card waits for a pause
        self._pause = QTimer(self, singleShot=True, interval=CARD_PAUSE_MS)
        self._pause.timeout.connect(self._show_card)
        self.card = MaterialCard(session)
        self.form = MaterialForm(session)
        self.form_note = QLabel()
        self.form_note.setProperty("role", "amber")
        self.form_note.setWordWrap(True)
        self.form_note.setContentsMargins(12, 8, 12, 0)
        self.form_note.hide()
        self.empty_text = QLabel(tr("Materials stand here, found while you type: begin with the starter list, or with your own."))
        self.nothing_text = QLabel()
        self.retire_text = QLabel()
        for label in (self.empty_text, self.nothing_text, self.retire_text):
            label.setWordWrap(True)
        self.starter_button = self._button(STARTER_TEXTS[0], "primary")
        self.first_button = self._button(tr("New material"))
        self.retire_button = self._button(tr("Retire"))
        self.spare_button = self._button(tr("Leave it"))
        self.new_button.clicked.connect(self._on_new_clicked)
        self.first_button.clicked.connect(self._on_new_clicked)
        self.unfinished.clicked.connect(self._on_new_clicked)
        self.starter_button.clicked.connect(self._on_starter_clicked)
        self.retire_button.clicked.connect(self._on_retire_clicked)
        self.spare_button.clicked.connect(self._on_spare_clicked)

    def _button(self, text: str, role: str = "", name: str = "") -> QPushButton:
        button = QPushButton(text)
        button.setAutoDefault(False)
        button.setAccessibleName(name or text)
        if role:
            button.setProperty("role", role)
        return button

    def _build_actions(self) -> None:
        def action(text: str, keys: str, slot: object, *, everywhere: bool = False) -> QAction:
            made = QAction(text, self)
            if keys:
                made.setShortcut(QKeySequence(keys))
            if not everywhere:
                made.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            made.triggered.connect(slot)
            self.addAction(made)
            return made

        self.find_action = action(tr("Find a material"), "Ctrl+M", self.focus_search, everywhere=True)
        self.new_action = action(tr("New material"), "Ctrl+Shift+N", self._on_new_clicked, everywhere=True)
        self.add_action = action(tr("Add to the formula"), "", self._on_list_taken)
        self.edit_action = action(tr("Edit material"), "Ctrl+Return", self._on_edit_triggered)
        self.retire_action = action(tr("Retire material"), "", self._on_retire_triggered)
        self._of_one = (self.add_action, self.edit_action, self.retire_action)
        self._actions = (self.find_action, self.new_action, *self._of_one)
        self.new_button.setToolTip(tr("New material (Ctrl+Shift+N)"))

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.addWidget(self.count)
        head.addStretch(1)
        head.addWidget(self.new_button)
        self._top = QWidget()
        top = QVBoxLayout(self._top)
        top.setContentsMargins(12, 12, 12, 4)
        top.setSpacing(4)
        top.addWidget(self.search)
        self._head = QWidget()
        head.setContentsMargins(0, 0, 0, 0)
        self._head.setLayout(head)
        top.addWidget(self._head)
        top.addWidget(self.unfinished, 0, Qt.AlignmentFlag.AlignLeft)
        self._empty = self._panel(self.empty_text, self.starter_button, self.first_button)
        self._nothing = self._panel(self.nothing_text)
        self._retiring = self._panel(self.retire_text, self.retire_button, self.spare_button)
        self.split = QSplitter(Qt.Orientation.Vertical)
        self.split.setChildrenCollapsible(False)
        self.split.addWidget(self.list)
        self.split.addWidget(self.card)
        self.split.setSizes([420, 300])
        self.split.setStretchFactor(0, 3)
        self.split.setStretchFactor(1, 2)
        self._form_sheet = QWidget()
        sheet = QVBoxLayout(self._form_sheet)
        sheet.setContentsMargins(0, 0, 0, 0)
        sheet.setSpacing(0)
        sheet.addWidget(self.form_note)
        sheet.addWidget(self.form, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for part in (self._top, self._empty, self._nothing, self._retiring):
            column.addWidget(part)
        column.addWidget(self.split, 1)
        column.addWidget(self._form_sheet, 1)
        column.addStretch()
        self.setMinimumWidth(160)

    def _panel(self, *parts: QWidget) -> QWidget:
        panel = QWidget()
        column = QVBoxLayout(panel)
        column.setContentsMargins(12, 8, 12, 12)
        column.setSpacing(8)
        for part in parts:
            column.addWidget(part)
        return panel

    # showing ----------------------------------------------------------------------------------------------------------

    def _refresh(self) -> None:
        """Asks the book again and keeps the chosen row where it still is."""
        self._is_stale = False
        self._pause.stop()
        key = self.current_key
        self.model.forget()
        self._find()
        self._set_current(key)

    def _refresh_if_stale(self) -> None:
        if self._is_stale and self.isVisible():
            self._refresh()

    def _find(self) -> None:
        """Shows what the search finds, or every material that is not retired."""
        book, text = self._session.book, self.search.text()
        everything = book.material_rows()
        standing = [row for row in everything if not row.retired]
        found = book.find_materials(text) if text.strip() else standing
        self.model.show_rows(found)
        total, self.count.shorter = tr_count(len(standing), "{n} material", "{n} materials"), str(len(standing))
        if text.strip():
            counted = tr("{number} of {all}", number=len(found), all=len(standing))
            self.count.shorter = counted
            total = " · ".join(filter(None, (counted, ", ".join(fields_found(found, text)))))
        self.count.setText(total)
        self.nothing_text.setText(tr("No material holds “{text}”. New makes one of that name.", text=text.strip()))
        self._show_parts()

    def _show_parts(self) -> None:
        """Which parts stand in the drawer now."""
        is_empty = not self._session.book.material_rows()
        is_folded = self._mode == "smelling" and not self.search.text().strip()
        has_rows = self.model.rowCount() > 0
        form = self._has_form
        self._top.setVisible(not form)
        self._head.setVisible(not is_empty and not is_folded)
        self.unfinished.setVisible(self.form.is_dirty and not is_folded)
        if self.form.is_dirty:
            name = self.form.unfinished
            self.unfinished.setText(tr("Unfinished: {name}", name=name))
            self.unfinished.setAccessibleName(tr("Go on with the unfinished material {name}", name=name))
        self._empty.setVisible(is_empty and not form and not is_folded)
        self._nothing.setVisible(not has_rows and not is_empty and not form and not is_folded)
        self._retiring.setVisible(self._asked_to_retire is not None and not form and not is_folded)
        self.split.setVisible(has_rows and not form and not is_folded)
        self.card.setVisible(self._mode == "composing" and self.current_key is not None)
        self._form_sheet.setVisible(form)
        for action in self._of_one:
            action.setEnabled(self.current_key is not None and not form)

    def _set_current(self, key: int | None) -> None:
        place = self.model.place_of(key)
        if place < 0 and self.model.rowCount() and (self.search.text().strip() or key is not None):
            place = 0
        index = self.model.index(place) if place >= 0 else QModelIndex()
        self._is_setting = True
        self.list.setCurrentIndex(index)
        self._is_setting = False
        self._show_card()

    def _show_card(self) -> None:
        if not self._pause.isActive() and (self.isVisible() or self.card.key != self.current_key):
            self.card.show_material(self.current_key)
        self.card.setVisible(self._mode == "composing" and self.current_key is not None)
        for action in self._of_one:
            action.setEnabled(self.current_key is not None and not self._has_form)

    def _leave_form(self) -> None:
        self._has_form = False
        self._show_parts()

    # what happens -----------------------------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._refresh_if_stale()
        if self._has_form:
            self.form.focus_first()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        wide = event.size().width() >= WIDE
        room = event.size().width() - 60
        fits = self.starter_button.fontMetrics().horizontalAdvance(STARTER_TEXTS[0]) * 1.1 < room
        self.starter_button.setText(STARTER_TEXTS[0 if fits else 1])
        self.split.setOrientation(Qt.Orientation.Horizontal if wide else Qt.Orientation.Vertical)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if watched is self.search and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() == Qt.Key.Key_Down and self.model.rowCount() and self.split.isVisible():
                if not self.list.currentIndex().isValid():
                    self.list.setCurrentIndex(self.model.index(0))
                self.list.setFocus(Qt.FocusReason.TabFocusReason)
                return True
            if event.key() == Qt.Key.Key_Escape and self.search.text():
                self.search.clear()
                return True
        return super().eventFilter(watched, event)

    def _on_search_changed(self) -> None:
        self._asked_to_retire = None
        self._pause.start()
        self._find()
        self._set_current(None)

    def _on_list_typed(self, text: str) -> None:
        self.search.setFocus(Qt.FocusReason.OtherFocusReason)
        self.search.end(False)
        if text:
            self.search.insert(text)
        else:
            self.search.backspace()

    def _on_list_taken(self) -> None:
        key = self.current_key
        if key is not None and not self.list.currentIndex().data(RetiredRole):
            self.material_picked.emit(key)

    def _on_list_left(self) -> None:
        self.search.setFocus(Qt.FocusReason.BacktabFocusReason)

    def _on_list_emptied(self) -> None:
        self.search.clear()
        self.search.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_list_current_changed(self) -> None:
        if self._asked_to_retire not in (None, self.current_key):
            self._asked_to_retire = None
            self._retiring.hide()
        if not self._is_setting:
            self._show_card()

    def _on_new_clicked(self) -> None:
        self.open_form(None)

    def _on_edit_triggered(self) -> None:
        if self.current_key is not None:
            self.open_form(self.current_key)

    def _on_form_kept(self, key: int) -> None:
        self._leave_form()
        self.choose(key)
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_form_left(self) -> None:
        self._leave_form()
        self.search.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_starter_clicked(self) -> None:
        added = self._session.attempt(add_starter, self._session.book)
        if added:
            said = tr("{number} materials are on the list, with the starting smell words.", number=STARTERS)
            self._session.said.emit(said, "done")
        self.search.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_retire_triggered(self) -> None:
        if self.current_key is not None:
            self._on_card_retire_wanted(self.current_key)

    def _on_card_retire_wanted(self, key: int) -> None:
        """Says where it is used; nothing that is used can be deleted."""
        material = self._session.book.get(Material, key)
        if material is None:
            return
        self.retire_text.setText(RETIRED)
        self._led.lead(self._telling_uses(key, material.short), lambda: None)
        self._asked_to_retire = key
        self._show_parts()
        self.retire_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _telling_uses(self, key: int, name: str) -> Iterator[None]:
        """Finds out where it is used, in pieces of some ms, and says it before what retiring means."""
        codes: list[str] = []
        count = 0
        for some, number in self._session.book.uses.finding_material(key, CODES_SAID):
            codes += [use.head.code for use in some]
            count = number or 0
            yield
        if count:
            where = tr_count(
                count, "{name} is used in {versions}, which keeps it.", "{name} is used in {versions}, which keep it.",
                name=name, versions=figures.listed(codes, most=CODES_SAID, of=count),
            )  # fmt: skip
        else:
            where = tr("{name} is used in no formula.", name=name)
        self.retire_text.setText(f"{where} {RETIRED}")

    def _on_retire_clicked(self) -> None:
        key, self._asked_to_retire = self._asked_to_retire, None
        if key is not None:
            self._session.retire(key)
        self._show_parts()
        self.search.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_spare_clicked(self) -> None:
        self._asked_to_retire = None
        self._show_parts()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_card_return_wanted(self, key: int) -> None:
        material = self._session.book.get(Material, key)
        if material is not None:
            self._session.edit(tr("{name} back on the list", name=material.short), replace(material, retired_on=None))

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(Material, Bottle, Contents, Move, Note, Word):
            self._is_stale = True
            if len(change.pairs) > MANY:
                # what wrote them, or took them back, has had its time; the list has a turn of its own
                QTimer.singleShot(0, self, self._refresh_if_stale)
            else:
                self._refresh_if_stale()
        elif change.touches(Version) and self.isVisible():
            # an edit of a formula changes where a material is used, not the list; the card follows when typing pauses
            self._pause.start()

    def _on_theme_changed(self) -> None:
        self.list.fit_rows()
        self.card.show_material(self.card.key)
