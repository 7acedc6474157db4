# SPDX-License-Identifier: MIT
"""The Shelf: every bottle at the left, the card of the chosen one or what is done with it at the right."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QSplitter, QStackedWidget, QVBoxLayout, QWidget

from db import Change
from desktop.language import tr
from desktop.pages.shelf.acts import CorrectMassSheet, CorrectMoveSheet, DrawSheet, ReweighSheet
from desktop.pages.shelf.bottle_form import BottleForm
from desktop.pages.shelf.bottle_list import BottleList
from desktop.pages.shelf.bottle_text import move_text
from desktop.pages.shelf.card import BottleCard
from desktop.pages.shelf.habits import HabitsSheet
from desktop.pages.shelf.prepare import PrepareSheet
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from perfumery import Bottle, Contents, Habit, Material, Move, Note, Version
from perfumery.preparing import Preparation

if TYPE_CHECKING:
    from desktop.pages.shelf.delivery import DeliverySheet
    from desktop.pages.shelf.mix import MixSheet

_SHOWN = (Bottle, Contents, Habit, Material, Move, Note, Version)
SIDE_WIDTHS = (420, 560)
_NARROW, _WIDE = 1216, 1832
CARD_PAUSE_MS = 60


class ShelfPage(QWidget):
    """The page. Sheets stand in the place of the card; a delivery takes the whole width. `weighing_asked(making)` where a mixture
    is to be weighed line by line."""

    name = "shelf"
    weighing_asked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._stale = True
        # each part is made where it stands: one that is moved there later is styled twice
        self.whole = QStackedWidget(self)
        self.split = QSplitter(Qt.Orientation.Horizontal, self.whole)
        self.list = BottleList(session, self.split)
        self.side = QStackedWidget(self.split)
        self.card = BottleCard(session, self.side)
        self.form = BottleForm(session, self.side)
        self.reweigh = ReweighSheet(session, self.side)
        self.draw = DrawSheet(session, self.side)
        self.set_right = CorrectMassSheet(session, self.side)
        self.correct = CorrectMoveSheet(session, self.side)
        self.prepare = PrepareSheet(session, self.side)
        self.habits = HabitsSheet(session, self.side)
        self._sheets = (self.form, self.reweigh, self.draw, self.set_right, self.correct, self.prepare, self.habits)
        for part in (self.card, *self._sheets):
            self.side.addWidget(part)
        self.split.setChildrenCollapsible(False)
        self.split.setHandleWidth(1)
        for pane in (self.list, self.side):
            pane.setProperty("role", "pane")
            pane.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
            self.split.addWidget(pane)
        self.split.setStretchFactor(0, 1)
        self.split.setStretchFactor(1, 0)
        self.split.splitterMoved.connect(self._on_splitter_moved)
        self.whole.addWidget(self.split)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.whole)
        self._pause = QTimer(self, singleShot=True, interval=CARD_PAUSE_MS)
        self._pause.timeout.connect(self._show_card)
        self._build_actions()
        self._connect()

    @cached_property
    def mix(self) -> MixSheet:
        """The sheet on which liquids are brought together, made when it is first needed."""
        from desktop.pages.shelf.mix import MixSheet

        sheet = MixSheet(self._session)
        sheet.left.connect(self._on_sheet_left)
        sheet.made.connect(self._on_mix_made)
        sheet.weighing_begun.connect(self._on_mix_weighing_begun)
        self.side.addWidget(sheet)
        return sheet

    @cached_property
    def delivery(self) -> DeliverySheet:
        """The table of a delivery, made when it is first needed."""
        from desktop.pages.shelf.delivery import DeliverySheet

        sheet = DeliverySheet(self._session)
        sheet.left.connect(self._on_delivery_left)
        sheet.received.connect(self._on_delivery_received)
        sheet.setProperty("role", "pane")
        sheet.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.whole.addWidget(sheet)
        return sheet

    def _build_actions(self) -> None:
        rows: tuple[tuple[str, str, str, Any], ...] = (
            ("find", tr("Find a bottle"), "Ctrl+F", self.find),
            ("delivery", tr("Enter a delivery…"), "Ctrl+Shift+D", self.enter_delivery),
            ("dilute", tr("Make a dilution…"), "Ctrl+D", self.make_dilution),
            ("accord", tr("Make up an accord…"), "", self.make_accord),
            ("prepare", tr("To prepare"), "Ctrl+P", self.show_preparations),
            ("reweigh", tr("Weigh the bottle again…"), "Ctrl+W", lambda: self._do("reweigh")),
            ("draw", tr("Draw from the bottle…"), "Ctrl+Shift+W", lambda: self._do("draw")),
            ("relabel", tr("Label it with its new strength"), "Ctrl+L", self.card.relabel),
            ("top_up", tr("Top up what evaporated…"), "", lambda: self._do("top up")),
            ("change", tr("Strengthen or weaken…"), "", lambda: self._do("change")),
            ("edit", tr("Edit the bottle"), "Ctrl+Return", lambda: self._do("edit")),
            ("good", tr("Smelled, still good"), "Ctrl+G", self.card.still_good),
            ("cap", tr("Dropper cap changed today"), "", self.card.cap_changed),
            ("set_right", tr("Set the book right…"), "", lambda: self._do("set right")),
            ("discard", tr("Throw the bottle away…"), "", self._ask_discard),
            ("habits", tr("Habits of this bench…"), "", self.show_habits),
        )
        self.commands: dict[str, QAction] = {}
        for key, text, keys, handler in rows:
            action = QAction(text, self)
            action.setObjectName(f"shelf_{key}")
            if keys:
                action.setShortcut(QKeySequence(keys))
            if key == "edit":
                action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.triggered.connect(lambda _=False, handler=handler: self._run(handler))
            self.commands[key] = action
            # not on the page itself: the table of a delivery has keys of its own
            (self.list if key == "edit" else self.split).addAction(action)

    def _run(self, handler: Any) -> None:
        """A command is of the bottle that is chosen now, even while the card still waits for a pause."""
        if self._pause.isActive():
            self._show_card()
        handler()

    def _connect(self) -> None:
        self.list.chosen.connect(self._on_list_chosen)
        self.list.was_read.connect(self._show_card)
        self.list.taken.connect(lambda: self._do("edit"))
        self.list.delivery_asked.connect(self.enter_delivery)
        self.list.prepare_asked.connect(self.show_preparations)
        self.card.asked.connect(self._do)
        self.card.move_picked.connect(self._on_card_move_picked)
        self.card.bottle_picked.connect(self.choose)
        for sheet in self._sheets:
            sheet.left.connect(self._on_sheet_left)
        self.prepare.wanted.connect(self._on_preparation_wanted)
        self._session.changed.connect(self._on_session_changed)
        self._session.theme.changed.connect(self._refresh_or_note)

    # what the window asks ---------------------------------------------------------------------------------------------

    def menus(self) -> tuple[tuple[str, tuple[QAction, ...]], ...]:
        """(title, actions) of this page's menu."""
        return ((tr("Shelf"), tuple(self.commands.values())),)

    def take_focus(self) -> None:
        """The focus to the list."""
        if self.whole.currentWidget() is self.split:
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def go_to(self, value: Any) -> None:
        """Shows a bottle, or the bottles of a material."""
        if isinstance(value, Bottle) and value.key is not None:
            self.choose(value.key)
        elif isinstance(value, Material):
            self.list.search.setText(value.short)

    def choose(self, key: int) -> None:
        """Shows one bottle."""
        self._show_list()
        if self._stale:
            self.refresh()
        self.list.choose(key)
        self._show_card()
        self.side.setCurrentWidget(self.card)

    def show_state(self, state: str) -> None:
        """Only the bottles of which this has to be known."""
        self._show_list()
        self.list.show_state(state)
        self.side.setCurrentWidget(self.card)
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads everything shown anew."""
        self._stale = False
        self.list.refresh()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._share_out()
        if self._stale:
            self.refresh()

    def _refresh_or_note(self, *_: object) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._stale = True

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(*_SHOWN):
            self._refresh_or_note()

    def _on_list_chosen(self) -> None:
        # while the arrow key is held only the list follows; the card waits for a pause
        self._pause.start()
        sheet = self.side.currentWidget()
        if sheet in self._sheets and not (isinstance(sheet, Sheet) and sheet.is_begun):
            self.side.setCurrentWidget(self.card)

    def _show_card(self) -> None:
        self._pause.stop()
        row = self.list.row
        self.card.show_bottle(None if row is None else row.key)
        chosen = row is not None and row.bottle is not None and not row.is_gone
        self.commands["edit"].setEnabled(row is not None and row.bottle is not None)
        for key in ("reweigh", "draw", "change", "good", "cap", "set_right", "discard"):
            self.commands[key].setEnabled(chosen)
        for key in ("relabel", "top_up"):
            self.commands[key].setEnabled(self.card.can_settle)

    def _show_list(self) -> None:
        self.whole.setCurrentWidget(self.split)

    def resizeEvent(self, event: Any) -> None:
        super().resizeEvent(event)
        self._share_out()

    def _share_out(self) -> None:
        kept = self._session.settings.widths("shelf").get("side")
        along = min(max((self.width() - _NARROW) / (_WIDE - _NARROW), 0.0), 1.0)
        scale = self._session.theme.scale
        side = kept or round(scale * (SIDE_WIDTHS[0] + (SIDE_WIDTHS[1] - SIDE_WIDTHS[0]) * along))
        self.split.setSizes([max(self.width() - side - 1, 1), side])

    def _on_splitter_moved(self, position: int, handle: int) -> None:
        self._session.settings.keep_widths("shelf", {"side": self.split.sizes()[1]})

    # what is done -----------------------------------------------------------------------------------------------------

    def find(self) -> None:
        """The cursor into the search field."""
        self._show_list()
        self.list.find()

    def enter_delivery(self) -> None:
        """The table of a delivery, over the whole width."""
        self.whole.setCurrentWidget(self.delivery)
        self.delivery.start()

    def make_dilution(self) -> None:
        """A dilution of the chosen bottle, of the chosen material, or of one still to be named."""
        row = self.list.row
        bottle = None if row is None or row.bottle is None else row.bottle.bottle
        if bottle is not None and bottle.material is not None and bottle.gone_on is None:
            self._mix(lambda: self.mix.start_dilution(material=bottle.material, source=bottle.key))
        elif bottle is not None and bottle.kind == "trial" and bottle.key is not None:
            self._mix(lambda: self.mix.start_smelling(bottle.key))
        else:
            self._mix(lambda: self.mix.start_dilution(material=None if row is None else row.material))

    def _mix(self, begin: Callable[[], bool | None]) -> None:
        """Brings the mixing sheet up; where it could not begin, which was said, what stood there comes back."""
        before = self.side.currentWidget()
        self._open(self.mix)
        if begin() is False:
            self.side.setCurrentWidget(before)

    def make_accord(self) -> None:
        """An accord made up into a bottle: that of the chosen bottle, else the chosen version."""
        row = self.list.row
        bottle = None if row is None or row.bottle is None else row.bottle.bottle
        version = self._session.version_key if bottle is None or bottle.kind != "accord" else bottle.version
        self._mix(lambda: self.mix.start_accord(version))

    def make_smelling(self, vial: int) -> None:
        """A smelling dilution of a trial vial."""
        self._mix(lambda: self.mix.start_smelling(vial))

    def show_preparations(self) -> None:
        """What open drafts ask for and no bottle holds."""
        self._open(self.prepare)
        self.prepare.start()

    def show_habits(self) -> None:
        """The figures this bench works with."""
        self._open(self.habits)
        self.habits.start()

    def _do(self, verb: str) -> None:
        row = self.card.row
        if verb in ("dilute", "accord"):
            (self.make_dilution if verb == "dilute" else self.make_accord)()
            return
        if row is None:
            return
        sheets = {"edit": self.form, "reweigh": self.reweigh, "draw": self.draw, "set right": self.set_right}
        if verb in sheets:
            sheet: Any = sheets[verb]
            self._open(sheet)
            sheet.start(row)
        elif verb == "change":
            self._mix(lambda: self.mix.start_change(row.key))
        elif verb == "top up":
            self._mix(lambda: self.mix.start_top_up(row.key, settle=True))

    def _ask_discard(self) -> None:
        self._show_list()
        self.side.setCurrentWidget(self.card)
        self.card.buttons["discard"].click()

    def _open(self, sheet: QWidget) -> None:
        self._show_list()
        self._pause.stop()
        self._show_card()
        self.side.setCurrentWidget(sheet)

    def _on_card_move_picked(self, key: int) -> None:
        row, move = self.card.row, self._session.book.get(Move, key)
        if row is None or move is None:
            return
        book, now = self._session.book, self._session.book.now()

        def code(bottle: int | None) -> str:
            other = None if bottle is None else book.get(Bottle, bottle)
            return "" if other is None else other.code

        self._open(self.correct)
        self.correct.start(move, move_text(move, row.key, code, now))

    def _on_preparation_wanted(self, wanted: Preparation) -> None:
        self._mix(lambda: self.mix.start_dilution(material=wanted.material, strength=wanted.strength, carrier=wanted.carrier))

    def _on_sheet_left(self) -> None:
        self.side.setCurrentWidget(self.card)
        self._show_card()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_mix_made(self, key: int) -> None:
        self.choose(key)
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_mix_weighing_begun(self, making: int) -> None:
        self._on_sheet_left()
        self.weighing_asked.emit(making)

    def _on_delivery_left(self) -> None:
        self._show_list()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_delivery_received(self, keys: tuple[int, ...]) -> None:
        self._show_list()
        if keys:
            self.choose(keys[0])
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)
