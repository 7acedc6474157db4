# SPDX-License-Identifier: MIT
"""Weigh: what stands before the first drop, the balance line by line, pours that the nose leads, and what became of them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from db import Change
from desktop.language import tr
from desktop.models.pouring import is_free
from desktop.pages.weigh.done import DoneSheet
from desktop.pages.weigh.scale import ScaleView
from desktop.pages.weigh.start import StartSheet
from desktop.session import Session
from perfumery import Balance, Bottle, Contents, Making, Material, Move, Project, Version

if TYPE_CHECKING:
    from desktop.pages.weigh.balances import BalancesSheet
    from desktop.pages.weigh.free_pour import FreePour
    from desktop.pages.weigh.typed_in import TypedInSheet

_SHOWN = (Balance, Bottle, Contents, Making, Material, Move, Project, Version)


class WeighPage(QWidget):
    """The page. `smelling_asked(vial)` where a trial is to be thinned; `shelf_asked(bottle)` to see it among the others."""

    smelling_asked = Signal(int)
    shelf_asked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._stale = True
        self.begin = StartSheet(session)
        self.scale = ScaleView(session)
        self.done = DoneSheet(session)
        self.stack = QStackedWidget(self)
        for part in (self.begin, self.scale, self.done):
            self._add(part)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.stack)
        rows: tuple[tuple[str, str, str, Any], ...] = (
            ("begin", tr("Begin weighing"), "", self.begin.confirm),
            ("later", tr("This line later"), "", self.scale.put_later),
            ("pour", tr("Pour freely"), "Ctrl+Shift+P", self.show_pour),
            ("typed", tr("Type in a sheet from paper…"), "", self.show_typed),
            ("balances", tr("Balances…"), "Ctrl+B", self.show_balances),
        )
        self.commands: dict[str, QAction] = {}
        for key, text, keys, handler in rows:
            action = QAction(text, self)
            action.setObjectName(f"weigh_{key}")
            if keys:
                action.setShortcut(QKeySequence(keys))
            action.triggered.connect(lambda _=False, handler=handler: handler())
            self.commands[key] = action
            self.addAction(action)
        self.begin.begun.connect(self.weigh)
        self.begin.taken_up.connect(self.weigh)
        self.begin.balances_asked.connect(self.show_balances)
        self.begin.typed_asked.connect(self.show_typed)
        self.begin.pour_asked.connect(self.show_pour)
        self.scale.left.connect(self.show_begin)
        self.scale.finished.connect(self._on_scale_finished)
        self.done.left.connect(self.show_begin)
        self.done.smelling_asked.connect(self.smelling_asked)
        self.done.shelf_asked.connect(self.shelf_asked)
        self.done.added_to.connect(self.weigh)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._refresh_or_note)
        session.theme.changed.connect(self._refresh_or_note)

    def _add(self, part: QWidget) -> None:
        part.setProperty("role", "pane")
        part.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.stack.addWidget(part)

    @cached_property
    def balances(self) -> BalancesSheet:
        """The balances, made when they are first asked for."""
        from desktop.pages.weigh.balances import BalancesSheet

        sheet = BalancesSheet(self._session)
        sheet.left.connect(self.show_begin)
        self._add(sheet)
        return sheet

    @cached_property
    def typed(self) -> TypedInSheet:
        """A sheet typed in from paper, made when it is first asked for."""
        from desktop.pages.weigh.typed_in import TypedInSheet

        sheet = TypedInSheet(self._session)
        sheet.left.connect(self.show_begin)
        sheet.finished.connect(self._on_scale_finished)
        self._add(sheet)
        return sheet

    @cached_property
    def pour(self) -> FreePour:
        """A pour that the nose leads, made when it is first asked for."""
        from desktop.pages.weigh.free_pour import FreePour

        view = FreePour(self._session)
        view.left.connect(self.show_begin)
        view.finished.connect(self._on_scale_finished)
        self._add(view)
        return view

    # what the window asks ---------------------------------------------------------------------------------------------

    def menus(self) -> tuple[tuple[str, tuple[QAction, ...]], ...]:
        """(title, actions) of this page's menu."""
        return ((tr("Weigh"), tuple(self.commands.values())),)

    def take_focus(self) -> None:
        """The focus to where a figure is typed."""
        if self.stack.currentWidget() is self.scale:
            self.scale.figure.setFocus(Qt.FocusReason.OtherFocusReason)
        elif self.stack.currentWidget() is self.begin:
            self.begin.amount.setFocus(Qt.FocusReason.OtherFocusReason)
        elif self.stack.currentWidget() in (self.__dict__.get("balances"), self.__dict__.get("pour")):
            shown: Any = self.stack.currentWidget()
            shown.take_focus()

    def go_to(self, value: Any) -> None:
        """Takes an unfinished weighing up; shows a balance."""
        if isinstance(value, Balance) and value.key is not None:
            self.stack.setCurrentWidget(self.balances)
            self.balances.start(value.key)
        making = value if isinstance(value, Making) else None
        if making is not None and making.key is not None and making.finished_at is None:
            self.weigh(making.key)

    # showing ----------------------------------------------------------------------------------------------------------

    def weigh(self, making: int) -> None:
        """Takes a weighing up."""
        found = self._session.book.get(Making, making)
        if found is not None and is_free(found):
            self.stack.setCurrentWidget(self.pour)
            self.pour.start(making)
            return
        self.stack.setCurrentWidget(self.scale)
        self.scale.start(making)

    def show_begin(self) -> None:
        """What stands before the first drop."""
        self.stack.setCurrentWidget(self.begin)
        self.begin.refresh()
        self.take_focus()

    def begin_with(self, amount_g: float, bottles: Mapping[int, int]) -> None:
        """What stands before the first drop, for an amount and from bottles that were chosen elsewhere."""
        self.show_begin()
        self.begin.begin_with(amount_g, bottles)

    def show_pour(self) -> None:
        """A pour that the nose leads."""
        self.stack.setCurrentWidget(self.pour)
        self.pour.start()

    def show_balances(self) -> None:
        """Balances, their repeatability and checks."""
        self.stack.setCurrentWidget(self.balances)
        self.balances.start()

    def show_typed(self) -> None:
        """A sheet that was weighed on paper."""
        self.stack.setCurrentWidget(self.typed)
        self.typed.start()

    def refresh(self) -> None:
        """Reads what is shown anew."""
        self._stale = False
        if self.stack.currentWidget() is self.begin:
            self.begin.refresh()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
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

    def _on_scale_finished(self, vial: int) -> None:
        self.stack.setCurrentWidget(self.done)
        self.done.start(vial)
