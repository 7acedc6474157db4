# SPDX-License-Identifier: MIT
"""The answers to a figure that is off, side by side with what each costs; Alt and its number takes one."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from desktop import figures
from desktop.language import tr
from desktop.models.answers import Answer
from desktop.session import Session
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.labels import label
from perfumery.overpour import TOP_UP

HEADS = (tr("Alt and its number takes one"), tr("in all, g"), tr("more, g"), tr("cost"), tr("further\nweighings"), "")
NOT_WORKED_OUT, WHEN_CHOSEN = "…", tr("worked out when it is chosen")
WORSE = tr("worse than the fault")


class Answers(QFrame):
    """`chosen(kind)` for one of the answers shown."""

    chosen = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.kinds: tuple[str, ...] = ()
        self.buttons: dict[str, QPushButton] = {}
        self._texts: list[str] = []
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("What can be done about it"))
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(12, 6, 12, 6)
        self._table: QWidget | None = None
        self.hide()

    @property
    def text(self) -> str:
        """Everything that is shown, row by row."""
        return "\n".join(self._texts)

    def show_answers(self, answers: Sequence[Answer], meant: float, *, unsearched: bool) -> None:
        """Shows these; `meant` is the share 0..1 that the line was to have; `unsearched` where few additions may do and were not
        worked out yet."""
        if self._table is not None:
            self._table.hide()
            self._table.deleteLater()
        self._table, self.buttons, self._texts = QWidget(self), {}, []
        grid = QGridLayout(self._table)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(1)
        grid.setColumnStretch(0, 1)
        heads = (*HEADS[:-1], tr("‰, meant\n{share}", share=figures.short(meant * 1000, 4)))
        for at, head in enumerate(heads):
            self._put(grid, 0, at, head, "caption")
        # the way that costs nothing comes first, throwing away last; between them what is not worked out yet
        shown: list[Answer | None] = list(answers)
        if unsearched:
            shown.insert(max(len(shown) - 1, 0), None)
        for at, answer in enumerate(shown):
            self._show(grid, 1 + 2 * at, at + 1, answer)
        self.kinds = tuple(TOP_UP if answer is None else answer.kind for answer in shown)
        self._column.addWidget(self._table)
        self.setVisible(bool(shown))
        self._table.show()

    def dismiss(self) -> None:
        """Nothing is off any more."""
        self.kinds, self.buttons, self._texts = (), {}, []
        self.hide()

    def take(self, number: int) -> None:
        """Chooses the answer of a number, from 1."""
        if 0 < number <= len(self.kinds):
            self.chosen.emit(self.kinds[number - 1])

    def _show(self, grid: QGridLayout, line: int, number: int, answer: Answer | None) -> None:
        kind = TOP_UP if answer is None else answer.kind
        title = tr("As few additions as will do") if answer is None else answer.title
        button = QPushButton(f"{number}  {title}")
        button.setProperty("role", "link")
        button.setToolTip(f"Alt+{number}")
        button.setAutoDefault(False)
        button.clicked.connect(lambda _=False: self.chosen.emit(kind))
        clicked_by_enter(button)
        self.buttons[kind] = button
        grid.addWidget(button, line, 0, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        if answer is None:
            figures = (NOT_WORKED_OUT,) * 5
        else:
            figures = (answer.total, answer.more, answer.money, answer.weighings, answer.share)
        for at, text in enumerate(figures, 1):
            self._put(grid, line, at, text, "amber" if at == 4 and answer is not None and not answer.is_worth else "")
        self._texts.append("  ".join((button.text(), *figures)))
        told = [WHEN_CHOSEN]
        if answer is not None:
            told = [text for text in (answer.detail, answer.stock, "" if answer.is_worth else WORSE) if text]
        if told:
            text = "; ".join(told)
            tone = "amber" if answer is not None and (answer.stock or not answer.is_worth) else "quiet"
            below = label(text, tone, wrap=True)
            below.setIndent(self._session.theme.px(18))
            grid.addWidget(below, line + 1, 0, 1, len(HEADS))
            self._texts.append(text)
            button.setAccessibleDescription(text)
        button.setAccessibleName("  ".join((title, *(f"{head} {text}".replace("\n", " ") for head, text in zip(
            HEADS[1:-1], figures, strict=False)))))  # fmt: skip

    def _put(self, grid: QGridLayout, line: int, at: int, text: str, role: str) -> None:
        made: QLabel = label(text, role)
        side = Qt.AlignmentFlag.AlignLeft if at == 0 else Qt.AlignmentFlag.AlignRight
        made.setAlignment(side | (Qt.AlignmentFlag.AlignVCenter if line else Qt.AlignmentFlag.AlignBottom))
        grid.addWidget(made, line, at)
