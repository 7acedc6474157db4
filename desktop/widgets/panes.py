# SPDX-License-Identifier: MIT
"""Two panes with an edge between them that is dragged by hand, and is found where it was left."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSplitter, QWidget

from desktop.settings import Settings
from desktop.theme import Theme

_PANES = ("first", "second")


class Panes(QSplitter):
    """`view` is what the sizes are kept by; `usual` are those of the first time, px at the normal text size; `grows` is the pane
    that takes what a larger window has more, both where it is None."""

    def __init__(
        self, theme: Theme, settings: Settings, view: str, panes: tuple[QWidget, QWidget], usual: tuple[int, int], *,
        grows: int | None = None, upright: bool = False,
    ) -> None:  # fmt: skip
        super().__init__(Qt.Orientation.Vertical if upright else Qt.Orientation.Horizontal)
        self._settings, self._view = settings, view
        self.setChildrenCollapsible(False)
        for pane in panes:
            self.addWidget(pane)
        if grows is not None:
            self.setStretchFactor(grows, 1)
        own = settings.widths(view)
        self.setSizes([own.get(pane) or theme.px(size) for pane, size in zip(_PANES, usual, strict=True)])
        self.splitterMoved.connect(self._on_splitter_moved)

    def _on_splitter_moved(self, position: int, handle: int) -> None:
        self._settings.keep_widths(self._view, dict(zip(_PANES, self.sizes(), strict=True)))
