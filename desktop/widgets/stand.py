# SPDX-License-Identifier: MIT
"""Strips drawn as papers hung in a stand: a narrow paper each, tinted by how strong it was last, its code and age below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractButton, QPushButton, QScrollArea, QSizePolicy, QWidget

from desktop.language import tr, tr_count
from desktop.theme import CAPTION, Theme

WIDTH, PAPER_WIDTH, PAPER_HEIGHT = 44, 13, 86
GROUP_GAP = 12


@dataclass(frozen=True, slots=True)
class Paper:
    """One strip as it hangs. `under` stands below the code, `state` is a word when it is due or late.

    `tint` is the last intensity as a share 0..1, None for none or while it must stay hidden; `curve` the place of its
    colour on the chart, None while its curve is not shown; `own` whether it is of the version that is chosen.
    """

    key: int
    code: str
    under: str
    name: str
    state: str = ""
    late: bool = False
    tint: float | None = None
    curve: int | None = None
    own: bool = False
    skin: bool = False
    closed: bool = False


class Stand(QWidget):
    """Papers in a row that scrolls, or folded into a column. Left and right choose, Space shows or hides a curve, Enter
    reads: `chosen(key)`, `toggled(key)`, `read_wanted(key)`."""

    chosen = Signal(int)
    toggled = Signal(int)
    read_wanted = Signal(int)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._papers: tuple[Paper, ...] = ()
        self._buttons: dict[int, _PaperButton] = {}
        self._chosen: int | None = None
        self._column = False
        self._unfolded = False
        self._floor = QWidget()
        self._scroll = QScrollArea(self)
        self._scroll.setWidget(self._floor)
        self._scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.viewport().setAutoFillBackground(False)
        self._floor.setAutoFillBackground(False)
        self._fold = QPushButton(self._floor)
        self._fold.setProperty("role", "link")
        self._fold.clicked.connect(self._on_fold_clicked)
        self.setAccessibleName(tr("Stand of strips"))
        self._take_mode()
        theme.changed.connect(self._on_theme_changed)

    # what hangs there -------------------------------------------------------------------------------------------------

    @property
    def papers(self) -> tuple[Paper, ...]:
        """The papers as they were handed over."""
        return self._papers

    @property
    def shown(self) -> tuple[int, ...]:
        """Keys of the papers on screen, in order; closed ones only while unfolded."""
        return tuple(p.key for p in self._papers if not p.closed or self._unfolded or p.key == self._chosen)

    def set_papers(self, papers: Sequence[Paper], chosen: int | None) -> None:
        """Hangs these papers, in this order; only those that differ are painted again."""
        if tuple(papers) == self._papers and chosen == self._chosen:
            return
        same_places = [(p.key, p.closed, p.own) for p in papers] == [(p.key, p.closed, p.own) for p in self._papers]
        same_places = same_places and chosen == self._chosen
        self._papers, self._chosen = tuple(papers), chosen
        for key in self._buttons.keys() - {p.key for p in papers}:
            self._buttons.pop(key).deleteLater()
        for paper in papers:
            if paper.key not in self._buttons:
                button = _PaperButton(self._theme, paper, self._floor)
                button.picked.connect(self.chosen)
                button.toggle_wanted.connect(self.toggled)
                button.read_wanted.connect(self.read_wanted)
                button.stepped.connect(self._on_paper_stepped)
                self._buttons[paper.key] = button
            self._buttons[paper.key].show_paper(paper, chosen=paper.key == chosen)
        if not same_places:
            self._lay_out()
            self._reveal()

    def set_column(self, on: bool) -> None:
        """Folds the papers into rows of a narrow column, instead of one row that scrolls sideways."""
        if on != self._column:
            self._column = on
            self._take_mode()
            self._lay_out()
            self.updateGeometry()

    def _take_mode(self) -> None:
        off, needed = Qt.ScrollBarPolicy.ScrollBarAlwaysOff, Qt.ScrollBarPolicy.ScrollBarAsNeeded
        self._scroll.setVerticalScrollBarPolicy(needed if self._column else off)
        self._scroll.setHorizontalScrollBarPolicy(off if self._column else needed)
        expanding, fixed = QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed
        self.setSizePolicy(expanding, expanding if self._column else fixed)
        # in one row it stands beside what scrolls, so that it never scrolls out of sight
        self._fold.setParent(self._floor if self._column else self)

    def focus_chosen(self) -> None:
        """Gives the focus to the chosen paper."""
        button = self._buttons.get(self._chosen or 0)
        if button is not None:
            button.setFocus(Qt.FocusReason.OtherFocusReason)

    def button(self, key: int) -> QAbstractButton:
        """The paper of a strip as a control."""
        return self._buttons[key]

    def step(self, by: int) -> None:
        """Chooses the next or the previous paper on screen."""
        shown = self.shown
        if not shown:
            return
        place = shown.index(self._chosen) if self._chosen in shown else -1 if by > 0 else 0
        self.chosen.emit(shown[min(max(place + by, 0), len(shown) - 1)])
        self.focus_chosen()

    # laying out -------------------------------------------------------------------------------------------------------

    def _cell(self) -> QSize:
        line = QFontMetrics(self._theme.font(CAPTION)).height()
        return QSize(self._theme.px(WIDTH), self._theme.px(PAPER_HEIGHT) + 3 * line + 8)

    def _lay_out(self) -> None:
        cell, x, y, width = self._cell(), 0, 0, 0
        closed = [p for p in self._papers if p.closed and p.key != self._chosen]
        self._fold.setVisible(bool(closed))
        self._fold.setText(tr("fold closed") if self._unfolded else tr_count(len(closed), "{n} closed", "{n} closed"))
        show = tr_count(len(closed), "Show {n} closed strip", "Show {n} closed strips")
        self._fold.setAccessibleName(tr("Fold the closed strips away") if self._unfolded else show)
        fold = self._fold.sizeHint()
        beside = fold.width() + 8 if closed and not self._column else 0
        self._scroll.setGeometry(self.rect().adjusted(0, 0, -beside, 0))
        room = max(self._scroll.viewport().width(), cell.width())
        shown, papers = self.shown, {p.key: p for p in self._papers}
        before: Paper | None = None
        for key, button in self._buttons.items():
            button.setVisible(key in shown)
        for key in shown:
            paper = papers[key]
            if before is not None and not self._column and (before.own, before.closed) != (paper.own, paper.closed):
                x += GROUP_GAP
            if self._column and x + cell.width() > room:
                x, y = 0, y + cell.height() + 4
            self._buttons[key].setGeometry(x, y, cell.width(), cell.height())
            x += cell.width()
            width = max(width, x)
            before = paper
        if closed and self._column:
            y += cell.height() + 4 if shown else 0
            self._fold.setGeometry(0, y, fold.width(), fold.height())
            y += fold.height() - cell.height()
        elif closed:
            left = min(width + 8, self.width() - fold.width())
            self._fold.setGeometry(left, self._theme.px(PAPER_HEIGHT) // 2, fold.width(), fold.height())
        self._floor.resize(width, y + cell.height())

    def _reveal(self) -> None:
        button = self._buttons.get(self._chosen or 0)
        if button is not None:
            self._scroll.ensureWidgetVisible(button, 24, 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay_out()

    def sizeHint(self) -> QSize:
        return QSize(self._theme.px(180) if self._column else 320, self._cell().height() + 10)

    def minimumSizeHint(self) -> QSize:
        return QSize(self._theme.px(100), self._cell().height() + (10 if not self._column else 0))

    def _on_fold_clicked(self) -> None:
        self._unfolded = not self._unfolded
        self._lay_out()

    def _on_paper_stepped(self, by: int) -> None:
        self.step(by)

    def _on_theme_changed(self) -> None:
        self._lay_out()
        self.updateGeometry()
        for button in self._buttons.values():
            button.update()


class _PaperButton(QAbstractButton):
    """One paper. The focus stands on the chosen one only, so that Tab passes the stand in one step."""

    picked = Signal(int)
    toggle_wanted = Signal(int)
    read_wanted = Signal(int)
    stepped = Signal(int)

    def __init__(self, theme: Theme, paper: Paper, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._paper = paper
        self._chosen = False
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.clicked.connect(lambda: self.picked.emit(self._paper.key))

    def show_paper(self, paper: Paper, *, chosen: bool) -> None:
        if (paper, chosen) == (self._paper, self._chosen) and self.accessibleName():
            return
        self._paper, self._chosen = paper, chosen
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus if chosen else Qt.FocusPolicy.ClickFocus)
        self.setAccessibleName(paper.name)
        self.setAccessibleDescription(tr("Enter reads it, Space shows or hides its curve."))
        self.setToolTip(paper.name)
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self.stepped.emit(1 if key == Qt.Key.Key_Right else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.read_wanted.emit(self._paper.key)
        elif key == Qt.Key.Key_Space:
            self.toggle_wanted.emit(self._paper.key)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.toggle_wanted.emit(self._paper.key)
        else:
            super().mousePressEvent(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.read_wanted.emit(self._paper.key)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, paper = self._theme, self._paper
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_paper(painter)
        top = theme.px(PAPER_HEIGHT) + 6
        metrics = QFontMetrics(theme.font(CAPTION))
        centre = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop
        painter.setFont(theme.font(CAPTION, bold=paper.own or self._chosen))
        painter.setPen(theme.colour("amber" if paper.state else "ink"))
        painter.drawText(QRectF(0, top, self.width(), metrics.height()), centre, paper.code)
        painter.setFont(theme.font(CAPTION))
        painter.setPen(theme.colour("quiet"))
        painter.drawText(QRectF(0, top + metrics.height(), self.width(), metrics.height()), centre, paper.under)
        if paper.state:
            painter.setPen(theme.colour("amber"))
            painter.drawText(QRectF(0, top + 2 * metrics.height(), self.width(), metrics.height()), centre, paper.state)
        if self.hasFocus():
            painter.setPen(QPen(theme.colour("juniper"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)

    def _paint_paper(self, painter: QPainter) -> None:
        theme, paper = self._theme, self._paper
        width, height = theme.px(PAPER_WIDTH), theme.px(PAPER_HEIGHT)
        left, top, point = (self.width() - width) / 2, 4.0, width * 0.7
        outline = QPainterPath(QPointF(left, top))
        outline.lineTo(left + width, top)
        outline.lineTo(left + width, top + height - point - 4)
        outline.lineTo(left + width / 2, top + height - 4)
        outline.lineTo(left, top + height - point - 4)
        outline.closeSubpath()
        painter.fillPath(outline, theme.colour("paper"))
        if paper.tint:
            wet = QColor(theme.colour("tint"))
            wet.setAlphaF(0.12 + 0.62 * min(paper.tint, 1.0))
            painter.save()
            painter.setClipPath(outline)
            painter.fillRect(QRectF(left, top + height * 0.70, width, height * 0.30), wet)
            painter.restore()
        edge = theme.colour("juniper") if self._chosen else theme.colour("quiet")
        pen = QPen(edge, 2.2 if self._chosen else 1.0)
        if paper.skin:
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(outline)
        # the two lines a hand draws across the dry end; in the curve's colour while its curve is shown
        colour = theme.colour("quiet") if paper.curve is None else QColor(theme.curve(paper.curve)[0])
        for offset in (10, 15):
            if paper.curve is not None:
                painter.fillRect(QRectF(left + 2, top + theme.px(offset) - 1, width - 4, 3), colour)
            else:
                painter.fillRect(QRectF(left + 3, top + theme.px(offset), width - 6, 1), colour)
