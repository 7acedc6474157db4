# SPDX-License-Identifier: MIT
"""One running program per person and screen: a second start hands its book to the first and ends, a book that the system hands
over comes up in it."""

from __future__ import annotations

import getpass
import hashlib
import os
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, Signal
from PySide6.QtGui import QFileOpenEvent, QGuiApplication
from PySide6.QtNetwork import QLocalServer, QLocalSocket
from PySide6.QtWidgets import QApplication

WAIT_MS = 1500


def server_name(settings_file: str) -> str:
    """The same for every start of this person on this screen with these settings."""
    screen = os.environ.get("WAYLAND_DISPLAY") or os.environ.get("DISPLAY") or ""
    told = f"{getpass.getuser()}\n{QGuiApplication.platformName()}\n{screen}\n{settings_file}"
    return "stillroom-" + hashlib.sha256(told.encode()).hexdigest()[:16]


def hand_over(name: str, book: Path | None) -> bool:
    """Asks a running program to come up with this book; False where none is running."""
    socket = QLocalSocket()
    socket.connectToServer(name)
    if not socket.waitForConnected(WAIT_MS):
        return False
    socket.write((str(book.absolute()) if book else "").encode() + b"\n")
    socket.waitForBytesWritten(WAIT_MS)
    # the other end closes once it has read, so that ending here cannot lose the line
    answered = socket.waitForDisconnected(WAIT_MS) or socket.state() == QLocalSocket.LocalSocketState.UnconnectedState
    return bool(answered)


class Program(QApplication):
    """The application. Where the system hands a book over by an event instead of an argument, as macOS does: `opened(path)`; one
    that came before anybody listened is `wanted`."""

    opened = Signal(object)

    def __init__(self, arguments: list[str]) -> None:
        super().__init__(arguments)
        self.wanted: Path | None = None

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QFileOpenEvent) and event.file():
            self.wanted = Path(event.file())
            self.opened.emit(self.wanted)
            return True
        return super().event(event)


class Instance(QObject):
    """The first start: listens for others. `asked(path or None)`."""

    asked = Signal(object)

    def __init__(self, name: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._server = QLocalServer(self)
        self._server.setSocketOptions(QLocalServer.SocketOption.UserAccessOption)
        self._server.newConnection.connect(self._on_server_new_connection)
        if not self._server.listen(name):
            # what a crashed program left behind
            QLocalServer.removeServer(name)
            self._server.listen(name)

    @property
    def is_listening(self) -> bool:
        """Whether a second start will find this one."""
        return self._server.isListening()

    def close(self) -> None:
        """Stops listening."""
        self._server.close()

    def _on_server_new_connection(self) -> None:
        while (socket := self._server.nextPendingConnection()) is not None:
            socket.readyRead.connect(lambda s=socket: self._on_socket_ready_read(s))
            socket.disconnected.connect(socket.deleteLater)

    def _on_socket_ready_read(self, socket: QLocalSocket) -> None:
        if not socket.canReadLine():
            return
        text = bytes(socket.readLine().data()).decode().strip()
        socket.disconnectFromServer()
        self.asked.emit(Path(text) if text else None)
