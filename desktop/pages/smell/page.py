# SPDX-License-Identifier: MIT
"""Smell: sittings with their stand, the figures of all strips, blind tests, and the words of months."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QMenu, QStackedWidget, QVBoxLayout, QWidget

from desktop.session import Session
from desktop.widgets.chips import Chips
from perfumery import BlindTest, Sitting, Strip

# Each view by its word: where it stands, made when it is first asked for.
VIEWS = {
    "sittings": ("desktop.pages.smell.sitting", "SittingView"),
    "figures": ("desktop.pages.smell.figures_view", "FiguresView"),
    "blind tests": ("desktop.pages.smell.tests_view", "BlindTestsView"),
    "words": ("desktop.pages.smell.words_view", "WordsView"),
}
ROOM = 8


class SmellPage(QWidget):
    """The page. `asked(value)` where something on another page is wanted: a material, a version, a bottle."""

    asked = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.views: dict[str, Any] = {}
        self.chips = Chips(tuple(VIEWS), "view", self)
        self.stack = QStackedWidget(self)
        head = QHBoxLayout()
        head.setContentsMargins(2 * ROOM, ROOM, 2 * ROOM, 0)
        head.addWidget(self.chips)
        head.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.stack, 1)
        self.setProperty("role", "pane")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.commands = {name: self._action(name, place) for place, name in enumerate(VIEWS, 1)}
        self.chips.chosen.connect(self.show_view)

    def _action(self, name: str, place: int) -> QAction:
        action = QAction(name[:1].upper() + name[1:], self)
        action.setObjectName(f"smell_{name.replace(' ', '_')}")
        action.setShortcut(QKeySequence(f"Alt+{place}"))
        show: Callable[[], Any] = lambda: self.show_view(name)
        action.triggered.connect(lambda _=False: show())
        self.addAction(action)
        return action

    # what the window asks ---------------------------------------------------------------------------------------------

    def menus(self) -> tuple[tuple[str, tuple[QAction, ...]], ...]:
        """(title, actions) of this page's menu; what a view can do comes in when the view is made."""
        own = [action for view in self.views.values() for action in view.actions()]
        return (("Smell", (*self.commands.values(), *own)),)

    def take_focus(self) -> None:
        """The focus into the view that is shown."""
        shown: Any = self.stack.currentWidget()
        if shown is not None:
            shown.take_focus()

    def go_to(self, value: Any) -> None:
        """Shows a sitting, a strip or a blind test."""
        if isinstance(value, Sitting | Strip):
            self.show_view("sittings").go_to(value)
        elif isinstance(value, BlindTest):
            self.show_view("blind tests").go_to(value)

    # showing ----------------------------------------------------------------------------------------------------------

    def show_view(self, name: str) -> Any:
        """Brings a view up and returns it."""
        if name not in self.views:
            module, kind = VIEWS[name]
            view = self.views[name] = getattr(import_module(module), kind)(self._session)
            self.stack.addWidget(view)
            if hasattr(view, "asked"):
                view.asked.connect(self.asked)
            for menu in self.commands[name].associatedObjects():
                if isinstance(menu, QMenu):
                    menu.addActions(list(view.actions()))
        self.chips.choose(name)
        self.stack.setCurrentWidget(self.views[name])
        self.take_focus()
        return self.views[name]

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self.stack.currentWidget() is None:
            self.show_view(next(iter(VIEWS)))
