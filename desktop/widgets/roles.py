# SPDX-License-Identifier: MIT
"""What a widget that draws itself is to a screen reader: Qt knows the role of its own widgets only.

A widget says it as `accessible_role`; its name and description are those every widget has.
"""

from __future__ import annotations

from functools import cache

from PySide6.QtCore import QObject
from PySide6.QtGui import QAccessible, QAccessibleInterface
from PySide6.QtWidgets import QAccessibleWidget, QWidget


@cache
def install() -> None:
    """Tells Qt whom to ask, once for the process."""
    QAccessible.installFactory(_interface)


def _interface(_class: str, thing: QObject | None) -> QAccessibleInterface | None:
    role = getattr(thing, "accessible_role", None)
    # asked for its class and then for each one above: the first answer stands
    if isinstance(thing, QWidget) and isinstance(role, QAccessible.Role):
        return QAccessibleWidget(thing, role)
    return None
