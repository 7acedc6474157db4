# SPDX-License-Identifier: MIT
"""Our own line drawings, tinted with a colour of the theme."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

import resources


def pixmap(name: str, colour: QColor | None, size: int, ratio: float = 1.0) -> QPixmap:
    """The drawing `name` at a size in px for a screen of this pixel ratio; black lines take the colour."""
    svg = resources.read_text(f"icons/{name}.svg")
    if colour is not None:
        svg = svg.replace("#000", colour.name())
    drawn = QPixmap(round(size * ratio), round(size * ratio))
    drawn.setDevicePixelRatio(ratio)
    drawn.fill(Qt.GlobalColor.transparent)
    painter = QPainter(drawn)
    QSvgRenderer(QByteArray(svg.encode())).render(painter, QRectF(0, 0, size, size))
    painter.end()
    return drawn


def window_icon() -> QIcon:
    """The program's own icon in the sizes window managers ask for."""
    icon = QIcon()
    for size in (16, 24, 32, 48, 64, 128):
        icon.addPixmap(pixmap("stillroom", None, size))
    return icon
