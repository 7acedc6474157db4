# SPDX-License-Identifier: MIT
"""One notice at a time on the desktop, over the session's bus (Desktop Notifications Specification), never waited for.

Without a bus, or where nothing on it shows notices, every call quietly does nothing; the next one tries again.
"""

from __future__ import annotations

import html
import logging
import os
from collections.abc import Mapping

from PySide6.QtCore import QObject, Signal
from PySide6.QtNetwork import QLocalSocket

from desktop import bus_words
from desktop.bus_words import DESTINATION, INTERFACE, MEMBER, NO_ANSWER, PATH, REPLY_TO, SENDER
from desktop.language import tr

BUS, BUS_PATH = "org.freedesktop.DBus", "/org/freedesktop/DBus"
NOTICES, NOTICES_PATH = "org.freedesktop.Notifications", "/org/freedesktop/Notifications"
DEFAULT = "default"
# Qt's Wayland part hands this to the desktop when a window asks to be raised; from memory.
TOKEN = "XDG_ACTIVATION_TOKEN"
_log = logging.getLogger("stillroom.notices")


class NoticeBus(QObject):
    """Shows a notice in place of the one before. `clicked` when the person chose it, `gone` when it is no longer shown."""

    clicked = Signal()
    gone = Signal()

    def __init__(self, parent: QObject | None = None, environment: Mapping[str, str] = os.environ) -> None:
        super().__init__(parent)
        self._environment = environment
        self._socket: QLocalSocket | None = None
        self._came = bytearray()
        self._is_greeted = False
        self._serial = 0
        self._waiting: tuple[str, str] | None = None
        self._asked = 0
        self._is_wanted = False
        self._shown = 0
        self._shower = ""

    @property
    def number(self) -> int:
        """The notice that stands on the desktop; 0 while there is none."""
        return self._shown

    def show(self, title: str, body: str) -> None:
        """Shows a notice; what was shown before goes."""
        if not self._is_greeted:
            # a bus that has not answered since the last notice will not now
            self._hang_up()
        self._waiting = title, body
        if self._socket is None:
            self._connect()
        else:
            self._notify()

    def take_back(self) -> None:
        """Takes the notice off the desktop, where it still stands."""
        self._waiting = None
        self._is_wanted = False
        if self._shown:
            self._call("CloseNotification", "u", (self._shown,), flags=NO_ANSWER)
            self._shown = 0

    # the line ---------------------------------------------------------------------------------------------------------

    def _connect(self) -> None:
        name = bus_words.socket_of(self._environment)
        if name is None or not hasattr(os, "getuid"):
            self._drop("this session tells of no bus")
            return
        self._socket = socket = QLocalSocket(self)
        if name.startswith(b"\0"):
            socket.setSocketOptions(QLocalSocket.SocketOption.AbstractNamespaceOption)
        socket.setServerName(os.fsdecode(name.lstrip(b"\0")))
        socket.connected.connect(self._on_socket_connected)
        socket.readyRead.connect(self._on_socket_ready_read)
        socket.errorOccurred.connect(self._on_socket_error_occurred)
        socket.connectToServer()

    def _on_socket_connected(self) -> None:
        self._write(b"\0AUTH EXTERNAL " + str(os.getuid()).encode().hex().encode() + b"\r\n")

    def _on_socket_error_occurred(self, error: QLocalSocket.LocalSocketError) -> None:
        self._drop(str(error))

    def _on_socket_ready_read(self) -> None:
        socket = self._socket
        if socket is None:
            return
        self._came += socket.readAll().data()
        if not self._is_greeted:
            line, end, rest = self._came.partition(b"\r\n")
            if not end:
                return
            if not line.startswith(b"OK"):
                self._drop(repr(line))
                return
            self._came = rest
            self._greet()
        try:
            while self._socket is socket and (message := bus_words.take(self._came)) is not None:
                self._take(message)
        except bus_words.Garbled as fault:
            self._drop(str(fault))

    def _greet(self) -> None:
        self._is_greeted = True
        self._write(b"BEGIN\r\n")
        self._call("Hello", to=BUS)
        rule = f"type='signal',interface='{NOTICES}',path='{NOTICES_PATH}'"
        self._call("AddMatch", "s", (rule,), to=BUS, flags=NO_ANSWER)
        self._notify()

    def _notify(self) -> None:
        if self._waiting is None:
            return
        title, body = self._waiting
        self._waiting, self._is_wanted = None, True
        hints = {"desktop-entry": ("s", "stillroom"), "suppress-sound": ("b", True)}
        # a body may be read as markup, a title never is
        told = ("Stillroom", self._shown, "", title, html.escape(body, quote=False), [DEFAULT, tr("Read")], hints, -1)
        self._asked = self._call("Notify", "susssasa{sv}i", told)

    def _call(
        self, member: str, signature: str = "", values: tuple[object, ...] = (), *, to: str = NOTICES, flags: int = 0
    ) -> int:
        self._serial += 1
        path = BUS_PATH if to == BUS else NOTICES_PATH
        fields = {PATH: path, INTERFACE: to, MEMBER: member, DESTINATION: to}
        self._write(bus_words.call(self._serial, fields, signature, values, flags=flags))
        return self._serial

    def _write(self, data: bytes) -> None:
        if self._socket is not None:
            self._socket.write(data)
            self._socket.flush()

    def _drop(self, why: str) -> None:
        _log.info("no desktop notice: %s", why)
        self._hang_up()
        self.gone.emit()

    def _hang_up(self) -> None:
        socket, self._socket = self._socket, None
        if socket is not None:
            socket.errorOccurred.disconnect(self._on_socket_error_occurred)
            socket.abort()
            socket.deleteLater()
        self._came.clear()
        self._is_greeted = False
        self._waiting, self._asked, self._shown = None, 0, 0

    # what comes -------------------------------------------------------------------------------------------------------

    def _take(self, message: bus_words.Message) -> None:
        fields, body = message.fields, message.body
        if message.kind in (bus_words.RETURN, bus_words.ERROR):
            if fields.get(REPLY_TO) == self._asked:
                self._take_answer(message)
        elif message.kind == bus_words.SIGNAL and body[:1] == (self._shown,) and fields.get(SENDER) == self._shower:
            member = fields.get(MEMBER)
            if member == "ActivationToken":
                os.environ[TOKEN] = str(body[1])
            elif member == "ActionInvoked":
                self.clicked.emit()
                os.environ.pop(TOKEN, None)
            elif member == "NotificationClosed":
                self._shown = 0
                self.gone.emit()

    def _take_answer(self, message: bus_words.Message) -> None:
        self._asked = 0
        if message.kind == bus_words.ERROR:
            _log.info("no desktop notice: %s %s", message.fields.get(bus_words.ERROR_NAME), message.body)
            self._shown = 0
            self.gone.emit()
        else:
            self._shown, self._shower = int(message.body[0]), message.fields.get(SENDER, "")
            if not self._is_wanted:
                self.take_back()
