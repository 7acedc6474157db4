# SPDX-License-Identifier: MIT
"""The conditions of a sitting as they are shown and typed, wherever one is begun: the room, and the nose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from desktop.language import tr
from perfumery.numbers import parse_humidity, parse_room

# {what is kept with a sitting: how a figure of the room is read}
ROOM: dict[str, Callable[[str], float]] = {"temp_c": parse_room, "rh_percent": parse_humidity}


@dataclass(frozen=True, slots=True)
class Mark:
    """What is ticked of a sitting: by its caption, what that means, and how it is told of a sitting that has it."""

    caption: str
    tip: str
    told: str


MARKS = {
    "cold": Mark(
        tr("nose has a cold"), tr("Whoever smells has a cold: what is read here may be weaker than it is."),
        tr("a cold in the nose"),
    ),
    "scented": Mark(
        tr("scent about"), tr("Another smell hangs in the room or on somebody: it may mix with what is read here."),
        tr("scent about"),
    ),
    "tired": Mark(tr("tired nose"), tr("Whoever smells is tired, or has smelled much already today."), tr("tired")),
}  # fmt: skip
