# SPDX-License-Identifier: MIT
"""A service that shows notices, as a desktop has one: run in a process of its own on a private bus, it prints what it is asked.

It takes its calls through Qt's own D-Bus part, which refuses what is not of the signature the specification gives.
"""

import json
import os
import sys

from PySide6.QtCore import ClassInfo, QCoreApplication, QObject, QSocketNotifier, Signal, Slot
from PySide6.QtDBus import QDBusConnection

NAME, PATH = "org.freedesktop.Notifications", "/org/freedesktop/Notifications"


def tell(*what: object) -> None:
    sys.stdout.write(f"{json.dumps(what)}\n")
    sys.stdout.flush()


@ClassInfo({"D-Bus Interface": NAME})
class Service(QObject):
    NotificationClosed = Signal("uint", "uint")
    ActionInvoked = Signal("uint", str)

    def __init__(self) -> None:
        super().__init__()
        self._last = 0

    @Slot(str, "uint", str, str, str, "QStringList", "QVariantMap", int, result="uint")
    def Notify(self, name, replaces, icon, title, body, actions, hints, expires):  # type: ignore[no-untyped-def]
        self._last += not replaces
        tell("notify", replaces, title, body, actions, sorted(hints))
        return replaces or self._last

    @Slot("uint")
    def CloseNotification(self, number: int) -> None:
        tell("close", number)
        self.NotificationClosed.emit(number, 3)


def main() -> None:
    app = QCoreApplication(sys.argv)
    service, bus = Service(), QDBusConnection.sessionBus()
    options = QDBusConnection.RegisterOption
    assert bus.registerObject(PATH, service, options.ExportAllSlots | options.ExportAllSignals)
    assert bus.registerService(NAME)

    def obey() -> None:
        # nothing at all: whoever started this has gone
        for line in os.read(sys.stdin.fileno(), 4096).decode().splitlines() or ["end"]:
            what, _, number = line.partition(" ")
            if what == "click":
                service.ActionInvoked.emit(int(number), "default")
            elif what == "dismiss":
                service.NotificationClosed.emit(int(number), 2)
            else:
                app.quit()

    heard = QSocketNotifier(sys.stdin.fileno(), QSocketNotifier.Type.Read)
    heard.activated.connect(obey)
    tell("ready")
    app.exec()


if __name__ == "__main__":
    main()
