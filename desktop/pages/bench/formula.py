# SPDX-License-Identifier: MIT
"""The formula at the left of the bench: what it is, its facts, its lines, and what they come to."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from desktop import wording
from desktop.language import tr
from desktop.models.entry import LineEntry
from desktop.models.line_edits import LineEdits
from desktop.models.lines import LinesModel
from desktop.models.shelf_names import Candidate
from desktop.pages.bench.ask_row import AskRow, Offer, Question
from desktop.pages.bench.facts import FactsRow
from desktop.pages.bench.formula_head import FormulaHead
from desktop.pages.bench.line_editor import LineDelegate, go_on
from desktop.pages.bench.paste import PasteSheet
from desktop.pages.bench.totals import TotalsFoot
from desktop.pages.bench.trial import TrialSheet
from desktop.pages.bench.versions import VersionsSheet
from desktop.session import Session
from desktop.widgets.fact import INDENT
from desktop.widgets.grid import Grid
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Balance, Bottle, Constituent, Decision, Limit, Making, Material, Project, Refused, Version

SMELLING_COLUMNS = ("fold", "material", "parts", "share")
# '0.1 % in triethyl citrate' is read without the pointer where there is room for it
ROOMY = {"strength": 176}
# large text leaves no room for all of them: the masses are what is weighed
GIVE_WAY = ("neat", "share")
LEAST_WIDTH = 280
_SHOWN = (Version, Material, Project, Bottle, Balance, Making, Limit, Constituent, Decision)


class FormulaPane(QWidget):
    """`trial_made(making, bottle)` when a trial of the version was made here; `smelling_asked(vial)` to thin one to smell it."""

    menu_title = tr("Formula")
    trial_made = Signal(object, object)
    smelling_asked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._stale = True
        self._mode = "composing"
        self.model = LinesModel(session, self)
        self.entry = LineEntry(session, self.model, self)
        self.edits = LineEdits(session, self.model)
        self.head = FormulaHead(session, self)
        self.facts = FactsRow(session, self.model, self)
        self.grid = Grid(session.theme, session.settings, "lines", "material", self, roomy=ROOMY, give_way=GIVE_WAY)
        self.grid.setAccessibleName(tr("Lines of the formula"))
        self.grid.setItemDelegate(LineDelegate(session.theme, self.grid, self.model, self.entry))
        self.grid.show_model(self.model)
        self.asked = AskRow(session.theme, self)
        # what the open question was asked of: an answer must not reach another state of the formula
        self._asked_of: Version | None = None
        self.wrong = QLabel(self)
        self.wrong.setProperty("role", "wrong")
        self.wrong.setWordWrap(True)
        self.wrong.setContentsMargins(16, 2, 12, 2)
        self.wrong.hide()
        self.foot = TotalsFoot(session, self.model, self)
        self.versions = VersionsSheet(session, self)
        self.trial = TrialSheet(session, self)
        self.paste = PasteSheet(session, self.model, self)
        self.empty = _Empty(self)
        self.stack = QStackedWidget(self)
        self.stack.setMinimumWidth(LEAST_WIDTH)
        self.setFocusProxy(self.grid)
        self._build()
        self._build_actions()
        self._connect()

    def _build(self) -> None:
        self.top = QWidget(self)
        top = QVBoxLayout(self.top)
        # the figures of the facts stand below the title, whatever their fields' own margin
        top.setContentsMargins(16 - INDENT, 10, 12, 6)
        top.setSpacing(6)
        self.head.setContentsMargins(INDENT, 0, 0, 0)
        top.addWidget(self.head)
        top.addWidget(self.facts)
        self.body = QWidget(self)
        body = QVBoxLayout(self.body)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(0)
        asked = QVBoxLayout()
        asked.setContentsMargins(12, 6, 12, 6)
        asked.addWidget(self.asked)
        body.addWidget(self.grid, 1)
        body.addLayout(asked)
        body.addWidget(self.wrong)
        body.addWidget(self.foot)
        for page in (self.body, self.empty, self.versions, self.trial, self.paste):
            self.stack.addWidget(page)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.top)
        column.addWidget(self.stack, 1)

    def _build_actions(self) -> None:
        handlers: tuple[tuple[str, str, str, Any], ...] = (
            ("line", tr("Type a line"), "Ctrl+L", self.type_line),
            ("fill_up", tr("Fill up with this line"), "Ctrl+U", self._on_fill_up_triggered),
            ("hold", tr("Hold the line"), "Ctrl+H", self._on_hold_triggered),
            ("rescale", tr("Rescale to a total…"), "Ctrl+Shift+T", self.ask_rescale),
            ("exchange", tr("Exchange the stock…"), "Ctrl+Shift+E", self.ask_exchange),
            ("up", tr("Move the line up"), "", lambda: self._on_grid_move_asked(self.grid.currentIndex().row(), -1)),
            ("down", tr("Move the line down"), "", lambda: self._on_grid_move_asked(self.grid.currentIndex().row(), 1)),
            ("remove", tr("Remove the lines"), "", lambda: self._on_grid_removal_asked(self.grid.chosen_rows())),
            ("copy", tr("Copy the lines"), "", lambda: self.grid.copy()),
            ("paste", tr("Paste a formula"), "", lambda: self.paste_text(self.grid.clipboard_text())),
            ("versions", tr("Versions and projects…"), "F4", self.show_versions),
            ("child", tr("New child version"), "Ctrl+N", self.versions.make_child),
            ("empty", tr("New empty version"), "", self.versions.make_empty),
            ("project", tr("New project…"), "", lambda: self.show_versions(new_project=True)),
            ("reason", tr("Reason of this version"), "Ctrl+E", self.head.ask_reason),
            ("star", tr("Star"), "Ctrl+B", self.head.toggle_star),
            ("trial", tr("Make a trial…"), "Ctrl+T", self.ask_trial),
            ("smelling", tr("Smelling dilution of its newest trial…"), "F8", self.ask_smelling),
        )
        self.commands: dict[str, QAction] = {}
        for key, text, keys, handler in handlers:
            action = QAction(text, self)
            action.setObjectName(f"formula_{key}")
            if keys:
                action.setShortcut(QKeySequence(keys))
            action.triggered.connect(lambda _=False, handler=handler: handler())
            self.commands[key] = action
            self.addAction(action)
        self.addAction(self.grid.choose_columns_action)
        for key, keys in (("up", "Alt+Up"), ("down", "Alt+Down"), ("remove", "Del"), ("copy", "Ctrl+C"), ("paste", "Ctrl+V")):
            # these keys belong to the table: as shortcuts of the window they would take them from every text field
            self.commands[key].setToolTip(tr("{command} ({keys} in the table)", command=self.commands[key].text(), keys=keys))
        of_lines = ("fill_up", "hold", "rescale", "exchange", "up", "down", "remove", "copy", "paste")
        self.grid.addActions([self.commands[key] for key in of_lines])

    def _connect(self) -> None:
        self.model.worked_out.connect(self._on_model_worked_out)
        self.model.refused.connect(self._say_wrong)
        self.grid.removal_asked.connect(self._on_grid_removal_asked)
        self.grid.move_asked.connect(self._on_grid_move_asked)
        self.grid.toggle_asked.connect(self.model.toggle)
        self.grid.entered.connect(self.model.toggle)
        self.grid.clicked.connect(self._on_grid_clicked)
        self.grid.paste_asked.connect(self.paste_text)
        self.grid.given_up.connect(self.model.give_up)
        self.grid.typed.connect(self._on_grid_typed)
        self.grid.selectionModel().currentChanged.connect(self._update_actions)
        self.grid.selectionModel().selectionChanged.connect(self._update_actions)
        self.asked.left.connect(self._on_asked_left)
        self.head.versions_asked.connect(self.show_versions)
        self.versions.left.connect(self.show_lines)
        self.versions.line_asked.connect(self.add_accord)
        self.trial.left.connect(self.show_lines)
        self.trial.made.connect(self._on_trial_made)
        self.trial.reason_asked.connect(self._on_trial_reason_asked)
        self.paste.left.connect(self.show_lines)
        self.empty.new_project.clicked.connect(lambda: self.show_versions(new_project=True))
        self.empty.new_version.clicked.connect(self.versions.make_empty)
        self._session.changed.connect(self._on_session_changed)
        self._session.chosen.connect(self._on_session_chosen)
        self._session.theme.changed.connect(self._on_theme_changed)

    # showing ----------------------------------------------------------------------------------------------------------

    def set_mode(self, mode: str) -> None:
        """'composing' shows all of it, 'smelling' names, parts and percent beside the strips."""
        self._mode = mode
        smelling = mode == "smelling"
        self.head.set_mode(mode)
        self.grid.show_only(SMELLING_COLUMNS if smelling else None)
        self._show_parts()

    def refresh(self, change: Any = None) -> None:
        """Reads the chosen version anew and shows it."""
        self._stale = False
        self.model.refresh(change)
        if self.stack.currentWidget() in (self.body, self.empty):
            self.show_lines()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._stale:
            self.refresh()

    def _refresh_or_note(self, change: Any = None) -> None:
        if self.isVisible():
            self.refresh(change)
        else:
            self._stale = True

    def _on_session_changed(self, change: Any) -> None:
        if change.touches(*_SHOWN) and self.model.concerns(change):
            self._refresh_or_note(change)

    def _on_session_chosen(self) -> None:
        self._refresh_or_note()

    def _on_theme_changed(self) -> None:
        if not self.isVisible():
            self._stale = True
        elif not self._stale:
            # nothing is worked out again for another look
            self.head.refresh()
            self.facts.refresh()
            self.foot.restyle()

    def _on_model_worked_out(self) -> None:
        self.head.refresh()
        self.facts.refresh()
        self.foot.refresh()
        self._show_parts()
        self._update_actions()
        if self.asked.question is not None:
            if self.model.version == self._asked_of:
                self.asked.tell()
            else:
                self.asked.leave()

    def _show_parts(self) -> None:
        composing = self._mode == "composing"
        there = self.model.version is not None
        lines = self.stack.currentWidget() is self.body
        self.facts.setVisible(there and composing and lines)
        self.foot.setVisible(there and composing)

    def _update_actions(self, *_: object) -> None:
        place = self.grid.currentIndex().row()
        row = self.model.row(place) if 0 <= place < self.model.rowCount() else None
        own = row is not None and row.place is not None
        there = self.model.version is not None
        for key in ("fill_up", "up", "down", "remove"):
            self.commands[key].setEnabled(own)
        version = self.model.version
        self.commands["hold"].setEnabled(bool(self._chosen_lines()))
        held = self.edits.are_held(self._chosen_lines())
        self.commands["hold"].setText(tr("Let the line go") if held else tr("Hold the line"))
        self.commands["rescale"].setEnabled(version is not None and bool(version.lines))
        self.commands["exchange"].setEnabled(own and row is not None and row.line is not None and row.line.accord is None)
        for key in ("line", "paste", "copy", "child", "reason", "star", "trial", "smelling"):
            self.commands[key].setEnabled(there)
        self.commands["empty"].setEnabled(self._session.project is not None)
        filled = own and row is not None and row.line is not None and row.line.fill_up
        self.commands["fill_up"].setText(tr("No longer fill up") if filled else tr("Fill up with this line"))

    def _say_wrong(self, sentence: str) -> None:
        self.wrong.setText(" ".join((sentence, tr("F2 mends it, Escape gives it up."))) if sentence else "")
        self.wrong.setVisible(bool(sentence))

    # what stands in the place of the table ----------------------------------------------------------------------------

    def show_lines(self) -> None:
        """Back to the lines, or to the sentence that says what belongs here."""
        there = self.model.version is not None
        self.empty.show_for(self._session.project is not None)
        page = self.body if there else self.empty
        had_focus = self.stack.currentWidget() not in (self.body, self.empty)
        self.stack.setCurrentWidget(page)
        self._show_parts()
        current = self.grid.currentIndex()
        place = min(max(current.row(), 0), self.model.rowCount() - 1)
        if there and self.model.row(place).is_entry:
            # the one cell of the row that can be typed into: in a version without lines the first line is begun at once
            self.grid.go_to(self.model.index(place, self.model.place_of("material")))
        elif there and current.column() <= 0:
            # a view that gets the focus begins in its first column, where nothing can be typed
            self.grid.go_to(self.model.index(place, self.model.place_of("parts")))
        if there and had_focus:
            self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def show_versions(self, *, new_project: bool = False) -> None:
        """Opens projects and versions in the place of the lines; closes them again."""
        if self.stack.currentWidget() is self.versions and not new_project:
            self.show_lines()
            return
        self.stack.setCurrentWidget(self.versions)
        self._show_parts()
        self.versions.start(new_project=new_project)

    def ask_trial(self) -> None:
        """Opens the confirmation of a trial of this version."""
        if self.model.version is not None:
            self.stack.setCurrentWidget(self.trial)
            self._show_parts()
            self.trial.start()

    def ask_smelling(self) -> None:
        """Asks for the newest trial of this version to be thinned for smelling."""
        version = self.model.version
        trials = [] if version is None else list(self._session.book.all(Making, version=version.key, kind="trial"))
        if trials:
            self.smelling_asked.emit(max(trials, key=lambda made: (made.started_at, made.key)).into_bottle)
        elif version is not None:
            self._session.said.emit(tr("{code} has no trial yet. Make one first (Ctrl+T).", code=version.code), "note")

    def paste_text(self, text: str) -> None:
        """One bare figure goes into the current cell; anything more is previewed first."""
        if self.model.version is None or not text.strip():
            return
        index = self.grid.currentIndex()
        is_cell = "\n" not in text.strip() and "\t" not in text.strip() and not any(c.isalpha() for c in text)
        if is_cell and index.flags() & Qt.ItemFlag.ItemIsEditable and not self.model.row(index.row()).is_entry:
            self.model.setData(index, text.strip())
            return
        self.stack.setCurrentWidget(self.paste)
        self._show_parts()
        self.paste.start(text)

    def _on_trial_made(self, making: Making, bottle: Bottle) -> None:
        self.show_lines()
        self.trial_made.emit(making, bottle)

    def _on_trial_reason_asked(self) -> None:
        self.head.ask_reason()

    # lines ------------------------------------------------------------------------------------------------------------

    def type_line(self, text: str = "") -> None:
        """Opens the entry row, with a text to go on from."""
        if self.model.version is None:
            return
        self.show_lines()
        index = self.model.index(self.model.rowCount() - 1, self.model.place_of("material"))
        self.grid.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.grid.go_to(index)
        self.grid.scrollToBottom()
        if text:
            self.model.setData(index, text)
        self.grid.edit(index)

    def _on_grid_typed(self, place: int, text: str) -> None:
        """A line may be begun from any cell of the entry row."""
        if self.model.row(place).is_entry:
            self.type_line(f"{self.model.entry_text}{text}")
            editor = self.grid.focusWidget() or self.window().focusWidget()
            if isinstance(editor, TypeAhead):
                editor.end(False)

    def add_material(self, key: int) -> None:
        """Begins a line of this material: what is not usual is asked for in the entry row."""
        name = self.model.names.short(key)
        self._begin(Candidate(name, material=key))

    def add_accord(self, key: int) -> None:
        """Begins a line of this version as an accord."""
        version = self._session.book.get(Version, key)
        if version is not None:
            self._begin(Candidate(f"{version.name} {version.code}".strip(), accord=key))

    def _begin(self, candidate: Candidate) -> None:
        if self.model.version is None:
            self._session.said.emit(tr("Choose or begin a version first; then this can go into it."), "note")
            return
        asked = self.entry.enter(f"{candidate.label} ", candidate)
        self.type_line(asked.text if asked is not None else "")
        editor = self.grid.focusWidget() or self.window().focusWidget()
        if asked is not None and isinstance(editor, TypeAhead):
            go_on(editor, asked)

    def _on_fill_up_triggered(self) -> None:
        self._try(lambda row: self.edits.toggle_fill_up(row.place), self.grid.currentIndex().row())

    def _chosen_lines(self) -> set[int]:
        """The places in the version of the chosen rows that are lines of its own."""
        places = {*self.grid.chosen_rows(), self.grid.currentIndex().row()}
        known, lines = self.model.rowCount(), () if self.model.version is None else self.model.version.lines
        chosen = (self.model.row(place).place for place in places if 0 <= place < known)
        # while rows are being put in and taken out, some are of the version before
        return {place for place in chosen if place is not None and place < len(lines)}

    def _on_hold_triggered(self) -> None:
        self._try(lambda _: self.edits.toggle_held(self._chosen_lines()), self._first_chosen_row())

    def _first_chosen_row(self) -> int:
        lines = self._chosen_lines()
        return next((at for at, row in enumerate(self.model.rows) if row.place in lines), -1)

    def ask_rescale(self) -> None:
        """Asks for the total, and says live what it would do."""
        if self.model.version is not None and self.model.version.lines:
            self._ask(Question(
                tr("Total to rescale to"), tr("rescale to"), self.edits.usual_total(),
                tr("The total that the formula is brought to."), tr("Rescale"), self.edits.tell_rescale, self.edits.rescale,
            ))  # fmt: skip

    def ask_exchange(self) -> None:
        """Asks for the new strength of the current line's material; what stands on the shelf is offered."""
        place = self.grid.currentIndex().row()
        row = self.model.row(place) if 0 <= place < self.model.rowCount() else None
        if row is None or row.place is None or row.line is None or row.line.accord is not None:
            return
        at, stocks = row.place, self.edits.stocks(row.place)
        usual = next((stock.text for stock in stocks if not stock.is_own), "")
        offers = []
        for stock in stocks:
            of = ", ".join((*stock.codes, *((tr("as here"),) if stock.is_own else ())))
            offers.append(Offer("" if stock.is_own else stock.text, f"{stock.text} ({of})"))
        self._ask(Question(
            tr("New strength of {name}", name=row.name), tr("exchange for"), usual,
            tr("The new strength of {name}: neat, 5, 10\u2009% in DPG.", name=row.name), tr("Exchange"),
            lambda text: self.edits.tell_exchange(at, text), lambda text: self.edits.exchange(at, text),
            tr("on the shelf:"), tuple(offers),
        ))  # fmt: skip

    def _ask(self, question: Question) -> None:
        self.show_lines()
        self._asked_of = self.model.version
        self.asked.ask(question)
        # the line that is asked about stays in sight above the question
        self.grid.scrollTo(self.grid.currentIndex())

    def _on_asked_left(self, had_focus: bool) -> None:
        if had_focus and self.stack.currentWidget() is self.body:
            self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_grid_move_asked(self, place: int, by: int) -> None:
        row = self.model.row(place) if 0 <= place < self.model.rowCount() else None
        if row is None or row.place is None:
            return
        wanted = row.place + by
        self._try(lambda row: self.model.move(row.place, by), place)
        for at, other in enumerate(self.model.rows):
            if other.place == wanted and other.line is not None and other.line.material == row.line.material:
                self.grid.go_to(self.model.index(at, self.grid.currentIndex().column()))

    def _on_grid_removal_asked(self, places: list[int]) -> None:
        lines = {self.model.row(place).place for place in places} - {None}
        if lines:
            self._try(lambda _: self.model.remove(lines), places[0])

    def _try(self, do: Any, place: int) -> None:
        """Does something to a row; what forbids it is said below the table."""
        if not 0 <= place < self.model.rowCount() or self.model.row(place).place is None:
            return
        try:
            do(self.model.row(place))
        except Refused as fault:
            self.wrong.setText(wording.sentences(fault.findings))
            self.wrong.show()

    def _on_grid_clicked(self, index: QModelIndex) -> None:
        if self.model.columns[index.column()].key == "fold":
            self.model.toggle(index.row())


class _Empty(QWidget):
    """What belongs here, in a sentence, and the first step."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setProperty("role", "quiet")
        self.new_project = QPushButton(tr("New project"), self)
        self.new_version = QPushButton(tr("New version"), self)
        for button in (self.new_project, self.new_version):
            button.setProperty("role", "primary")
        column, row = QVBoxLayout(self), QHBoxLayout()
        column.setContentsMargins(16, 16, 16, 16)
        column.setSpacing(12)
        row.addWidget(self.new_project)
        row.addWidget(self.new_version)
        row.addStretch(1)
        column.addWidget(self.told)
        column.addLayout(row)
        column.addStretch(1)

    def show_for(self, project: bool) -> None:
        """With a project its first version is missing, without one the project."""
        self.told.setText(
            tr("This project has no version yet. A version is one formula; the first one begins empty.")
            if project
            else tr("A formula belongs to a project: one idea with its brief and its versions. Begin the first one here.")
        )
        self.new_project.setVisible(not project)
        self.new_version.setVisible(project)
