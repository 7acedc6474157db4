# SPDX-License-Identifier: MIT
"""What a pane reads in pieces: at once as far as a frame or two go, the rest between the turns of the event loop."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from time import monotonic
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from desktop.long_work import LongWork

# What takes no longer is done at once, so that nothing flickers.
AT_ONCE_S = 0.02
_END = object()


class Working(Protocol):
    """A session, or whoever else knows where long work goes; None where there is no window."""

    @property
    def work(self) -> LongWork | None: ...


class Led:
    """Leads one thing of a pane on. What is begun anew takes the place of what was not at its end."""

    def __init__(self, of: Working) -> None:
        self._of = of
        self._pieces: Iterator[object] | None = None
        self._then: Callable[[], object] = lambda: None

    @property
    def is_going(self) -> bool:
        """Whether it was begun and is not at its end."""
        return self._pieces is not None

    def lead(self, pieces: Iterator[object], then: Callable[[], object]) -> None:
        """Leads pieces of some ms each to their end, and then calls."""
        self._pieces, self._then = pieces, then
        work, until = self._of.work, monotonic() + AT_ONCE_S
        while self._has_more(pieces):
            if work is not None and monotonic() > until:
                work.slices(self._rest(pieces), _raise)
                return

    def finish(self) -> None:
        """Leads what is going to its end now, for somebody who needs all of it."""
        pieces = self._pieces
        while pieces is not None and self._has_more(pieces):
            pass

    def drop(self) -> None:
        """Leaves what is going as it is."""
        self._pieces = None

    def _rest(self, pieces: Iterator[object]) -> Iterator[tuple[int, int]]:
        while self._has_more(pieces):
            yield 0, 0

    def _has_more(self, pieces: Iterator[object]) -> bool:
        """Leads a piece on, where nothing else was begun since; whether there may be another."""
        if self._pieces is not pieces:
            return False
        try:
            if next(pieces, _END) is not _END:
                return True
        except BaseException:
            self._pieces = None
            raise
        if self._pieces is pieces:
            self._pieces = None
            self._then()
        return False


def _raise(answer: Any) -> None:
    """What a piece raised is a fault like that of any other read."""
    if isinstance(answer, Exception):
        raise answer
