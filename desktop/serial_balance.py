# SPDX-License-Identifier: MIT
"""A balance read on a serial port, so that no figure has to be copied from its display.

The port is read in a thread of its own, which knows nothing of Qt: a driver may hold it for seconds after the window is gone.
What it heard lies in a queue, emptied on the window's thread; so a balance that chatters costs one look at a time. The library
for ports is imported in that thread, and only there.
"""

from __future__ import annotations

import errno
import logging
import threading
import time
from collections import deque
from contextlib import suppress
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from desktop.language import tr
from desktop.models.cable import PARITIES, Cable, Lines, Steady
from perfumery.balance_line import sent

RETRY_S = 3.0
LOOK_MS = 40
READ_S = 0.1  # how long the thread waits for bytes, and so how soon it notices that it is to end
SILENT = 3  # so many of these waits without a byte: the next one begins a line
ASK_S = 0.3  # from one asking to the next
BEFORE_S = 2.0  # how long a listener that is to end is waited for, in the thread of the next one
KEPT = 64  # unread news at most; older ones are worth nothing
_log = logging.getLogger("stillroom")


class SerialBalance(QObject):
    """One port at a time. `opened` when the port is open, `heard(line, (mass_g, is_stable) or None)` for every line,
    `read(mass_g, is_stable)` for every line with a mass in it, `failed(sentence)` once when the port fails; it is tried again
    by itself until `stop`. Everything is emitted on the thread of the window."""

    opened = Signal()
    heard = Signal(str, object)
    read = Signal(float, bool)
    failed = Signal(str)

    def __init__(self, parent: QObject | None = None, *, retry_s: float = RETRY_S) -> None:
        super().__init__(parent)
        self._retry_s = retry_s
        self._listener: _Listener | None = None
        self._told = ""
        # a widget that goes away takes this with it: then nobody is left to say stop
        ending = self._ending = [threading.Event()]
        self.destroyed.connect(lambda: ending[0].set())
        self._timer = QTimer(self, interval=LOOK_MS)
        self._timer.timeout.connect(self._on_timer_timeout)

    @property
    def cable(self) -> Cable | None:
        """What it listens to, None while it does not."""
        return None if self._listener is None else self._listener.cable

    def start(self, cable: Cable) -> None:
        """Listens, in place of what it listened to before."""
        self.stop()
        self._told = ""
        self._listener = _Listener(cable, self._retry_s)
        self._ending[0] = self._listener.ended
        self._listener.start()
        self._timer.start()

    def stop(self) -> None:
        """Lets go of the port, without waiting for it."""
        self._timer.stop()
        self._ending[0].set()
        self._listener = None

    def _on_timer_timeout(self) -> None:
        listener = self._listener
        while listener is not None and listener is self._listener and listener.news:
            kind, *told = listener.news.popleft()
            if kind == "opened":
                self._told = ""
                self.opened.emit()
            elif kind == "line":
                line, found = told
                self.heard.emit(line, found)
                if found is not None:
                    self.read.emit(*found)
            elif told[0] != self._told:
                self._told = told[0]
                self.failed.emit(self._told)


class _Listener(threading.Thread):
    """Reads one port until it is to end; a daemon, because a driver that never returns must not hold the program."""

    def __init__(self, cable: Cable, retry_s: float) -> None:
        super().__init__(name=f"balance at {cable.port}", daemon=True)
        self.cable = cable
        self.ended = threading.Event()
        self.news: deque[tuple[Any, ...]] = deque(maxlen=KEPT)
        self._retry_s = retry_s

    def run(self) -> None:
        for other in threading.enumerate():
            if isinstance(other, _Listener) and other.cable.port == self.cable.port and other.ended.is_set() and other != self:
                other.join(BEFORE_S)  # it holds the port still
        was_open, said = False, ""
        faults = _faults()
        while not self.ended.is_set():
            try:
                port = self._open()
                was_open = True
                with port:
                    said = ""
                    self.news.append(("opened",))
                    self._listen(port)
            except faults as fault:
                sentence = sentence_of(fault, self.cable.port, was_open=was_open)
                if sentence != said:  # a cable that lies in a drawer for a day must not fill the log
                    _log.info("balance at %s: %r", self.cable.port, fault)
                said = sentence
                self.news.append(("failed", sentence))
            self.ended.wait(self._retry_s)

    def _open(self) -> Any:
        import serial

        cable = self.cable
        return serial.Serial(
            cable.port, cable.baud, bytesize=cable.bits, parity=PARITIES[cable.parity], stopbits=cable.stop,
            timeout=READ_S, write_timeout=1, exclusive=True,
        )  # fmt: skip

    def _listen(self, port: Any) -> None:
        ask = sent(self.cable.ask) or b""
        lines, steady = Lines(), Steady(self.cable.mark)
        silent, asked = 0, float("-inf")
        while not self.ended.is_set():
            if ask and time.monotonic() - asked >= ASK_S:
                port.write(ask)
                asked = time.monotonic()
            data = port.read(max(port.in_waiting, 1))
            silent = 0 if data else silent + 1
            if silent >= SILENT:
                lines.fell_silent()
            for line in lines.feed(data):
                self.news.append(("line", line, steady.take(line)))


def _faults() -> tuple[type[Exception], ...]:
    """What a port can raise: OSError and kinds of it, ValueError for a setting it cannot take, and where there are terminals
    an error of theirs that is no OSError."""
    try:
        from termios import error
    except ImportError:
        return OSError, ValueError
    return OSError, ValueError, error


def ports() -> list[str]:
    """The ports of this computer by name, those with something plugged in first."""
    from serial.tools.list_ports import comports

    found: list[Any] = []
    with suppress(OSError):
        found = sorted(comports(), key=lambda port: (port.vid is None, port.device))
    return [port.device for port in found]


def sentence_of(fault: Exception, port: str, *, was_open: bool) -> str:
    """Why the balance is not heard, and what to do."""
    code = getattr(fault, "errno", None)
    if isinstance(fault, ValueError):
        return tr(
            "The port {port} does not take these settings. Change its speed, bits or parity on the page of the balance.",
            port=port,
        )
    if code in (errno.EACCES, errno.EPERM):
        said = tr("You may not use the port {port}. Ask for the right to serial ports on this computer.", port=port)
    # the name stands in what the library says on Windows, where it gives no code (from memory, not tried)
    elif code in (errno.EAGAIN, errno.EBUSY) or "PermissionError" in str(fault):
        said = tr("The port {port} is in use by another program. Close that one; it is tried again by itself.", port=port)
    elif was_open:
        said = tr("The balance at {port} has gone. Look at its cable; it is heard again as soon as it is back.", port=port)
    else:
        said = tr("No balance is found at {port}. Look at its cable and its port; it is tried again by itself.", port=port)
    return " ".join((said, tr("Figures can be typed meanwhile.")))
