# SPDX-License-Identifier: MIT
"""`python icons.py FOLDER`: the program's icon as pictures of every size that desktops ask for, drawn from its SVG."""

import os
import sys
from pathlib import Path

SIZES = (16, 22, 24, 32, 48, 64, 128, 256, 512)
DRAWING = Path(__file__).resolve().parents[2] / "resources" / "icons" / "stillroom.svg"


def draw(folder: Path) -> None:
    """Writes `SIZE.png` for every size."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtCore import Qt
    from PySide6.QtGui import QImage, QPainter
    from PySide6.QtSvg import QSvgRenderer

    folder.mkdir(parents=True, exist_ok=True)
    drawing = QSvgRenderer(str(DRAWING))
    for size in SIZES:
        picture = QImage(size, size, QImage.Format.Format_ARGB32)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        drawing.render(painter)
        painter.end()
        if not picture.save(str(folder / f"{size}.png")):
            raise OSError(5, "the icon could not be written", str(folder))


if __name__ == "__main__":
    draw(Path(sys.argv[1]))
