# SPDX-License-Identifier: MIT
"""The chart of strips over time as a widget: drawn once into a bitmap, the chosen curve drawn over it again and again.

matplotlib is imported on the first need, piece by piece between two looks at the event queue, so that neither the first
window nor a key press waits for it. The widget owns its bitmap instead of a matplotlib Qt canvas: hovering, focus, the
picture scaled while the window is pulled larger and the screen's pixel ratio are then a few plain lines.
"""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAccessible,
    QAction,
    QColor,
    QFontMetrics,
    QGuiApplication,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QFileDialog, QSizePolicy, QWidget

from desktop import figures, wording
from desktop.chart.curve import Curve, describe, details, nearest, numbers
from desktop.chart.drawing import Plot, look
from desktop.language import tr
from desktop.theme import CAPTION, Theme

# in the order in which each needs the ones before it: none takes as long as a twentieth of a second
_PIECES = (
    "numpy", "pyparsing", "PIL.Image", "dateutil.parser", "matplotlib", "matplotlib.font_manager", "matplotlib.patches",
    "matplotlib.textpath", "matplotlib.text", "matplotlib.image", "matplotlib.legend", "matplotlib.axis", "matplotlib.axes",
    "matplotlib.projections", "matplotlib.figure", "matplotlib.backends.backend_agg", "matplotlib.patheffects",
)  # fmt: skip
SETTLE_MS = 70
REACH_PX = 14
PICTURE_SIZE = (900, 520)


