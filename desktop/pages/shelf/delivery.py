# SPDX-License-Identifier: MIT
"""A parcel entered in one table: who it came from once, then a row a bottle, booked together or not at all.

Nothing typed is lost: what the book refuses stays in its row, and a sheet left half done is found again as it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from PySide6.QtCore import QEvent, QModelIndex, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.delivery import DeliveryModel
from desktop.models.delivery_rows import DeliveryRow, typed_day
from desktop.pages.masses import BalanceBox
from desktop.pages.shelf.delivery_grid import DeliveryGrid, is_booking
from desktop.session import Session
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow
from desktop.widgets.labels import label
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Finding, Refused
from perfumery.text import fold

KEYS = tr("Enter: next figure · Tab: next cell · Space: take what is offered · Ctrl+D: as above · Del: remove the bottle")
# The sentences of the current row have their room, so that the table does not jump.
SAID_HEIGHT = 88


@dataclass(frozen=True, slots=True)
class _Supplier:
    """A supplier that is offered."""

    label: str
    hint: str = ""


class DeliverySheet(QWidget):
    """`left` when it was put away (what was typed is kept); `received(keys)` when the bottles stand in the book."""

    left = Signal()
    received = Signal(tuple)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_taken_up = False
        self._link_does: Callable[[], None] = self.begin_anew
        self.setProperty("role", "pane")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.model = DeliveryModel(session, self)
        self.title = label(tr("A delivery"), "title")
        self.kept = label("", "quiet")
        self.link = QPushButton(self)
        self.link.setProperty("role", "link")
        self.link.clicked.connect(lambda: self._link_does())
        self.supplier = TypeAhead(session.theme, self._suppliers, self)
        self.supplier.setProperty("role", "")
        self.day = QLineEdit(self)
        self.balance = BalanceBox(session, self)
        self.supplier_field = Field(tr("supplier"), self.supplier, self, tip=tr("Who it came from, once for the whole parcel"))
        self.day_field = Field(tr("came on"), self.day, self, tip=tr("Today; or as 11 Mar, or 2025-03-11"))
        weighed_on = tr("What the bottles were weighed on: its uncertainty is kept")
        self.balance_field = Field(tr("balance"), self.balance, self, tip=weighed_on)
        self.grid = DeliveryGrid(session.theme, session.settings, self.model, self)
        self.said = label("", wrap=True)
        self.wrong = label("", "wrong", wrap=True)
        self.asked = label("", "amber", wrap=True)
        self.noted = label("", "quiet", wrap=True)
        self.below = QWidget(self)
        self.book_button = QPushButton(tr("Book the delivery"), self)
        self.book_button.setProperty("role", "primary")
        self.book_button.setToolTip("Ctrl+Enter")
        self.book_button.setAutoDefault(True)
        self.leave_button = QPushButton(tr("Leave it"), self)
        self.leave_button.setToolTip(tr("Escape; what was typed is kept here"))
        self.leave_button.setAutoDefault(False)
        self.counted = label("", "quiet", wrap=True)
        self.keys = label(KEYS, "caption", wrap=True)
        self.columns_link = QPushButton(tr("Choose columns…"), self)
        self.columns_link.setProperty("role", "link")
        self.columns_link.clicked.connect(self.grid.choose_columns_action.trigger)
        self.setFocusProxy(self.supplier)
        self._build()
        self._connect()
        self._on_theme_changed()

    def _build(self) -> None:
        top, keys, buttons = QHBoxLayout(), QHBoxLayout(), QHBoxLayout()
        head = FieldRow(self._session.theme, self._widths())
        top.setSpacing(12)
        top.addWidget(self.title)
        top.addStretch(1)
        top.addWidget(self.kept)
        top.addWidget(self.link)
        below = QVBoxLayout(self.below)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(2)
        for part in (self.said, self.wrong, self.asked, self.noted):
            below.addWidget(part)
        below.addStretch(1)
        buttons.setSpacing(10)
        for part in (self.book_button, self.leave_button):
            buttons.addWidget(part)
        buttons.addWidget(self.counted, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.setSpacing(8)
        column.addLayout(top)
        column.addLayout(head)
        column.addWidget(self.grid, 1)
        keys.addWidget(self.keys, 1)
        keys.addWidget(self.columns_link)
        column.addLayout(keys)
        column.addWidget(self.below)
        column.addLayout(buttons)

    def _connect(self) -> None:
        self.supplier.picked.connect(self._on_supplier_picked)
        self.supplier.textChanged.connect(lambda text: self.model.set_supplier(" ".join(text.split())))
        self.supplier.editingFinished.connect(self._settle_supplier)
        self.day.returnPressed.connect(self._go_to_table)
        self.day.editingFinished.connect(self._on_day_edited)
        for field in (self.supplier, self.day, self.balance):
            field.installEventFilter(self)
        self.grid.booking_asked.connect(self.book)
        self.grid.copy_asked.connect(self._on_copy_asked)
        self.grid.toggle_asked.connect(self._on_offer_asked)
        self.grid.paste_asked.connect(self._on_paste_asked)
        self.grid.removal_asked.connect(self._on_removal_asked)
        self.grid.given_up.connect(lambda _: self.left.emit())
        self.grid.finished.connect(lambda: self.book_button.setFocus(Qt.FocusReason.TabFocusReason))
        self.grid.selectionModel().currentChanged.connect(self._say_of_row)
        self.grid.addAction(self.grid.choose_columns_action)
        self.addAction(self.grid.choose_columns_action)
        self.model.judged.connect(self._on_model_judged)
        self.model.judged.connect(self._keep)
        self.book_button.clicked.connect(self.book)
        self.leave_button.clicked.connect(self.left)
        self._session.changed.connect(self._on_session_changed)
        self._session.theme.changed.connect(self._on_theme_changed)

    # coming and going -------------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Shows the sheet: empty with today's date, or as it was left."""
        self._take_up()
        kept = self.model.bottles
        self.balance.refresh(keep=bool(kept))
        if kept:
            told = tr_count(len(kept), "Kept from before: {n} bottle.", "Kept from before: {n} bottles.")
            self._offer(told, tr("Begin anew"), self.begin_anew)
        elif self.supplier.text():
            self._offer(tr("Kept from before: the supplier."), tr("Begin anew"), self.begin_anew)
        else:
            self._begin()
        if not self.day.text():
            self.day.setText(figures.day(self._today))
        if self.supplier.text():
            self._go_to_table()
        else:
            self.supplier.setFocus(Qt.FocusReason.OtherFocusReason)

    @property
    def _kept_as(self) -> str:
        return f"delivery/unbooked {self._session.book.uid}"

    def _keep(self) -> None:
        """What was typed and is not booked yet outlives a program that is cut off."""
        if not self._is_taken_up:
            # the sheet is judged when it comes into sight, still empty: that must not stand in the place of what was kept
            return
        head = {"supplier": self.supplier.text(), "day": self.day.text(), "rows": self.model.kept()}
        self._session.settings.keep(self._kept_as, json.dumps(head) if head["rows"] or head["supplier"] else "")
        self._session.settings.write()

    def _take_up(self) -> None:
        """What was kept of an earlier start, once; from then on the sheet itself holds what was typed."""
        if self._is_taken_up:
            return
        text = self._session.settings.text(self._kept_as)
        try:
            head = json.loads(text) if text else {"rows": []}
            self.model.take_up(head["rows"])
            self.supplier.setText(str(head.get("supplier", "")))
            self.supplier.close_list()
            self.day.setText(str(head.get("day", "")))
        except (ValueError, KeyError, TypeError, AttributeError):
            pass  # not ours: the sheet begins empty
        self._is_taken_up = True

    def begin_anew(self) -> None:
        """Takes the rows typed before away; one link brings them back."""
        supplier, day = self.supplier.text(), self.day.text()
        self._begin()
        self._offer(tr("Begun anew."), tr("Bring the rows back"), lambda: self._bring_back(supplier, day))
        self.supplier.setFocus(Qt.FocusReason.OtherFocusReason)

    def _begin(self) -> None:
        self.model.begin()
        empty(self.supplier)
        self.supplier.close_list()
        self.day.setText(figures.day(self._today))
        self.day_field.say("")
        self._offer()

    def _bring_back(self, supplier: str = "", day: str = "") -> None:
        self.model.bring_back()
        if supplier and not self.supplier.text():
            self.supplier.setText(supplier)
            self.day.setText(day)
        self._offer()
        self._go_to_table()

    def _offer(self, sentence: str = "", link: str = "", does: Callable[[], None] | None = None) -> None:
        """What stands beside the title, with the one thing that can be done about it."""
        self.kept.setText(sentence)
        self.link.setText(link)
        self.link.setVisible(bool(link))
        self._link_does = does or self.begin_anew

    @property
    def _today(self) -> date:
        return self._session.book.now().date()

    def _go_to_table(self) -> None:
        self.grid.begin()

    # the head ---------------------------------------------------------------------------------------------------------

    def _suppliers(self, text: str) -> list[_Supplier]:
        wanted = fold(text)
        known = [name for name in self.model.suppliers() if wanted and fold(name).startswith(wanted)]
        if not wanted or any(fold(name) == wanted for name in known):
            return []
        return [*(_Supplier(name) for name in known), _Supplier(text.strip(), tr("as written"))]

    def _on_supplier_picked(self, chosen: _Supplier | None) -> None:
        if chosen is not None:
            self.supplier.setText(chosen.label)
        self._settle_supplier()
        self._go_to_table()

    def _settle_supplier(self) -> None:
        """One who is known is written as before: 'supplier a' is Supplier A."""
        wanted = fold(self.supplier.text())
        known = next((name for name in self.model.suppliers() if fold(name) == wanted), "")
        if known:
            self.supplier.setText(known)
        self.supplier.close_list()

    def _on_day_edited(self) -> None:
        self._read_day()
        self._keep()

    def _read_day(self) -> date | None:
        """The day of the delivery; None where it cannot be, which is then said beside it."""
        try:
            day = typed_day(self.day.text(), self._today)
        except Refused as fault:
            self.day_field.say(wording.sentences(fault.findings))
            return None
        if day > self._today:
            self.day_field.say(tr("{day} has not come yet.", day=figures.day(day)))
            return None
        self.day_field.say("")
        return day

    # the rows ---------------------------------------------------------------------------------------------------------

    @property
    def _row(self) -> DeliveryRow | None:
        place = self.grid.currentIndex().row()
        return self.model.row(place) if 0 <= place < self.model.rowCount() else None

    def _on_copy_asked(self, index: QModelIndex) -> None:
        if self.model.copy_above(index.row(), self.model.columns[index.column()].key):
            self.grid.step(1)

    def _on_offer_asked(self, place: int) -> None:
        if self.model.take_offer(place, self.model.columns[self.grid.currentIndex().column()].key):
            self.grid.go_on()

    def _on_paste_asked(self, text: str) -> None:
        """Rows of a sheet go in from the current cell on; what is not sure in them is asked for row by row."""
        index = self.grid.currentIndex()
        if not text.strip() or not index.isValid():
            return
        shown = [key for key in self.grid.shown_columns() if key != "told"]
        key = self.model.columns[index.column()].key
        taken = self.model.paste(index.row(), shown[shown.index(key) :] if key in shown else shown, text)
        if taken > 1:
            self._offer(tr_count(taken, "{n} row pasted.", "{n} rows pasted."))

    def _on_removal_asked(self, places: list[int]) -> None:
        first = min(places)
        gone = self.model.remove(places)
        if gone:
            told = tr_count(gone, "{n} bottle removed.", "{n} bottles removed.")
            self._offer(told, tr("Put back"), self._bring_back)
            place = min(first, self.model.rowCount() - 1)
            self.grid.go_to(self.model.index(place, self.model.place_of("material")))

    def _on_model_judged(self) -> None:
        if any(cell == "density" for row in self.model.bottles for cell, _ in row.asks):
            self.grid.show_density()
        self._say_of_row()

    def _count(self, row: DeliveryRow | None) -> None:
        """How many can be booked, and what one in another row waits for."""
        rows = self.model.bottles
        waiting = [one for one in rows if not one.is_ready]
        said = tr_count(len(rows), "{n} bottle", "{n} bottles") if rows else ""
        if waiting:
            codes = figures.listed([one.code for one in waiting])
            said = tr_count(
                len(waiting), "{ready} of {bottles} can be booked; {codes} waits.",
                "{ready} of {bottles} can be booked; {codes} wait.",
                ready=len(rows) - len(waiting), bottles=said, codes=codes,
            )  # fmt: skip
        if len(waiting) == 1 and waiting[0] != row:
            said = f"{said} {waiting[0].waits_for}"
        self.counted.setText(said)

    def _say_of_row(self, *_: object) -> None:
        """All of what the row under the cursor was understood as: the cell beside it is too narrow for a sentence."""
        row = self._row
        blank = row is None or row.is_blank
        self._say(self.said, "" if blank or row is None else f"{row.code}: {row.told(self._session.book.currency)}")
        self._say(self.wrong, "" if blank or row is None else " ".join(sentence for _, sentence in row.problems))
        self._say(self.asked, "" if blank or row is None else " ".join(sentence for _, sentence in row.asks))
        self._count(row)
        self._say(self.noted, "" if blank or row is None else "\n".join(self._notes(row)))

    def _notes(self, row: DeliveryRow) -> list[str]:
        notes = []
        offers = [self._offered(row, cell) for cell in row.offers]
        if offers:
            notes.append(tr("Offered: {offers}. Space in the cell takes it.", offers=figures.listed(offers)))
        if row.others:
            notes.append(tr_count(
                len(row.others), "{name}: another lot stands as {codes}; smell both side by side.",
                "{name}: other lots stand as {codes}; smell them side by side.",
                name=row.name, codes=figures.listed(row.others),
            ))  # fmt: skip
        return [*notes, *row.cautions]

    def _offered(self, row: DeliveryRow, cell: str) -> str:
        offer, currency = row.offers[cell], self._session.book.currency
        if cell == "price":
            return tr("{price} for the bottle, as last time", price=figures.unit(offer, figures.SYMBOLS.get(currency, currency)))
        return tr("order no. {number}", number=offer)

    @staticmethod
    def _say(part: QLabel, text: str) -> None:
        part.setText(text)
        part.setVisible(bool(text))

    # booking ----------------------------------------------------------------------------------------------------------

    def book(self) -> None:
        """Puts the whole delivery, or goes to the first row that has to be mended and says why there."""
        day = self._read_day()
        rows = self.model.bottles
        if day is None:
            self.day.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        if not rows:
            self._go_to_table()
            self._say(self.wrong, tr("Nothing is typed yet: one row for each bottle."))
            return
        waiting = next((place for place, row in enumerate(self.model.rows) if not row.is_blank and not row.is_ready), None)
        if waiting is not None:
            self._go_to_wrong(waiting, self.model.row(waiting).wants)
            return
        try:
            put = self.model.receive(day, self.balance.balance)
        except Refused as fault:
            self._say_refused(fault.findings)
            return
        if put:
            self._begin()
            self._session.said.emit(_report(rows), "done")
            self.received.emit(tuple(bottle.key for bottle in put))

    def _go_to_wrong(self, place: int, cell: str) -> None:
        if cell not in self.grid.shown_columns():
            cell = "material"
        self.grid.go_to(self.model.index(place, self.model.place_of(cell)))
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        self._say_of_row()

    def _say_refused(self, findings: tuple[Finding, ...]) -> None:
        """What the book itself refused, in the row whose code it names."""
        named = {str(finding.data.get("code", "")) for finding in findings}
        place = next((place for place, row in enumerate(self.model.rows) if not row.is_blank and row.code in named), 0)
        self._go_to_wrong(place, "code")
        self._say(self.wrong, wording.sentences(findings))

    # keys and the rest ------------------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if is_booking(event) and event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        if is_booking(event) and event.type() == QEvent.Type.KeyPress:
            self.book()
            return True
        if event.type() == QEvent.Type.KeyPress and watched is self.supplier and isinstance(event, QKeyEvent):
            if event.key() == Qt.Key.Key_Tab and self.supplier.chosen is not None:
                self.supplier.setText(self.supplier.chosen.label)
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if is_booking(event):
            self.book()
        elif event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.model.refresh()

    def _on_session_changed(self, change: Any) -> None:
        self.model.forget(change)
        if self.isVisible():
            self.model.refresh()

    def _widths(self) -> tuple[tuple[Field, int], ...]:
        return (self.supplier_field, 260), (self.day_field, 170), (self.balance_field, 260)

    def _on_theme_changed(self) -> None:
        theme = self._session.theme
        for field, width in self._widths():
            field.setFixedWidth(theme.px(width))
        self.below.setMinimumHeight(theme.px(SAID_HEIGHT))


def _report(rows: tuple[DeliveryRow, ...]) -> str:
    """What was booked, and which lots to smell side by side."""
    codes = [row.code for row in rows]
    pairs = [tr("{code} with {others}", code=row.code, others=figures.listed(row.others)) for row in rows if row.others]
    booked = tr_count(len(rows), "{n} bottle booked: {codes}.", "{n} bottles booked: {codes}.", codes=figures.listed(codes, 8))
    return " ".join((booked, tr("Smell side by side: {pairs}.", pairs="; ".join(pairs)))) if pairs else booked
