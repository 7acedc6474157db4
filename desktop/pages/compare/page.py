# SPDX-License-Identifier: MIT
"""Compare: what changed between versions and what it did, the tree they make, limits, uses, and whether it can be made again."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from desktop.language import tr
from desktop.models.compared import Compared
from desktop.pages.compare.picker import Picker
from desktop.pages.views import ViewsPage
from desktop.session import Session
from perfumery import Decision, Limit, Version


class ComparePage(ViewsPage):
    """The page; which versions are compared is shared by its views, which are made as `View(session, compared)`.
    `dip_asked(bottles)` where vials are to be dipped in one sitting, `weighing_asked(version, g, {line: bottle})` to weigh one
    again, `test_asked(kept vial, remake)` to plan a triangle test."""

    dip_asked = Signal(object)
    weighing_asked = Signal(int, float, object)
    test_asked = Signal(int, int)

    TITLE = tr("Compare")
    VIEWS = {
        "side by side": ("desktop.pages.compare.side_view", "SideView"),
        "tree": ("desktop.pages.compare.tree_view", "TreeView"),
        "limits": ("desktop.pages.compare.limits_view", "LimitsView"),
        "where used": ("desktop.pages.compare.used_view", "UsedView"),
        "again today": ("desktop.pages.compare.again_view", "AgainView"),
        "series": ("desktop.pages.compare.series_view", "SeriesView"),
    }
    WORDS = {
        "side by side": tr("side by side"), "tree": tr("tree"), "limits": tr("limits"), "where used": tr("where used"),
        "again today": tr("again today"), "series": tr("series"),
    }  # fmt: skip

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self.compared = Compared(session)
        super().__init__(session, parent)
        self.compared.setParent(self)
        self.picker = Picker(session, self.compared, self)
        self.head.addWidget(self.picker)

    def make(self, kind: Any) -> Any:
        view = kind(self._session, self.compared, self.stack)
        if hasattr(view, "compare_asked"):
            view.compare_asked.connect(self.compare)
        if hasattr(view, "dip_asked"):
            view.dip_asked.connect(self.dip_asked)
        if hasattr(view, "weighing_asked"):
            view.weighing_asked.connect(self.weighing_asked)
        if hasattr(view, "test_asked"):
            view.test_asked.connect(self.test_asked)
        if hasattr(view, "again_asked"):
            view.again_asked.connect(self.again)
        return view

    def compare(self, keys: Iterable[int]) -> None:
        """Puts versions side by side."""
        self.compared.choose(keys)
        self.show_view("side by side")

    def again(self, version: int) -> None:
        """Whether a version can be made again today."""
        self.show_view("again today").go_to(version)

    def go_to(self, value: Any) -> None:
        """Shows a version beside the one it came from, a decision in its tree, a limit on the chosen version."""
        if isinstance(value, Limit) and value.key is not None:
            self.show_view("limits").go_to(value.key)
        elif isinstance(value, Decision):
            if value.project != self._session.project_key:
                self._session.choose_project(value.project)
            self.show_view("tree").go_to(next(iter((*value.chosen, *value.rejected)), 0))
        if isinstance(value, Version) and value.key is not None:
            self.compare((value.key,) if value.parent is None else (value.parent, value.key))