class CurveCanvas(QWidget):
    """Intensity over elapsed time. `time_picked(hours)` when a time below the axis is clicked, `curve_picked(key)` when
    a curve is chosen by hand, `said(sentence, tone)` about pictures and numbers kept."""

    time_picked = Signal(float)
    curve_picked = Signal(int)
    said = Signal(str, str)
    accessible_role = QAccessible.Role.Chart

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._curves: list[Curve] = []
        self._chosen: int | None = None
        self._liking = False
        self._against = ""
        self._hidden = ""
        self._plot: Plot | None = None
        self._background: Any = None
        self._image = QImage()
        self._stale = True
        self._is_pulled = False
        self._probe: tuple[int, int] | None = None
        self._settle = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._settle.timeout.connect(self._on_settle_timeout)
        self._pieces = list(_PIECES)
        self._loader = QTimer(self, interval=0)
        self._loader.timeout.connect(self._on_loader_timeout)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(200, 150)
        self.setAccessibleName(tr("Curves: intensity over time"))
        self._make_actions()
        theme.changed.connect(self._on_theme_changed)
        self._describe()

    # what is shown ----------------------------------------------------------------------------------------------------

    @property
    def curves(self) -> tuple[Curve, ...]:
        """The curves as they were handed over last."""
        return tuple(self._curves)

    @property
    def chosen(self) -> int | None:
        """The key of the curve drawn over the others."""
        return self._chosen

    def set_curves(self, curves: Sequence[Curve], chosen: int | None = None) -> None:
        """Shows these curves; the chosen one is drawn last, thicker, and can be updated at the cost of one line."""
        if list(curves) == self._curves and chosen == self._chosen:
            return
        same_choice = chosen == self._chosen
        self._curves, self._chosen = list(curves), chosen
        self._probe = None
        if same_choice and self._plot is not None and not self._stale and self._plot.fits(self._curves):
            self._plot.take(self._curves)
            self._blit()
        else:
            self._spoil()
        self._describe()

    def update_curve(self, curve: Curve) -> None:
        """Shows a new state of one curve. Where it is the chosen one, only its own line is drawn again."""
        known = [c.key for c in self._curves]
        fresh = [curve if c.key == curve.key else c for c in self._curves]
        self.set_curves(fresh if curve.key in known else [*fresh, curve], self._chosen)

    def show_liking(self, on: bool) -> None:
        """Shows or hides the liking below the intensity."""
        self._liking = on
        self.liking_action.setChecked(on)
        self._spoil()

    def show_against(self, name: str) -> None:
        """Takes the curves for differences to what is called so; '' for intensities."""
        if name != self._against:
            self._against = name
            self._spoil()

    def say_hidden(self, sentence: str) -> None:
        """Why there may be no curves though there are readings; '' where nothing is hidden."""
        if sentence != self._hidden:
            self._hidden = sentence
            self._describe()
            self.update()

    @property
    def told_empty(self) -> str:
        """What stands here while there are no curves."""
        return self._hidden or tr("Curves appear here with the first reading that has an intensity.")

    def load(self) -> None:
        """Imports what drawing needs, at once."""
        while self._pieces:
            importlib.import_module(self._pieces.pop(0))
        self._loader.stop()

    # pictures and numbers ---------------------------------------------------------------------------------------------

    def save_picture(self, path: str | Path) -> None:
        """Writes the chart as PNG, SVG or PDF by the name's ending. Raises OSError where that cannot be.

        Pictures that leave the program are on white whatever the theme: they end on paper.
        """
        self.load()
        path = Path(path)
        plot = Plot(self._curves, self._chosen, PICTURE_SIZE, look("light"), ratio=2, liking=self._liking, against=self._against)
        for artist in plot.live:
            artist.set_animated(False)
        dates = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}
        plot.figure.savefig(path, format=path.suffix.lstrip("."), metadata=dates.get(path.suffix))

    def picture(self) -> QImage:
        """The chart as it leaves the program: light, twice the pixels."""
        self.load()
        plot = Plot(self._curves, self._chosen, PICTURE_SIZE, look("light"), ratio=2, liking=self._liking, against=self._against)
        return _rendered(plot)[0]

    def _make_actions(self) -> None:
        self.liking_action = QAction(tr("Liking below the curves"), self, checkable=True)
        self.liking_action.toggled.connect(self.show_liking)
        self.copy_picture_action = QAction(tr("Copy curves as picture"), self)
        self.copy_picture_action.triggered.connect(self._on_copy_picture_triggered)
        self.save_picture_action = QAction(tr("Save curves as picture…"), self)
        self.save_picture_action.triggered.connect(self._on_save_picture_triggered)
        self.copy_numbers_action = QAction(tr("Copy the numbers of the curves"), self)
        self.copy_numbers_action.triggered.connect(self._on_copy_numbers_triggered)
        self.save_numbers_action = QAction(tr("Save the numbers of the curves…"), self)
        self.save_numbers_action.triggered.connect(self._on_save_numbers_triggered)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)
        self.addActions(self.chart_actions())

    def chart_actions(self) -> tuple[QAction, ...]:
        """What can be done with the chart as a whole."""
        return (
            self.liking_action, self.copy_picture_action, self.save_picture_action, self.copy_numbers_action,
            self.save_numbers_action,
        )  # fmt: skip

    def _on_copy_picture_triggered(self) -> None:
        QGuiApplication.clipboard().setImage(self.picture())
        self.said.emit(tr("The curves are on the clipboard as a picture."), "done")

    def _on_copy_numbers_triggered(self) -> None:
        QGuiApplication.clipboard().setText(numbers(self._curves, "\t", figures.decimal_mark()))
        self.said.emit(tr("The numbers of the curves are on the clipboard."), "done")

    def _on_save_picture_triggered(self) -> None:
        kinds = ";;".join((tr("Picture") + " (*.png)", tr("Drawing") + " (*.svg)", "PDF (*.pdf)"))
        name, kind = QFileDialog.getSaveFileName(self.window(), tr("Save curves as picture"), "curves.png", kinds)
        if name:
            ending = kind.partition("*")[2].rstrip(")")
            self._save(name if Path(name).suffix in (".png", ".svg", ".pdf") else name + ending, self.save_picture)

    def _on_save_numbers_triggered(self) -> None:
        kind = tr("Table") + " (*.csv)"
        name, _ = QFileDialog.getSaveFileName(self.window(), tr("Save the numbers of the curves"), "curves.csv", kind)
        if name:
            self._save(name if Path(name).suffix else name + ".csv", self.save_numbers)

    def save_numbers(self, path: str | Path) -> None:
        """Writes the points of the curves as CSV. Raises OSError where that cannot be."""
        Path(path).write_text(numbers(self._curves), encoding="utf-8")

    def _save(self, name: str, write: Any) -> None:
        try:
            write(name)
        except OSError as fault:
            self.said.emit(wording.fault(fault), "refused")
        else:
            self.said.emit(tr("Saved: {name}.", name=name), "done")

    # drawing ----------------------------------------------------------------------------------------------------------

    def _spoil(self) -> None:
        """What is drawn is no longer true: the next painting draws anew, even while the window is being pulled."""
        self._stale = True
        self._settle.stop()
        self._is_pulled = False
        self.update()

    def _render(self) -> None:
        family = QGuiApplication.font().family()
        size = (max(self.width(), 1), max(self.height(), 1))
        self._plot = Plot(
            self._curves, self._chosen, size, look(self._theme.name, family, self._theme.scale),
            ratio=self.devicePixelRatioF(), liking=self._liking, against=self._against,
        )  # fmt: skip
        self._image, self._background = _rendered(self._plot)
        self._stale = self._is_pulled = False
        self._settle.stop()

    def _blit(self) -> None:
        """Draws the chosen curve over the kept background: 3 ms where a full drawing takes 100."""
        plot = self._plot
        if plot is None:
            return
        plot.figure.canvas.restore_region(self._background)
        self._image = _with_live(plot)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.colour("sheet"))
        if not self._curves:
            self._paint_sentence(painter, self.told_empty)
        elif self._pieces:
            # painted once without the curves, so that the window stands before the long imports begin
            self._loader.start()
            self._paint_sentence(painter, tr("Curves are being drawn."))
        else:
            ratio_changed = self._image.devicePixelRatio() != self.devicePixelRatioF()
            if self._image.isNull() or ratio_changed or (self._stale and not self._is_pulled):
                self._render()
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, self._is_pulled)
            painter.drawImage(self.rect(), self._image)
            self._paint_probe(painter)
        if self.hasFocus():
            painter.setPen(QPen(self._theme.colour("juniper"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def _paint_sentence(self, painter: QPainter, text: str) -> None:
        painter.setFont(self._theme.font(CAPTION))
        painter.setPen(self._theme.colour("quiet"))
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        painter.drawText(self.rect().adjusted(16, 8, -16, -8), int(flags), text)

    def _paint_probe(self, painter: QPainter) -> None:
        if self._probe is None or self._plot is None:
            return
        curve = self._plot.curves[self._probe[0]]
        t, v = curve.series[self._probe[1]]
        at = QPointF(self._plot.x(t), self._plot.y(v))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self._theme.colour("ink"), 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(at, 7, 7)
        lines = details(curve, self._probe[1])
        font = self._theme.font(CAPTION)
        metrics = QFontMetrics(font)
        width = max(metrics.horizontalAdvance(line) for line in lines) + 16
        height = metrics.height() * len(lines) + 12
        x = min(max(at.x() + 12, 4), self.width() - width - 4)
        y = at.y() - height - 10
        frame = QRectF(x, y if y > 2 else at.y() + 12, width, height)
        painter.setPen(QPen(self._theme.colour("hairline"), 1))
        painter.setBrush(self._theme.colour("sheet"))
        painter.drawRoundedRect(frame, 4, 4)
        painter.setFont(font)
        for place, line in enumerate(lines):
            painter.setPen(QColor(self._theme.colour("quiet" if place else "ink")))
            painter.drawText(QPointF(x + 8, frame.y() + 6 + metrics.ascent() + place * metrics.height()), line)

    def _describe(self) -> None:
        self.setAccessibleDescription(" ".join(filter(None, (self._hidden, describe(self._curves)))))

    def sizeHint(self) -> QSize:
        return QSize(364, 240)

    # moving over it ---------------------------------------------------------------------------------------------------

    @property
    def probe(self) -> tuple[int, int] | None:
        """(curve, point) whose details are framed."""
        return self._probe

    def _show_probe(self, probe: tuple[int, int] | None) -> None:
        if probe == self._probe:
            return
        self._probe = probe
        if probe is not None:
            said = ", ".join(details(self._curves[probe[0]], probe[1]))
            self.setAccessibleDescription(f"{said}. {describe(self._curves)}")
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._plot is None or self._stale:
            return
        at = event.position()
        self._show_probe(nearest(self._plot.points(), at.x(), at.y(), REACH_PX))
        over_tick = self._tick_at(at) is not None
        self.setCursor(Qt.CursorShape.PointingHandCursor if over_tick or self._probe else Qt.CursorShape.ArrowCursor)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        super().mousePressEvent(event)
        if event.button() != Qt.MouseButton.LeftButton or self._plot is None:
            return
        hours = self._tick_at(event.position())
        if hours is not None:
            self.time_picked.emit(hours)
        elif self._probe is not None:
            self.curve_picked.emit(self._curves[self._probe[0]].key)

    def _tick_at(self, at: QPointF) -> float | None:
        """The time whose label is under the mouse."""
        if self._plot is None or at.y() < (self._plot.liking_bottom or self._plot.bottom) + 2:
            return None
        near = min(self._plot.ticks, key=lambda tick: abs(self._plot.x(tick[0]) - at.x()), default=None)
        return near[0] if near is not None and abs(self._plot.x(near[0]) - at.x()) <= 20 else None

    def leaveEvent(self, event: QEvent) -> None:
        self._show_probe(None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, steps = event.key(), {Qt.Key.Key_Left: (0, -1), Qt.Key.Key_Right: (0, 1), Qt.Key.Key_Up: (-1, 0)}
        steps[Qt.Key.Key_Down] = (1, 0)
        if key in steps and any(c.series for c in self._curves):
            self._step(*steps[key])
        elif key == Qt.Key.Key_Escape and self._probe is not None:
            self._show_probe(None)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._probe is not None:
            self.curve_picked.emit(self._curves[self._probe[0]].key)
        else:
            super().keyPressEvent(event)

    def _step(self, curves: int, points: int) -> None:
        """Moves the framed reading by curves or points; the first step frames the chosen curve's last reading."""
        drawn = [i for i, c in enumerate(self._curves) if c.series]
        if self._probe is None:
            start = next((i for i in drawn if self._curves[i].key == self._chosen), drawn[0])
            self._show_probe((start, len(self._curves[start].series) - 1))
            return
        curve, point = self._probe
        hours = self._curves[curve].series[point][0]
        if curves:
            curve = drawn[(drawn.index(curve) + curves) % len(drawn)]
            series = self._curves[curve].series
            point = min(range(len(series)), key=lambda i: abs(series[i][0] - hours))
        else:
            point = min(max(point + points, 0), len(self._curves[curve].series) - 1)
        self._show_probe((curve, point))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # while the window is pulled the old picture is shown, stretched; unless it is no longer true
        self._is_pulled = not self._image.isNull() and (self._is_pulled or not self._stale)
        self._stale = True
        if self._is_pulled:
            self._settle.start()

    def focusInEvent(self, event: Any) -> None:
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: Any) -> None:
        super().focusOutEvent(event)
        self._show_probe(None)
        self.update()

    def _on_settle_timeout(self) -> None:
        self._spoil()

    def _on_theme_changed(self) -> None:
        self._spoil()

    def _on_loader_timeout(self) -> None:
        if self._pieces:
            importlib.import_module(self._pieces.pop(0))
        if not self._pieces:
            self._loader.stop()
            self._spoil()


def _rendered(plot: Plot) -> tuple[QImage, Any]:
    """(the whole picture, the background without the chosen curve)."""
    canvas = plot.figure.canvas
    canvas.draw()
    background = canvas.copy_from_bbox(plot.figure.bbox)
    return _with_live(plot), background


def _with_live(plot: Plot) -> QImage:
    canvas = plot.figure.canvas
    for artist in plot.live:
        plot.figure.draw_artist(artist)
    width, height = canvas.get_width_height(physical=True)
    image = QImage(canvas.buffer_rgba(), width, height, QImage.Format.Format_RGBA8888)
    # converted, and so copied: the buffer is matplotlib's and the next drawing goes into it
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(plot.ratio)
    return image
