# SPDX-License-Identifier: MIT
"""The one road for whatever may take longer than a tenth of a second: it runs beside the screen, tells how far it is, and can be
cancelled.

How it is used, through `App.work`:

- `run(call, then, what="Exporting")`: `call(progress)` runs in the worker, one after the other. `progress(done, of)` is called as
  often as one likes, from the worker; it answers whether to go on. Where it answers False the call takes back what it had half
  made and raises `db.Cancelled`. `then(answer)` gets the value, or the BookError, OSError or UnreadTable that was raised, on the
  screen's thread. Work without a `what` is not told of and has no cancel button; it is cancelled all the same by `stop`, and
  runs in a line of its own, so that the regular backup does not wait for an export.
- `wait(call, what="Opening …")`: as `run` for what has to be there before anything else can go on: the window is drawn meanwhile,
  and the value is returned or the error raised.
- `slices(pieces, then, what=…)`: for what must stay on the screen's thread: an iterator of (done, of) is led on in pieces shorter
  than a frame; where it is cancelled it is closed, so that its `finally` takes back what it began. `then(None)` or `then(error)`.
- `turn()`: between two long pieces on the screen's thread that are one to the hand, as a page is built and then shown: what is to
  be drawn is drawn; what was pressed waits until all of it is there.
- `cancel()` stops what is told of; `stop()` stops everything and waits until it has stopped.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic
from typing import Any, TypeVar

from PySide6.QtCore import QEventLoop, QObject, QThreadPool, QTimer, Signal

from db import BookError, Cancelled, Progress
from desktop.table_files import UnreadTable

V = TypeVar("V")
# Work that is done sooner is not told of; what a step is told at most as often as; how long a piece may take; how long a wait
# for something short goes without a turn of the event loop.
TOLD_AFTER_MS, STEP_S, PIECE_S, SHORT_S = 250, 0.05, 0.012, 0.06


@dataclass(eq=False, slots=True)
class _Job:
    what: str
    then: Callable[[Any], None]
    cancelled: threading.Event = field(default_factory=threading.Event)
    is_dead: bool = False
    is_done: bool = False
    at: tuple[int, int] = (0, 0)
    stepped: float = 0.0
    pieces: Iterator[tuple[int, int]] | None = None


class LongWork(QObject):
    """Runs long work. Signals: `told(what, done, of)` with of 0 where nobody knows how much there is, `ended()` when nothing that
    was told of runs any more, `waiting(yes)` while the window can only wait, `turned()` after a turn: what could not be begun in
    it can be now."""

    told = Signal(str, int, int)
    ended = Signal()
    waiting = Signal(bool)
    turned = Signal()
    _stepped = Signal(object)
    _done = Signal(object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._jobs: list[_Job] = []
        self._shown: _Job | None = None
        self._is_waiting = False
        self._turns = 0
        self._late: list[tuple[_Job, Any]] = []
        self._loop = QEventLoop(self)
        self._sliced: deque[_Job] = deque()
        self._slicing = QTimer(self, singleShot=True, interval=0)
        self._slicing.timeout.connect(self._lead_next)
        self._worker, self._quiet, self._other = self._pools = QThreadPool(self), QThreadPool(self), QThreadPool(self)
        for pool in self._pools:
            pool.setMaxThreadCount(1)
        self._stepped.connect(self._on_job_stepped)
        self._done.connect(self._on_job_done)
        self._telling = QTimer(self, singleShot=True, interval=TOLD_AFTER_MS)
        self._telling.timeout.connect(self._tell)

    @property
    def is_waiting(self) -> bool:
        """Whether the window waits for something and can begin nothing else."""
        return self._is_waiting

    @property
    def what(self) -> str:
        """What is told of and runs, '' where there is nothing."""
        return next((job.what for job in self._jobs if job.what and not job.is_dead), "")

    def has(self, what: str) -> bool:
        """Whether such work runs or waits for its turn."""
        return any(job.what == what and not job.is_dead for job in self._jobs)

    # beside the screen --------------------------------------------------------------------------------------------------

    def run(self, call: Callable[[Progress], Any], then: Callable[[Any], None], what: str = "") -> None:
        """Runs a call in the worker, after what is running there."""
        job = self._begun(what, then)
        (self._worker if what else self._quiet).start(lambda: self._run(job, call))

    def _run(self, job: _Job, call: Callable[[Progress], Any]) -> None:
        answer: Any = Cancelled(Path())
        try:
            if not job.cancelled.is_set():
                answer = call(lambda done, of: self._step(job, done, of))
                job.is_done = True
        except (BookError, OSError, UnreadTable) as error:
            answer = error
        except BaseException:
            # a fault of the program goes its own way; nobody waits for this any more
            job.is_dead = True
            raise
        finally:
            self._done.emit(job, answer)

    def _step(self, job: _Job, done: int, of: int) -> bool:
        now = monotonic()
        if now - job.stepped >= STEP_S or 0 < of <= done:
            job.at, job.stepped = (done, of), now
            self._stepped.emit(job)
        return not job.cancelled.is_set()

    def wait(self, call: Callable[[Progress], V], what: str = "") -> V:
        """Runs a call beside the screen and returns what comes of it, or raises what it raised."""
        ready, found = threading.Event(), []

        def run(progress: Progress) -> None:
            try:
                found.append((True, call(progress)))
            except BaseException as error:  # whoever waits is told, of a fault of the program too
                found.append((False, error))
            finally:
                ready.set()

        job = self._begun(what, lambda _: self._loop.quit())
        self._other.start(lambda: self._run(job, run))
        if not ready.wait(SHORT_S):
            self._set_waiting(True)
            self._loop.exec()
            # the program may be left meanwhile, which ends the loop before the work
            self._other.waitForDone()
            self._set_waiting(False)
        if job in self._jobs:
            self._end(job)
        job.is_dead = True
        if not found:
            raise Cancelled(Path())
        is_good, value = found[0]
        if not is_good:
            raise value
        if job.cancelled.is_set() and hasattr(value, "close"):
            value.close()
            raise Cancelled(Path())
        return value  # type: ignore[no-any-return]

    def _set_waiting(self, yes: bool) -> None:
        self._is_waiting = yes
        self.waiting.emit(yes)

    def turn(self) -> None:
        """Lets what is waiting be drawn in the middle of something; nothing else can be begun meanwhile, and what the worker
        brings is handed over after it."""
        was_waiting, self._is_waiting = self._is_waiting, True
        self._turns += 1
        self._loop.processEvents(QEventLoop.ProcessEventsFlag.ExcludeUserInputEvents)
        self._turns -= 1
        self._is_waiting = was_waiting
        if self._late:
            QTimer.singleShot(0, self, self._hand_over)
        self.turned.emit()

    def _hand_over(self) -> None:
        while self._late and not self._turns:
            self._on_job_done(*self._late.pop(0))

    # on the screen's thread, in pieces ----------------------------------------------------------------------------------

    def slices(self, pieces: Iterator[tuple[int, int]], then: Callable[[Any], None], what: str = "") -> None:
        """Leads an iterator on between the turns of the event loop until it ends."""
        job = self._begun(what, then)
        job.pieces = pieces
        self._sliced.append(job)
        self._slicing.start()

    def _lead_next(self) -> None:
        """One piece of one of them, so that several together hold nothing up either; then the next in its turn."""
        job = self._sliced.popleft()
        if self._sliced:
            self._slicing.start()
        if not job.is_dead and job.pieces is not None:
            self._lead(job, job.pieces)

    def _lead(self, job: _Job, pieces: Iterator[tuple[int, int]]) -> None:
        answer: Any = None
        until = monotonic() + PIECE_S
        try:
            while monotonic() < until:
                if job.cancelled.is_set():
                    pieces.close()  # type: ignore[attr-defined]
                    answer = Cancelled(Path())
                    break
                step = next(pieces, None)
                if step is None:
                    break
                job.at = step
            else:
                if monotonic() - job.stepped >= STEP_S:
                    job.stepped = monotonic()
                    self._on_job_stepped(job)
                self._sliced.append(job)
                self._slicing.start()
                return
        except (BookError, OSError) as error:
            answer = error
        except BaseException:
            job.is_dead = True
            self._end(job)
            raise
        self._on_job_done(job, answer)

    # stopping -----------------------------------------------------------------------------------------------------------

    def cancel(self) -> None:
        """Asks what is told of to stop; its `then` gets `db.Cancelled`."""
        for job in self._jobs:
            if job.what:
                job.cancelled.set()

    @property
    def is_idle(self) -> bool:
        """Whether nothing runs or waits, told of or not."""
        return not self._jobs

    def stop(self) -> str:
        """Stops everything, waits until it has stopped, and returns what was told of and is not done: some calls come to their
        end before they are asked again. No `then` is called for it any more."""
        begun = tuple(self._jobs)
        for job in begun:
            job.is_dead = True
            job.cancelled.set()
        for pool in self._pools:
            pool.waitForDone()
        self._loop.quit()
        for job in begun:
            if job.pieces is not None:
                # a piece that stops its own work is in the middle of itself, and ends by itself
                with suppress(ValueError):
                    job.pieces.close()  # type: ignore[attr-defined]
            self._end(job)
        return next((job.what for job in begun if job.what and not job.is_done), "")

    # telling ------------------------------------------------------------------------------------------------------------

    def _begun(self, what: str, then: Callable[[Any], None]) -> _Job:
        job = _Job(what, then)
        self._jobs.append(job)
        if what:
            self._telling.start()
        return job

    def _end(self, job: _Job) -> None:
        if job in self._jobs:
            self._jobs.remove(job)
        if not self.what:
            self._telling.stop()
            self._shown = None
            self.ended.emit()

    def _tell(self) -> None:
        self._shown = next((job for job in self._jobs if job.what), None)
        if self._shown is not None:
            self.told.emit(self._shown.what, *self._shown.at)

    def _on_job_stepped(self, job: _Job) -> None:
        if job is self._shown and not job.is_dead:
            self.told.emit(job.what, *job.at)

    def _on_job_done(self, job: _Job, answer: Any) -> None:
        if self._turns:
            # a page is just being made or shown, or a book put away
            self._late.append((job, answer))
            return
        self._end(job)
        if self.what and not self._telling.isActive():
            self._tell()
        if not job.is_dead:
            job.then(answer)
