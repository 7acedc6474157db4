# SPDX-License-Identifier: MIT
"""A page of several views, one at a time, chosen by a row of words; each is made when it is first asked for."""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QMenu, QStackedWidget, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.session import Session
from desktop.widgets.chips import Chips

ROOM = 8


class ViewsPage(QWidget):
    """`VIEWS` names the views: {word: (module, class)}. One is made as `View(session)` unless the page's `make` does otherwise;
    it has `take_focus()` and `actions()`, and may have `asked(value)` for what stands on another page, which the page hands on.
    `TITLE` is the page's menu, `WORDS` the views' words as they are shown."""

    asked = Signal(object)
    TITLE = ""
    VIEWS: Mapping[str, tuple[str, str]] = {}
    WORDS: Mapping[str, str] = {}

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.views: dict[str, Any] = {}
        self.chips = Chips({name: self.WORDS.get(name, name) for name in self.VIEWS}, tr("view"), self)
        self.stack = QStackedWidget(self)
        self.head = QHBoxLayout()
        self.head.setContentsMargins(2 * ROOM, ROOM, 2 * ROOM, 0)
        self.head.addWidget(self.chips)
        self.head.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(self.head)
        column.addWidget(self.stack, 1)
        self.setProperty("role", "pane")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.commands = {name: self._action(name, place) for place, name in enumerate(self.VIEWS, 1)}
        self.chips.chosen.connect(self.show_view)
        self.view(next(iter(self.VIEWS)))

    def _action(self, name: str, place: int) -> QAction:
        word = self.WORDS.get(name, name)
        action = QAction(word[:1].upper() + word[1:], self)
        page = type(self).__name__.removesuffix("Page").casefold()
        action.setObjectName(f"{page}_{name.replace(' ', '_')}")
        action.setShortcut(QKeySequence(f"Alt+{place}"))
        show: Callable[[], Any] = lambda: self.show_view(name)
        action.triggered.connect(lambda _=False: show())
        self.addAction(action)
        return action

    # what the window asks ---------------------------------------------------------------------------------------------

    def menus(self) -> tuple[tuple[str, tuple[QAction, ...]], ...]:
        """(title, actions) of this page's menu; what a view can do comes in when the view is made."""
        own = [action for view in self.views.values() for action in view.actions()]
        return ((self.TITLE, (*self.commands.values(), *own)),)

    def take_focus(self) -> None:
        """The focus into the view that is shown."""
        shown: Any = self.stack.currentWidget()
        if shown is not None:
            shown.take_focus()

    def go_to(self, value: Any) -> None:
        """Shows a value of the book on the view it stands on."""
        raise NotImplementedError

    # showing ----------------------------------------------------------------------------------------------------------

    def make(self, kind: Any) -> Any:
        """A view of a class."""
        return kind(self._session, self.stack)

    def view(self, name: str) -> Any:
        """A view, made where it was not yet."""
        if name not in self.views:
            module, kind = self.VIEWS[name]
            view = self.views[name] = self.make(getattr(import_module(module), kind))
            self.stack.addWidget(view)
            if hasattr(view, "asked"):
                view.asked.connect(self.asked)
            for menu in self.commands[name].associatedObjects():
                if isinstance(menu, QMenu):
                    menu.addActions(list(view.actions()))
        return self.views[name]

    def show_view(self, name: str) -> Any:
        """Brings a view up and returns it."""
        is_new = name not in self.views
        view = self.view(name)
        self.chips.choose(name)
        if is_new:
            self._session.turn()
        self.stack.setCurrentWidget(view)
        self.take_focus()
        if is_new:
            # it stands as long as the book is open
            gc.freeze()
        return view
