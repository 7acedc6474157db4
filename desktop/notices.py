# SPDX-License-Identifier: MIT
"""Tells on the desktop that strips have come due, where the window is not in front: what is told, when, and once.

While a window of ours has the keyboard, nothing is sent: the due line says it already, and what stood in it then counts as
told. Outside bench hours nothing is told and nothing counts: who left the window in front over night has not seen it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication

from db import Due
from desktop import figures
from desktop.language import tr_count
from desktop.session import Session
from desktop.settings import TELL_DUE, Settings
from perfumery import hours_of, is_open

if TYPE_CHECKING:
    from desktop.notice_bus import NoticeBus  # imported with the first notice: most starts send none

NAMED_AT_MOST = 6
Point = tuple[int, float]


def point_of(due: Due) -> Point:
    """What is told once: the strip and its due time, seconds after the dip."""
    return due.strip.key or 0, due.point.due_s


@dataclass(frozen=True, slots=True)
class DueNotice:
    """What a notice tells: strips due, the one due longest first."""

    dues: tuple[Due, ...]
    now: datetime

    @property
    def title(self) -> str:
        """'3 strips due'."""
        return tr_count(len(self.dues), "{n} strip due", "{n} strips due")

    @property
    def body(self) -> str:
        """'P04 2 h (41 min late), P06 2 h and 417 30 min'."""
        return figures.listed((self._named(due) for due in self.dues), NAMED_AT_MOST)

    def _named(self, due: Due) -> str:
        late = f" ({figures.lateness((self.now - due.at) / timedelta(seconds=1))})" if due.point.late else ""
        return f"{due.strip.code} {figures.due_text(due.point.due_s)}{late}"


def to_tell(
    dues: Sequence[Due], habits: Mapping[str, float], now: datetime,
    told: AbstractSet[Point], shown: AbstractSet[Point] = frozenset(), seen_till: datetime | None = None,
) -> DueNotice | None:  # fmt: skip
    """The notice to send now; None where nothing new is due or the bench is closed.

    `told` are the points told before, `shown` those in the notice that still stands on the desktop: it is replaced, so what is
    still due of it is told again. What was due by `seen_till` stood in the due line while somebody looked.
    """
    if not is_open(now.time(), hours_of(habits)):
        return None
    due = [one for one in dues if one.at <= now]
    new = [one for one in due if point_of(one) not in told and (seen_till is None or one.at > seen_till)]
    if not new:
        return None
    return DueNotice(tuple(one for one in due if one in new or point_of(one) in shown), now)


def _is_in_front() -> bool:
    window = QApplication.activeWindow()
    return window is not None and not window.isMinimized()


class DueNotices(QObject):
    """Follows the ticks of the open book. `chosen(strip)` when the person clicked the notice of it."""

    chosen = Signal(int)

    def __init__(self, settings: Settings, parent: QObject | None = None, *, is_active: Callable[[], bool] | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self._is_active = is_active or _is_in_front
        self._session: Session | None = None
        self._told: dict[str, set[Point]] = {}
        self._seen_till: datetime | None = None
        self._shown: DueNotice | None = None
        self._bus: NoticeBus | None = None

    def watch(self, session: Session | None) -> None:
        """Follows this session from now on; None when its book is closed."""
        self._take_back()
        if self._session is not None:
            self._session.ticked.disconnect(self._on_session_ticked)
        self._session, self._seen_till = session, None
        if session is not None:
            session.ticked.connect(self._on_session_ticked)

    def _on_session_ticked(self, now: datetime) -> None:
        if self._session is None:
            return
        book = self._session.book
        habits = book.bottles.habits()
        if not self._settings.flag(TELL_DUE, True):
            self._take_back()
        elif not is_open(now.time(), hours_of(habits)):
            return
        elif self._is_active():
            self._seen_till = now
            self._take_back()
        else:
            told = self._told.setdefault(book.uid, set())
            shown = set() if self._shown is None else {point_of(due) for due in self._shown.dues}
            notice = to_tell(book.due(now), habits, now, told, shown, self._seen_till)
            if notice is not None:
                told.update(map(point_of, notice.dues))
                self._show(notice)

    def _show(self, notice: DueNotice) -> None:
        if self._bus is None:
            from desktop.notice_bus import NoticeBus

            self._bus = NoticeBus(self)
            self._bus.clicked.connect(self._on_bus_clicked)
            self._bus.gone.connect(self._on_bus_gone)
        self._shown = notice
        self._bus.show(notice.title, notice.body)

    def _take_back(self) -> None:
        if self._bus is not None and self._shown is not None:
            self._shown = None
            self._bus.take_back()

    def _on_bus_clicked(self) -> None:
        if self._shown is not None:
            self.chosen.emit(self._shown.dues[0].strip.key)

    def _on_bus_gone(self) -> None:
        self._shown = None
