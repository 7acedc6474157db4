# SPDX-License-Identifier: MIT
"""The table view of every page: ready strings drawn by a light delegate, columns kept by key, all of it by keyboard.

Rows have one height; no column is ever fitted to its contents, and no cell asks the model for more than its string.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, QPersistentModelIndex, QPoint, QRect, Qt, Signal
from PySide6.QtGui import (
    QAction,
    QContextMenuEvent,
    QFontMetrics,
    QGuiApplication,
    QHelpEvent,
    QKeyEvent,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QMenu,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QToolTip,
    QWidget,
)

from desktop.columns import as_text
from desktop.language import tr
from desktop.models.table import TableModel
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.why import Why

MARGIN = 5
ELASTIC_LEAST = 96
WARNING = ("amber", "brick")
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
# a figure that is too wide runs out to the left rather than lose a digit
_FIGURE = int(_RIGHT) | int(Qt.TextFlag.TextDontClip)
_ELIDE = Qt.TextElideMode.ElideRight
_ONE_ROW = QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
_SELECTED = QStyle.StateFlag.State_Selected


class GridDelegate(QStyledItemDelegate):
    """Draws one string a cell; edits in a plain line edit. `taken` is what the model answered to the last edit."""

    def __init__(self, theme: Theme, grid: Grid) -> None:
        super().__init__(grid)
        self._theme = theme
        self._grid = grid
        self.taken = True
        self.restyle()

    def restyle(self) -> None:
        """Takes pens and font from the theme anew."""
        tones = ("ink", "quiet", "amber", "brick", "moss", "juniper")
        self._pens = {tone: QPen(self._theme.colour(tone)) for tone in tones}
        self._rule = QPen(self._theme.colour("hairline"))
        self._ring = QPen(self._theme.colour("juniper"), 2)
        self._chosen = self._theme.colour("chosen")
        self._font = self._theme.font()
        self._metrics = QFontMetrics(self._font)
        self._usual = self._metrics.averageCharWidth() / 0.7

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        model, place, at = self._grid.table, index.row(), index.column()
        rect = option.rect
        if option.state & _SELECTED:
            painter.fillRect(rect, self._chosen)
        text = model.cell(place, at)
        if text:
            column = model.columns[at]
            rect.adjust(MARGIN, 0, -MARGIN, -1)
            painter.setFont(self._font)
            tone = model.tone(model.row(place), column)
            painter.setPen(self._pens[tone])
            # measuring costs more than drawing: only what could be too long is measured
            if len(text) * self._usual > rect.width():
                text = self._fitted(text, rect.width(), column.right)
            painter.drawText(rect, _FIGURE if column.right else int(_LEFT), text)
            if column.right and tone in WARNING:
                self._paint_sign(painter, rect, text)

    def _paint_sign(self, painter: QPainter, rect: QRect, figure: str) -> None:
        """A sign at the other end of a figure that is not as it should be: no word stands there, and its colour is not enough."""
        left = rect.right() + 1 - self._metrics.horizontalAdvance(figure)
        # where the figure leaves no room the sign stands before it, out in what is left free between two columns, never upon it
        before = min(rect.left(), left - self._metrics.horizontalAdvance("!") - 1)
        painter.drawText(QRect(max(before, 0), rect.top(), rect.width(), rect.height()), int(_LEFT), "!")

    def paint_rules(self, painter: QPainter, viewport: QRect) -> None:
        """The hairline under every row in sight and the ring round the current cell: once a paint, not once a cell."""
        grid = self._grid
        first, last = grid.rowAt(0), grid.rowAt(viewport.height() - 1)
        last = grid.table.rowCount() - 1 if last < 0 else last
        painter.setPen(self._rule)
        for place in range(max(first, 0), last + 1):
            y = grid.rowViewportPosition(place) + grid.rowHeight(place) - 1
            painter.drawLine(0, y, viewport.right(), y)
        if grid.hasFocus():
            painter.setPen(self._ring)
            current = grid.currentIndex()
            painter.drawRect((grid.visualRect(current) if current.isValid() else viewport).adjusted(1, 1, -1, -2))

    def _fitted(self, text: str, width: int, is_figure: bool) -> str:
        """The text cut to a width. A figure is never cut, '0.000…' would be another one: it gives up the spaces that hold
        it on the decimal point, and then runs out to the left."""
        if self._metrics.horizontalAdvance(text) <= width:
            return text
        return text.rstrip() if is_figure else self._metrics.elidedText(text, _ELIDE, width)

    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QWidget:
        column = self._grid.table.columns[index.column()]
        editor = QLineEdit(parent)
        editor.setProperty("role", "cell")
        editor.setAccessibleName(column.head)
        editor.setAlignment(_RIGHT if column.right else _LEFT)
        return editor

    def setEditorData(self, editor: QWidget, index: QModelIndex | QPersistentModelIndex) -> None:
        if isinstance(editor, QLineEdit) and not editor.isModified():
            editor.setText(str(index.data(Qt.ItemDataRole.EditRole) or ""))
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: Any, index: QModelIndex | QPersistentModelIndex) -> None:
        assert isinstance(editor, QLineEdit)
        self.taken = model.setData(index, editor.text(), Qt.ItemDataRole.EditRole)

    def updateEditorGeometry(
        self, editor: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        editor.setGeometry(option.rect.adjusted(0, 0, 0, -1))


class Grid(QTableView):
    """A table of a TableModel. `view` is the name its column widths, order and choice are kept under; the column `elastic`
    takes the room that is left, after the `roomy` ones have grown to their width where nobody chose another. Of the usual columns
    those that `give_way` leave, the first of them first, where not all have room. Keys the page answers come as signals; Enter
    edits, or is `entered` where it cannot or `enter_edits` is off."""

    removal_asked = Signal(list)
    move_asked = Signal(int, int)
    paste_asked = Signal(str)
    toggle_asked = Signal(int)
    entered = Signal(int)
    given_up = Signal(QModelIndex)
    typed = Signal(int, str)

    def __init__(
        self, theme: Theme, settings: Settings, view: str, elastic: str = "", parent: QWidget | None = None,
        *, roomy: Mapping[str, int] | None = None, give_way: tuple[str, ...] = (),
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._theme = theme
        self._view = view
        self._elastic = elastic
        self._roomy = dict(roomy or {})
        self._give_way = give_way
        self._settings = settings
        self._only: tuple[str, ...] | None = None
        self.enter_edits = True
        self._arranging = False
        self.setItemDelegate(GridDelegate(theme, self))
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        trigger = QAbstractItemView.EditTrigger
        self.setEditTriggers(trigger.DoubleClicked | trigger.AnyKeyPressed | trigger.EditKeyPressed)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        head = self.horizontalHeader()
        head.setSectionsMovable(True)
        head.setSectionsClickable(False)
        head.setHighlightSections(False)
        head.setMinimumSectionSize(16)
        head.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        head.customContextMenuRequested.connect(self._on_head_menu_requested)
        head.sectionResized.connect(self._on_section_resized)
        head.sectionMoved.connect(self._on_section_moved)
        self.choose_columns_action = QAction(tr("Choose columns…"), self)
        self.choose_columns_action.triggered.connect(self._on_columns_asked)
        theme.changed.connect(self._on_theme_changed)
        self._is_dressed = True
        self._restyle()

    # model and columns ------------------------------------------------------------------------------------------------

    @property
    def table(self) -> TableModel[Any]:
        """The model, typed."""
        model = self.model()
        assert isinstance(model, TableModel)
        return model

    def show_model(self, model: TableModel[Any]) -> None:
        """Shows a model with the columns last chosen for this view."""
        self.setModel(model)
        self.arrange()

    def shown_columns(self) -> tuple[str, ...]:
        """The keys of the columns on screen, from left to right."""
        head = self.horizontalHeader()
        by_place = sorted(range(len(self.table.columns)), key=head.visualIndex)
        return tuple(self.table.columns[at].key for at in by_place if not head.isSectionHidden(at))

    def show_only(self, keys: tuple[str, ...] | None) -> None:
        """Shows just these columns, whatever was chosen; None goes back to the choice."""
        if keys != self._only:
            self._only = keys
            self.arrange()

    def choose_columns(self, keys: Iterable[str]) -> None:
        """Shows these columns in this order, and keeps that."""
        self._settings.keep_columns(self._view, tuple(keys))
        self.arrange()

    def reset_columns(self) -> None:
        """Back to the columns and widths this view began with."""
        columns = self.table.columns
        self._settings.keep_columns(self._view, [c.key for c in columns if not c.hidden])
        self._settings.keep_widths(self._view, {c.key: c.width for c in columns})
        self.arrange()

    def arrange(self) -> None:
        """Puts order, choice and widths in force."""
        columns = self.table.columns
        known = {column.key: at for at, column in enumerate(columns)}
        keys = self._wanted_columns()
        widths = self._settings.widths(self._view)
        head = self.horizontalHeader()
        was_arranging, self._arranging = self._arranging, True
        # from left to right: a section moved later would shift the ones put before it
        order = [*keys, *(c.key for c in columns if c.key not in keys)]
        for visual, key in enumerate(order):
            head.moveSection(head.visualIndex(known[key]), visual)
            head.setSectionHidden(known[key], key not in keys)
            head.resizeSection(known[key], self._theme.px(widths.get(key, columns[known[key]].width)))
        self._arranging = was_arranging
        self._stretch()

    def _wanted_columns(self) -> list[str]:
        """The keys of the columns to be shown, from left to right: what a person chose as it is, else what there is room for."""
        columns = {column.key: column for column in self.table.columns}
        usual = [c.key for c in columns.values() if not c.hidden]
        chosen = self._only or self._settings.columns(self._view)
        keys = [key for key in chosen or () if key in columns] or usual
        if self._only is None and keys != usual:
            return keys
        own, room = self._settings.widths(self._view), self.viewport().width()
        least = {key: ELASTIC_LEAST if key == self._elastic else own.get(key, columns[key].width) for key in keys}
        for key in self._give_way:
            if sum(self._theme.px(width) for width in least.values()) <= room:
                break
            least.pop(key, None)
        return list(least)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self.model() is not None:
            if self._give_way and tuple(self._wanted_columns()) != self.shown_columns():
                self.arrange()
            self._stretch()
        self._set_row_height()
        if self.state() == QAbstractItemView.State.EditingState:
            # what is being typed stays in sight when the totals below take another line
            self.scrollTo(self.currentIndex())

    def _stretch(self) -> None:
        """Gives the elastic column the room the others leave, and the roomy ones theirs out of its surplus."""
        columns, head = self.table.columns, self.horizontalHeader()
        known = {column.key: at for at, column in enumerate(columns) if not head.isSectionHidden(at)}
        at = known.get(self._elastic)
        if at is None:
            return
        own = self._settings.widths(self._view)
        # a scroll bar that comes or goes while the columns are being arranged leads here too: what is half done is no choice
        was_arranging, self._arranging = self._arranging, True
        for key in self._roomy:
            if key in known and key not in own:
                head.resizeSection(known[key], self._theme.px(columns[known[key]].width))
        room = self.viewport().width() - sum(head.sectionSize(i) for i in known.values() if i != at)
        for key in self._roomy:
            if key in known and key not in own and room < self._theme.px(ELASTIC_LEAST):
                # narrowed before the last column is cut: a text ends in dots, a figure would be another one
                less = min(self._theme.px(ELASTIC_LEAST) - room, head.sectionSize(known[key]) // 2)
                head.resizeSection(known[key], head.sectionSize(known[key]) - less)
                room += less
        for key, most in self._roomy.items():
            if key in known and key not in own:
                wanted = self._theme.px(most - columns[known[key]].width)
                more = max(0, min(wanted, room - self._theme.px(columns[at].width)))
                head.resizeSection(known[key], head.sectionSize(known[key]) + more)
                room -= more
        head.resizeSection(at, max(self._theme.px(ELASTIC_LEAST), room))
        self._arranging = was_arranging

    def _set_row_height(self) -> None:
        height = self._theme.row_height(self.window().height())
        if self.verticalHeader().defaultSectionSize() != height:
            self.verticalHeader().setMinimumSectionSize(height)
            self.verticalHeader().setDefaultSectionSize(height)

    def _on_section_resized(self, at: int, old: int, new: int) -> None:
        if self._arranging or self.model() is None or new == 0:
            return
        widths = self._settings.widths(self._view)
        widths[self.table.columns[at].key] = round(new / self._theme.scale)
        self._settings.keep_widths(self._view, widths)
        if self.table.columns[at].key != self._elastic:
            self._stretch()

    def _on_section_moved(self, at: int, old: int, new: int) -> None:
        if not self._arranging and self._only is None:
            self._settings.keep_columns(self._view, self.shown_columns())

    def column_menu(self) -> QMenu:
        """The columns to choose from; checked are those on screen."""
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        shown = self.shown_columns()
        for column in self.table.columns:
            if column.title or column.unit:
                action = menu.addAction(f"{column.head}  ·  {column.tip}" if column.tip else column.head)
                action.setCheckable(True)
                action.setChecked(column.key in shown)
                action.setEnabled(column.key != self._elastic)
                action.toggled.connect(lambda on, key=column.key: self._on_column_toggled(key, on))
        menu.addSeparator()
        menu.addAction(tr("Columns as they were at first")).triggered.connect(self.reset_columns)
        return menu

    def _on_column_toggled(self, key: str, on: bool) -> None:
        shown = [shown for shown in self.shown_columns() if shown != key]
        self.choose_columns([*shown, key] if on else shown)

    def _on_head_menu_requested(self, point: QPoint) -> None:
        self.column_menu().popup(self.horizontalHeader().mapToGlobal(point))

    def _on_columns_asked(self) -> None:
        self.column_menu().popup(self.mapToGlobal(self.rect().topLeft()))

    def _on_theme_changed(self) -> None:
        # what is out of sight is dressed when it is shown next
        self._is_dressed = self.isVisible() or self.model() is None
        if self._is_dressed:
            self._restyle()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not self._is_dressed:
            self._is_dressed = True
            self._restyle()

    def _restyle(self) -> None:
        delegate = self.itemDelegate()
        if isinstance(delegate, GridDelegate):
            delegate.restyle()
        self.horizontalHeader().setFont(self._theme.font(11))
        self._set_row_height()
        if self.model() is not None:
            self.arrange()
        self.viewport().update()

    # keys -------------------------------------------------------------------------------------------------------------

    def chosen_rows(self) -> list[int]:
        """The places of the selected rows, from above."""
        return sorted(index.row() for index in self.selectionModel().selectedRows())

    def copied(self, *, head: bool = True) -> str:
        """The selected rows as text, columns as on screen."""
        model = self.table
        columns = tuple(model.columns[model.place_of(key)] for key in self.shown_columns())
        columns = tuple(column for column in columns if column.title or column.unit)
        return as_text(columns, [model.row(place) for place in self.chosen_rows()], head=head)

    def copy(self, *, head: bool = True) -> None:
        """Puts the selected rows on the clipboard."""
        QGuiApplication.clipboard().setText(self.copied(head=head))

    @staticmethod
    def clipboard_text() -> str:
        """What is on the clipboard as text."""
        return QGuiApplication.clipboard().text()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # a line edit hands Enter and Escape on to its parent after the delegate has seen them
        editing = self.state() == QAbstractItemView.State.EditingState and not self.hasFocus()
        if editing or not self._answers(event):
            super().keyPressEvent(event)

    def _answers(self, event: QKeyEvent) -> bool:
        """Does what a key asks for; whether it asked for anything of ours."""
        current, key = self.currentIndex(), event.key()
        shifted = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
        if event.matches(QKeySequence.StandardKey.Copy) or (key == Qt.Key.Key_C and event.modifiers() == shifted):
            self.copy(head=event.modifiers() != shifted)
        elif event.matches(QKeySequence.StandardKey.Paste):
            self.paste_asked.emit(self.clipboard_text())
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and current.isValid():
            if self.enter_edits and current.flags() & Qt.ItemFlag.ItemIsEditable:
                self.edit(current)
            else:
                self.entered.emit(current.row())
        elif key == Qt.Key.Key_Space and current.isValid():
            self.toggle_asked.emit(current.row())
        elif key == Qt.Key.Key_Delete and self.chosen_rows():
            self.removal_asked.emit(self.chosen_rows())
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and event.modifiers() == Qt.KeyboardModifier.AltModifier:
            self.move_asked.emit(current.row(), -1 if key == Qt.Key.Key_Up else 1)
        elif key == Qt.Key.Key_Escape and current.isValid():
            self.given_up.emit(current)
        elif _is_typing(event) and current.isValid() and not current.flags() & Qt.ItemFlag.ItemIsEditable:
            self.typed.emit(current.row(), event.text())
        else:
            return False
        return True

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        """Goes on from where was typed: Tab to the next editable cell, Enter to the one below; stays where it was wrong."""
        hints = QAbstractItemDelegate.EndEditHint
        super().closeEditor(editor, hints.NoHint)
        delegate = self.itemDelegate()
        if hint == hints.RevertModelCache or (isinstance(delegate, GridDelegate) and not delegate.taken):
            return
        if hint == hints.SubmitModelCache:
            self.go_to(self._below())
        elif hint in (hints.EditNextItem, hints.EditPreviousItem):
            self.go_to(self._beside(1 if hint == hints.EditNextItem else -1))

    def go_to(self, index: QModelIndex) -> None:
        """Makes a cell the current one and its row the only chosen one, whatever keys are held: a command's Ctrl would
        otherwise add the row to the choice."""
        if index.isValid():
            self.selectionModel().setCurrentIndex(index, _ONE_ROW)

    def _below(self) -> QModelIndex:
        """The next editable cell in the same column, else the current one."""
        current, model = self.currentIndex(), self.table
        for place in range(current.row() + 1, model.rowCount()):
            index = model.index(place, current.column())
            if model.flags(index) & Qt.ItemFlag.ItemIsEditable:
                return index
        return current

    def _beside(self, step: int) -> QModelIndex:
        """The next or previous editable cell, row by row as read."""
        model, current = self.table, self.currentIndex()
        columns = [model.place_of(key) for key in self.shown_columns()]
        cells = [(place, at) for place in range(model.rowCount()) for at in columns]
        start = cells.index((current.row(), current.column()))
        for place, at in cells[start + 1 :] if step > 0 else reversed(cells[:start]):
            index = model.index(place, at)
            if model.flags(index) & Qt.ItemFlag.ItemIsEditable:
                return index
        return current

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        delegate = self.itemDelegate()
        if self.model() is not None and isinstance(delegate, GridDelegate):
            painter = QPainter(self.viewport())
            delegate.paint_rules(painter, self.viewport().rect())
            painter.end()

    def viewportEvent(self, event: QEvent) -> bool:
        """Shows the whole text of a cell that is cut, beside what the model has to say."""
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            index = self.indexAt(event.pos())
            if index.isValid():
                QToolTip.showText(event.globalPos(), self.tip_of(index), self.viewport())
                return True
        return super().viewportEvent(event)

    def tip_of(self, index: QModelIndex) -> str:
        """The cell's tip, with its whole text first where that is cut."""
        text = self.table.cell(index.row(), index.column()).strip()
        cut = QFontMetrics(self._theme.font()).horizontalAdvance(text) > self.visualRect(index).width() - 2 * MARGIN
        tip = str(index.data(Qt.ItemDataRole.ToolTipRole) or "")
        return "\n".join(dict.fromkeys(part for part in (text if cut else "", *tip.split("\n")) if part))

    def why(self) -> Why | None:
        """The sum of the current cell, with the figures of its row."""
        index = self.currentIndex()
        if not index.isValid():
            return None
        column, row = self.table.columns[index.column()], self.table.row(index.row())
        name = self.table.sum_of(row, column)
        if not name or not self.table.cell(index.row(), index.column()).strip():
            return None
        rect = self.visualRect(index)
        place = QRect(self.viewport().mapToGlobal(rect.topLeft()), rect.size())
        return Why(name, "" if column.why is None else column.why(row), place)

    def context_actions(self) -> list[QAction]:
        """What the menu of a cell offers."""
        actions = [action for action in self.actions() if action.isVisible()]
        asking = self.window().findChild(QAction, "why")
        if asking is not None and self.why() is not None:
            actions.insert(0, asking)
        return [*actions, self.choose_columns_action] if actions else []

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        actions = self.context_actions()
        if actions:
            menu = QMenu(self)
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            menu.addActions(actions)
            menu.popup(event.globalPos())


def _is_typing(event: QKeyEvent) -> bool:
    """Whether a key writes a character, and is no command."""
    held = event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier)
    return held == Qt.KeyboardModifier.NoModifier and event.text().isprintable() and event.text() != ""
