# SPDX-License-Identifier: MIT
"""What is seen and pressed at the balance: sizes for an eye 80 cm away, targets for gloved hands; what they do is `ScaleView`'s.

At a quarter of its size the name, the place and the figure must still be told at a glance.
"""

from __future__ import annotations

import re

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from desktop.language import tr
from desktop.models.plan_rows import PlanModel
from desktop.pages.weigh.by_cable import ByCable
from desktop.pages.weigh.scale_answers import Answers
from desktop.pages.weigh.scale_ask import AskRow
from desktop.session import Session
from desktop.theme import WEIGHING
from desktop.widgets.grid import Grid
from desktop.widgets.labels import ElidedLabel

BIG, SMALL, LARGE_KEY = 40, 28, 44
# px of height under which name and place, then target and field too, give room to the answers
TIGHT, TIGHTER = 740, 640
LOW = 460  # and under which they do even without answers: large text in a low window
BESIDE = ("mark", "name", "bottle", "place", "target", "read")
JUNIPER = "@juniper"  # stands in a sentence for the colour of its links
EVERY_BOTTLE = "weigh/every bottle"
LINK_KEY = "Alt+0"
_HREF = re.compile(r"href='([^']*)'")


def link_in(sentence: str) -> str | None:
    """Where the first link of a sentence goes; None without one."""
    found = _HREF.search(sentence)
    return None if found is None else found[1]


