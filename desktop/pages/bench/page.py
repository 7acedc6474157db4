# SPDX-License-Identifier: MIT
"""The bench: formula, strips and materials side by side, in two sets of widths, one for composing and one for smelling."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QSplitter, QTableView, QVBoxLayout, QWidget

from desktop.pages.bench.drawer import MaterialsDrawer
from desktop.pages.bench.formula import FormulaPane
from desktop.pages.bench.strips import StripsPane
from desktop.session import Session
from perfumery import Bottle, Material, Note, Project, Reading, Strip, Version

COMPOSING, SMELLING = "composing", "smelling"
PANES = ("formula", "strips", "drawer")
# Widths at a page of 1216 px and at one of 1832 px; between and beyond them the difference is shared out evenly.
_NARROW, _WIDE = 1216, 1832
_WIDTHS = {
    COMPOSING: {"formula": (604, 790), "strips": (398, 718), "drawer": (212, 320)},
    SMELLING: {"formula": (340, 430), "strips": (874, 1400), "drawer": (212, 320)},
}


class BenchPage(QWidget):
    """The three panes. `mode_changed(mode)` and `drawer_shown(bool)` keep the window's menu true."""

    mode_changed = Signal(str)
    drawer_shown = Signal(bool)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._settings = session, session.settings
        self.mode = COMPOSING
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        self.formula = FormulaPane(session, self.split)
        self.strips = StripsPane(session, self.split)
        self.drawer = MaterialsDrawer(session, self.split)
        self.split.setChildrenCollapsible(False)
        self.split.setHandleWidth(1)
        for pane in self.panes:
            pane.setProperty("role", "pane")
            pane.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
            self.split.addWidget(pane)
        self.split.splitterMoved.connect(self._on_splitter_moved)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.split)
        self.drawer.material_picked.connect(self.formula.add_material)
        self.drawer.find_action.triggered.connect(self._on_find_material_triggered)
        self.drawer.new_action.triggered.connect(lambda: self.show_drawer(True))
        earlier = self.strips.earlier_figures_action
        earlier.setChecked(self._settings.flag("strips/earlier figures", False))
        earlier.toggled.connect(lambda on: self._settings.keep("strips/earlier figures", on))
        self.set_mode(self._settings.text("bench/mode", COMPOSING))

    @property
    def panes(self) -> tuple[Any, Any, Any]:
        """The panes from left to right."""
        return self.formula, self.strips, self.drawer

    def menus(self) -> tuple[tuple[str, tuple[QAction, ...]], ...]:
        """(title, actions) of each pane's menu."""
        return tuple((pane.menu_title, pane.actions()) for pane in self.panes)

    def take_focus(self) -> None:
        """The focus to where one works in this mode: the formula, or the strips."""
        table = self.formula.findChild(QTableView)
        target = self.strips.stand if self.mode == SMELLING or table is None else table
        target.setFocus(Qt.FocusReason.OtherFocusReason)

    def set_mode(self, mode: str) -> None:
        """Takes the widths of 'composing' or 'smelling', as they were left last."""
        self.mode = mode if mode in _WIDTHS else COMPOSING
        self._settings.keep("bench/mode", self.mode)
        for pane in self.panes:
            pane.set_mode(self.mode)
        shown = self._settings.flag(f"bench/{self.mode}/drawer", self.mode == COMPOSING)
        self.drawer.setVisible(shown)
        self._share_out()
        self.mode_changed.emit(self.mode)
        self.drawer_shown.emit(shown)

    def swap_mode(self) -> None:
        """From composing to smelling and back."""
        self.set_mode(SMELLING if self.mode == COMPOSING else COMPOSING)

    def show_drawer(self, shown: bool) -> None:
        """Shows or hides the materials, remembered for this mode."""
        if shown == self.drawer.isVisibleTo(self):
            return
        self._settings.keep(f"bench/{self.mode}/drawer", shown)
        self.drawer.setVisible(shown)
        self._share_out()
        self.drawer_shown.emit(shown)

    # going to what was found ------------------------------------------------------------------------------------------

    def go_to(self, value: Any) -> None:
        """Shows a value of the book where it stands on the bench."""
        book = self._session.book
        if isinstance(value, Material):
            self.show_drawer(True)
            self.drawer.choose(value.key)
        elif isinstance(value, Version):
            self._session.choose_version(value.key)
        elif isinstance(value, Project):
            self._session.choose_project(value.key)
        elif isinstance(value, Strip):
            self._go_to_bottle(value.bottle)
            self.strips.choose_strip(value.key)
        elif isinstance(value, Reading):
            self.go_to(book.get(Strip, value.strip))
        elif isinstance(value, Bottle) and value.key is not None:
            self._go_to_bottle(value.key)
        elif isinstance(value, Note):
            about = (
                (Version, value.version), (Material, value.material), (Bottle, value.bottle), (Project, value.project),
            )  # fmt: skip
            self.go_to(next((book.get(kind, key) for kind, key in about if key is not None), None))

    def _go_to_bottle(self, key: int) -> None:
        """To the version a bottle's liquid was made by, else to the material it holds."""
        origin = self._session.book.origin(key)
        if origin.version is not None:
            if origin.version.key != self._session.version_key:
                self._session.choose_version(origin.version.key)
        elif origin.bottle.material is not None:
            self.show_drawer(True)
            self.drawer.choose(origin.bottle.material)

    # widths -----------------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._share_out()

    def _share_out(self) -> None:
        room = self.width() - self.split.handleWidth() * (len(PANES) - 1)
        if room <= 0:
            return
        along = (room - _NARROW) / (_WIDE - _NARROW)
        own = self._settings.widths(self._kept_as())
        usual = {pane: narrow + (wide - narrow) * along for pane, (narrow, wide) in _WIDTHS[self.mode].items()}
        if self.mode == SMELLING and not self.drawer.isVisibleTo(self):
            usual["formula"] = min(usual["formula"], usual["strips"])
        wanted = {pane: float(own.get(pane, 0)) for pane in PANES} if own else usual
        if not self.drawer.isVisibleTo(self):
            wanted["drawer"] = 0
        # the narrower panes keep their width and the strips give or take: they have a curve that suits any width
        if not own:
            wanted["strips"] = max(room - wanted["formula"] - wanted["drawer"], 1)
        whole = sum(wanted.values()) or 1
        for pane in self.panes:
            # a pane that has just changed its mode still reports the least width of the other one
            pane.layout().activate()
        self.split.refresh()
        self.split.setSizes([round(max(wanted[pane], 0) / whole * room) for pane in PANES])

    def _on_splitter_moved(self, position: int, handle: int) -> None:
        self._settings.keep_widths(self._kept_as(), dict(zip(PANES, self.split.sizes(), strict=True)))

    def _kept_as(self) -> str:
        """One set of widths for each mode, with and without the drawer."""
        return f"bench {self.mode}{'' if self.drawer.isVisibleTo(self) else ' without drawer'}"

    def _on_find_material_triggered(self) -> None:
        self.show_drawer(True)
        self.drawer.focus_search()
