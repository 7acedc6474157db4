# SPDX-License-Identifier: MIT
"""The left of the shelf: what is sought, which kind, what has to be known, and the bottles that are left."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QEvent, QModelIndex, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from desktop.language import tr, tr_count
from desktop.led import Led
from desktop.models.bottles import FILTERS, KINDS, NO_BOTTLE, STATES, BottlesModel, ShelfRow, ShelfRows, counts, sought
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.grid import Grid
from desktop.widgets.labels import clearable
from perfumery.text import fold

READING = tr("Still being read.")
# What is said where no bottle is of a kind yet.
NOTHING = {
    "all": tr("Bottles stand here: what you bought, diluted and made, with what is left in each. Begin with a delivery."),
    "as bought": tr("What you buy stands here. Begin with a delivery."),
    "dilutions": tr("Dilutions stand here. Choose a material and make one (Ctrl+D)."),
    "accords": tr("Accords made up into a bottle stand here."),
    "trial vials": tr("Vials of trials stand here, made from a formula on the Bench."),
    NO_BOTTLE: tr("There is no material yet."),
}


class BottleList(QWidget):
    """`chosen()` when another row became the current one; `was_read()` when the rows are as the book has them; `taken()` for
    Enter on one; `delivery_asked`, `prepare_asked` from the head."""

    chosen = Signal()
    was_read = Signal()
    taken = Signal()
    delivery_asked = Signal()
    prepare_asked = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._led = Led(session)
        self._made = ShelfRows(session.book)
        self._rows: tuple[ShelfRow, ...] = ()
        self._kind = ""
        self._said: tuple[int | None, int | None] | None = None
        self.model = BottlesModel(self)
        self.title = QLabel(tr("Shelf"), self)
        self.title.setProperty("role", "title")
        self.told = QLabel(self)
        self.told.setProperty("role", "caption")
        self.prepare = QPushButton(tr("To prepare"), self)
        self.prepare.setProperty("role", "link")
        self.prepare.setToolTip(tr("Dilutions that open drafts ask for and no bottle holds"))
        self.delivery = QPushButton(tr("Enter a delivery…"), self)
        self.delivery.setProperty("role", "primary")
        self.search = QLineEdit(self)
        self.search.setPlaceholderText(tr("Find a bottle"))
        self.search.setAccessibleName(tr("Find a bottle"))
        self.search.setToolTip(tr("Name, code, lot, supplier, place, form or smell word; “≥ 5 g” asks for what is left"))
        clearable(self.search)
        self.kinds = Chips(FILTERS, tr("kind"), self)
        self.states = Chips(STATES, tr("to know"), self, optional=True)
        self.grid = Grid(session.theme, session.settings, "bottles", "state", self, roomy={"what": 260, "strength": 170})
        self.grid.setAccessibleName(tr("Bottles"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.nothing = QLabel(self)
        self.nothing.setProperty("role", "quiet")
        self.nothing.setWordWrap(True)
        self.nothing.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.nothing.setContentsMargins(16, 16, 16, 16)
        self.stack = QStackedWidget(self)
        self.stack.setContentsMargins(11, 0, 0, 0)  # the first column below the title
        self.stack.addWidget(self.grid)
        self.stack.addWidget(self.nothing)
        self.setFocusProxy(self.grid)
        self._build()
        self.restyle()
        session.theme.changed.connect(self.restyle)
        self.search.textChanged.connect(self._show)
        self.search.installEventFilter(self)
        self.kinds.chosen.connect(lambda _: self.refresh())
        self.states.chosen.connect(lambda _: self._show())
        self.grid.selectionModel().currentChanged.connect(self._on_current_changed)
        self.grid.entered.connect(lambda _: self.taken.emit())
        self.grid.doubleClicked.connect(lambda _: self.taken.emit())
        self.grid.typed.connect(self._on_grid_typed)
        self.delivery.clicked.connect(self.delivery_asked)
        self.prepare.clicked.connect(self.prepare_asked)

    def _build(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.title)
        head.addWidget(self.search, 1)
        head.addWidget(self.delivery)
        # how many there are, and what is to be prepared, beside the filters: the head has no room for them in large text
        first, second = QHBoxLayout(), QHBoxLayout()
        for line, chips, beside in ((first, self.kinds, self.told), (second, self.states, self.prepare)):
            line.setSpacing(8)
            line.addWidget(chips)
            line.addStretch(1)
            line.addWidget(beside)
        top = QVBoxLayout()
        top.setContentsMargins(16, 10, 12, 6)
        top.setSpacing(6)
        for line in (head, first, second):
            top.addLayout(line)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(top)
        column.addWidget(self.stack, 1)

    def restyle(self) -> None:
        """Takes sizes from the theme anew: the search stays wide enough for what it says it is."""
        px = self._session.theme.px
        self.search.setMinimumWidth(self.search.fontMetrics().horizontalAdvance(self.search.placeholderText()) + px(28))
        self.setMinimumWidth(px(400))

    @property
    def row(self) -> ShelfRow | None:
        """The row that is chosen."""
        place = self.grid.currentIndex().row()
        return self.model.row(place) if 0 <= place < self.model.rowCount() else None

    def refresh(self) -> None:
        """Reads the rows of the chosen kind anew."""
        self._led.lead(self._reading(), self._show_read)
        if self._led.is_going:
            self._show()

    def _show_read(self) -> None:
        self._show()
        self.was_read.emit()

    def _reading(self) -> Iterator[None]:
        book = self._session.book
        kind = self.kinds.name
        yield from self._made.reading(book.now().date(), kind)
        self._rows, self._kind = self._made.rows, kind
        waiting = len(book.bottles.preparations())
        self.prepare.setText(tr("To prepare: {waiting}", waiting=waiting) if waiting else tr("To prepare"))
        yield

    def choose(self, key: int) -> None:
        """Shows a bottle, whatever is being sought or filtered."""
        self._led.finish()
        if self.model.place_of_bottle(key) < 0:
            self.states.choose("")
            self.search.clear()
            row = self._session.book.bottles.row(key)
            kind = "all" if row is None or row.bottle.kind in KINDS["all"] else "trial vials"
            if row is not None and row.bottle.gone_on is not None:
                self.search.setText(row.bottle.code)
            self.kinds.choose(kind)
            self.refresh()
            self._led.finish()
        self._go_to(self.model.place_of_bottle(key))

    def show_state(self, state: str) -> None:
        """Only the bottles of which this has to be known."""
        self.search.clear()
        self.kinds.choose("all")
        self.states.choose(state)
        self.refresh()
        self._led.finish()
        self._go_to(0)

    def _show(self, *_: object) -> None:
        if self._kind != self.kinds.name:
            # those of another kind say nothing of this one
            self.model.show_rows(())
            self.told.setText(READING)
            self.stack.setCurrentWidget(self.grid)
            return
        current = self.row
        found = sought(self._rows, self.search.text())
        self.states.count(counts(found))
        wanted = self.states.name
        if wanted:
            found = [row for row in found if any(state.of == wanted for state in row.states)]
        self.model.show_rows(found)
        if self.kinds.name == NO_BOTTLE:
            self.told.setText(tr_count(len(found), "{n} material", "{n} materials"))
        else:
            self.told.setText(tr_count(len(found), "{n} bottle", "{n} bottles"))
        self.nothing.setText("" if found else self._why_nothing())
        self.stack.setCurrentWidget(self.grid if found else self.nothing)
        place = -1 if current is None else self._place_of(current)
        if found and (place >= 0 or self.row is None):
            self._go_to(max(place, 0))
        self._say_chosen()

    def _say_chosen(self) -> None:
        """Tells of another row than before, not of the same one shown anew."""
        row = self.row
        same = None if row is None else self.model.identity(row)
        if same != self._said:
            self._said = same
            self.chosen.emit()

    def _place_of(self, row: ShelfRow) -> int:
        same = self.model.identity(row)
        return next((place for place, other in enumerate(self.model.rows) if self.model.identity(other) == same), -1)

    def _why_nothing(self) -> str:
        if self.search.text().strip() or self.states.name:
            return tr("No bottle is like this. Take a word or a filter away.")
        if self.kinds.name == NO_BOTTLE and self._session.book.material_rows():
            return tr("Every material has a bottle.")
        return NOTHING[self.kinds.name]

    def _go_to(self, place: int) -> None:
        if 0 <= place < self.model.rowCount():
            at = max(self.grid.currentIndex().column(), 0)
            self.grid.go_to(self.model.index(place, at))
            self.grid.scrollTo(self.model.index(place, at))

    def _go_to_code(self, text: str) -> None:
        """A code that was typed whole is meant, whatever else holds its letters."""
        wanted = fold(text)
        codes = (fold("" if row.bottle is None else row.bottle.bottle.code) for row in self.model.rows)
        self._go_to(next((place for place, code in enumerate(codes) if code == wanted), -1))

    def find(self) -> None:
        """The cursor into the search, over everything that stands on the shelf."""
        if self.kinds.name != "all" or self.states.name:
            self.kinds.choose("all")
            self.states.choose("")
            self.refresh()
        self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.search.selectAll()

    def _on_current_changed(self, current: QModelIndex, before: QModelIndex) -> None:
        if current.row() != before.row():
            self._say_chosen()

    def _on_grid_typed(self, place: int, text: str) -> None:
        self.search.setFocus(Qt.FocusReason.OtherFocusReason)
        self.search.insert(text)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """From the search field down into the list, Enter to what is found, Escape empties it."""
        if watched is self.search and event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            if event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Return, Qt.Key.Key_Enter):
                if event.key() != Qt.Key.Key_Down:
                    self._go_to_code(self.search.text())
                self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
                return True
            if event.key() == Qt.Key.Key_Escape and self.search.text():
                self.search.clear()
                return True
        return super().eventFilter(watched, event)