class FigureField(QLineEdit):
    """Keeps Enter to itself: the Enter that accepts the last figure must not finish the weighing too."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        super().keyPressEvent(event)
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()


class ScaleFace(QWidget):
    """The widgets; nothing in here touches the book."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self._told = "", "quiet"
        self.head = ElidedLabel(self)
        self.head.setProperty("role", "quiet")
        self.due = QPushButton(self)
        self.due.setProperty("role", "link")
        self.due.setToolTip(tr("F4: read it here; the weighing waits"))
        self.due.hide()
        self.every_bottle = QCheckBox(tr("every bottle by its code"), self)
        self.every_bottle.setAccessibleName(tr("Ask for the code of every bottle"))
        self.every_bottle.setToolTip(tr(
            "Its code is typed or scanned before its figure is taken. Where a material stands in more than one strength it is "
            "always asked for."
        ))
        self.every_bottle.setChecked(session.settings.flag(EVERY_BOTTLE, False))
        self.name, self.stock, self.where = QLabel(self), QLabel(self), QLabel(self)
        self.stock.setProperty("role", "quiet")
        self.caption = QLabel(self)
        self.caption.setProperty("role", "quiet")
        self.caption.setWordWrap(True)
        self.target = QLabel(self)
        self.target.setAccessibleDescription(tr("Target"))
        self.waits, self.asked = QLabel(self), QLabel(self)
        self.waits.setProperty("role", "amber")
        self.asked.setProperty("role", "quiet")
        for part in (self.waits, self.asked):
            part.setWordWrap(True)
            part.setTextFormat(Qt.TextFormat.PlainText)
        self.waits.hide()
        self.figure = FigureField(self)
        self.figure.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.cable = ByCable(session, self.figure, self, is_wanted=lambda: not self.asks_code)
        self.spilled = self._link_button(tr("Spilled…"), tr("F7: on the way, or out of the vessel"))
        came = tr("F6: what came of it stands in the field; nothing where it is empty")
        self.emptied = self._link_button(tr("Bottle is empty"), came)
        self.mistyped = self._link_button(tr("Mistyped…"), tr("F2: what the last figure was; the one typed stays on record"))
        self.said = QLabel(self)
        self.said.setWordWrap(True)
        self.said.setToolTip(tr("{key} takes the link", key=LINK_KEY))
        self.said.setTextFormat(Qt.TextFormat.RichText)
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self.ask = AskRow(session, self)
        self.answers = Answers(session, self)
        self.accept = QPushButton(tr("Accept"), self)
        self.accept.setProperty("role", "primary")
        self.accept.setToolTip("Enter")
        self.later = QPushButton(tr("Later"), self)
        self.later.setToolTip(tr("F9: this line after the others"))
        self.put_by = QPushButton(tr("Put it by"), self)
        self.put_by.setToolTip(tr("Esc: every accepted figure is kept; it is taken up again from the first view"))
        self.finish = QPushButton(tr("Finish"), self)
        self.finish.setProperty("role", "primary")
        self.give_up = self._link_button(tr("Give it up…"), tr("What is in goes to waste; the figures stay in the book"))
        self.model = PlanModel(self.step, self)
        self.grid = Grid(session.theme, session.settings, "weighing", "name", self)
        self.grid.setAccessibleName(tr("The plan"))
        self.grid.enter_edits = False
        self.grid.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.grid.show_model(self.model)
        self.grid.show_only(BESIDE)
        self.side = QStackedWidget(self)
        self.side.addWidget(self.grid)
        self._build()
        self.restyle()
        session.theme.changed.connect(self.restyle)

    def step(self) -> float:
        """The smallest step of the balance, g."""
        return 0.001

    @property
    def asks_code(self) -> bool:
        """Whether the field takes the code of a bottle now, no figure."""
        return False

    def _link_button(self, text: str, tip: str) -> QPushButton:
        made = QPushButton(text, self)
        made.setProperty("role", "link")
        made.setToolTip(tip)
        made.setAutoDefault(False)
        return made

    def _build(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(16)
        head.addWidget(self.head, 1)
        head.addStretch(0)
        head.addWidget(self.due)
        head.addWidget(self.every_bottle)
        named = QHBoxLayout()
        named.setSpacing(16)
        named.addWidget(self.name, 0, Qt.AlignmentFlag.AlignBottom)
        named.addWidget(self.stock, 0, Qt.AlignmentFlag.AlignBottom)
        named.addStretch(1)
        aside = QVBoxLayout()
        aside.setSpacing(0)
        for part in (self.spilled, self.emptied, self.mistyped):
            aside.addWidget(part)
        figure = QHBoxLayout()
        figure.setSpacing(24)
        figure.addWidget(self.figure, 1)
        figure.addLayout(aside)
        figure.addStretch(0)
        keys = QHBoxLayout()
        keys.setSpacing(12)
        for button in (self.accept, self.finish, self.later, self.put_by):
            button.setAutoDefault(False)
            keys.addWidget(button)
        keys.addStretch(1)
        keys.addWidget(self.give_up)
        big = QVBoxLayout()
        big.setContentsMargins(24, 12, 24, 16)
        big.setSpacing(6)
        big.addLayout(head)
        big.addLayout(named)
        big.addWidget(self.where)
        big.addWidget(self.waits)
        big.addStretch(1)
        for part in (self.caption, self.target, self.asked):
            big.addWidget(part)
        big.addLayout(figure)
        for part in (self.cable, self.said, self.ask, self.answers):
            big.addWidget(part)
        big.addStretch(2)
        big.addLayout(keys)
        left = QWidget(self)
        left.setLayout(big)
        left.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(left, 3)
        row.addWidget(self.side, 2)

    def restyle(self) -> None:
        """Takes the sizes from the theme anew: the figures are read from 80 cm."""
        theme = self.session.theme
        self.fit()
        self.figure.setMaximumWidth(theme.px(420))
        for button in (self.accept, self.later, self.put_by, self.finish):
            button.setMinimumSize(theme.px(LARGE_KEY * 3), theme.px(LARGE_KEY))
            button.setFont(theme.font(16))
        self.stock.setFont(theme.font(20))
        for part in (self.caption, self.waits, self.asked):
            part.setFont(theme.font(16))
        self.said.setFont(theme.font(16))
        self.say(*self._told)

    def fit(self) -> None:
        """Everything as large as there is room for."""
        theme = self.session.theme
        room = self.height() if self.answers.isVisibleTo(self) else theme.px(TIGHT)
        size = SMALL if room < theme.px(TIGHT) else BIG
        tighter = room < theme.px(TIGHTER) or self.height() < theme.px(LOW)
        self.name.setFont(theme.font(size, bold=True))
        self.where.setFont(theme.font(size))
        self.target.setFont(theme.font(WEIGHING * 0.7 if tighter else WEIGHING, bold=True))
        self.figure.setFont(theme.font(36 if tighter else 48))
        self.figure.setMinimumHeight(theme.px(LARGE_KEY if tighter else 72))
        for button in (self.spilled, self.emptied, self.mistyped):
            button.setMinimumHeight(theme.px(LARGE_KEY * (0.4 if tighter else 0.6)))

    def say(self, text: str, role: str) -> None:
        """Shows a sentence below the figure; colours are those of the theme in force, whenever it is switched."""
        self._told = text, role
        theme = self.session.theme
        colour = theme.token({"wrong": "brick", "amber": "amber", "quiet": "quiet"}[role])
        inked = text.replace(JUNIPER, theme.token("juniper"))
        self.said.setText(f"<span style='color:{colour}'>{inked}</span>" if text else "")

    @property
    def told(self) -> str:
        """The sentence shown, as it was said."""
        return self._told[0]

    @staticmethod
    def link(target: str, text: str) -> str:
        """A link for a sentence, with its key."""
        return f"<a style='color:{JUNIPER}' href='{target}'>{text}</a> ({LINK_KEY})"

    def focus_figure(self) -> None:
        """The focus to where a figure is typed."""
        self.figure.setFocus(Qt.FocusReason.OtherFocusReason)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.fit()
