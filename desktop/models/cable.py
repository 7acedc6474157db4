# SPDX-License-Identifier: MIT
"""A balance on a cable, without the cable: how its port is set, where its lines end, when it stands still, and what a reading
may do to the field in which figures are typed."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass, fields

from desktop.models.balances import decimals
from desktop.settings import Settings
from perfumery.balance_line import LONGEST, Shown, shown_in

# The rates of EIA-232 ports that balances use, in baud.
BAUDS = (300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)
BITS = (8, 7)
PARITIES = {"none": "N", "even": "E", "odd": "O"}
STOPS = (1, 2)
# Without a mark of its own a line counts as stable when it is the third in a row with the same figure.
ROW = 3
# Readings that lie this many steps apart are two readings, not one that flickers in its last digit.
FLICKER = 1.5


@dataclass(frozen=True, slots=True)
class Cable:
    """How one balance is read on this computer; without a port it is not."""

    port: str = ""
    baud: int = 9600
    bits: int = 8
    parity: str = "none"
    stop: int = 1
    ask: str = ""
    mark: str = ""


def kept_cable(settings: Settings, book: str, balance: int) -> Cable:
    """The cable kept for a balance of a book; one without a port where nothing sensible is kept."""
    try:
        kept = json.loads(settings.text(f"cable/{book}/{balance}") or "{}")
        found = Cable(**{one.name: type(one.default)(kept[one.name]) for one in fields(Cable) if one.name in kept})
    except (ValueError, TypeError):
        return Cable()
    known = found.baud in BAUDS and found.bits in BITS and found.parity in PARITIES and found.stop in STOPS
    return found if known else Cable()


def keep_cable(settings: Settings, book: str, balance: int, cable: Cable) -> None:
    """Keeps it on this computer: a port belongs to the computer, not to the book."""
    settings.keep(f"cable/{book}/{balance}", json.dumps(asdict(cable)))


class Lines:
    """Bytes as they come, cut into whole lines; what began before anybody listened is left out."""

    _ENDS = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]+")  # any control character but the tab ends a line

    def __init__(self) -> None:
        self._rest = ""
        self._is_whole = False

    def feed(self, data: bytes) -> list[str]:
        """The lines that are whole now; only what has come to its end counts, or 12.3 could be the half of 12.345."""
        *ended, self._rest = self._ENDS.split(self._rest + data.decode("latin-1"))
        if ended and not self._is_whole:
            self._is_whole = True
            ended[0] = ""
        if len(self._rest) > LONGEST:  # noise at a wrong speed; begun anew at the next line end
            self._rest, self._is_whole = "", False
        return [line for line in ended if line.strip()]

    def fell_silent(self) -> None:
        """Nothing has come for a while: what comes next is the beginning of a line."""
        self._is_whole = self._is_whole or not self._rest


class Steady:
    """Lines in turn, each to (mass in g, whether it stands still), None where no mass is in it."""

    def __init__(self, mark: str = "") -> None:
        self._mark = mark
        self._last: float | None = None
        self._row = 0

    def take(self, line: str) -> tuple[float, bool] | None:
        """What the next line says."""
        shown: Shown | None = shown_in(line, self._mark)
        if shown is None:
            return None
        self._row = self._row + 1 if shown.mass_g == self._last else 1
        self._last = shown.mass_g
        return shown.mass_g, shown.is_marked if self._mark.strip() else self._row >= ROW


class FigureByCable:
    """What a stable reading may do to the figure field: fill it where it is empty or still holds what came by cable, never
    more. A reading that was accepted does not come back for the next line until the balance has shown something else."""

    def __init__(self) -> None:
        self._own = ""
        self._latest: float | None = None
        self._spent: float | None = None

    def is_own(self, text: str) -> bool:
        """Whether the field holds what came by cable."""
        return bool(text) and text == self._own

    def was_typed(self, text: str, mode: str) -> str | None:
        """The field was touched by hand: it is left alone from now on, unless it is empty. By difference a minus typed over
        what came by cable stands behind it, and the second figure is waited for; then what the field is to hold."""
        own, self._own = self._own, ""
        is_minus = mode == "by difference" and text.strip() in {"-", "\u2212"}
        held = f"{own}-" if is_minus and own and "-" not in own else None
        if mode == "by difference" and (held or text).rstrip().endswith(("-", "\u2212")):
            self._spent = self._latest
        return held

    def was_accepted(self) -> None:
        """The figure is in the book: what the balance shows now has been used."""
        self._spent, self._own = self._latest, ""

    def take(self, text: str, mass_g: float, is_stable: bool, step: float, mode: str) -> str | None:
        """What the field is to hold after a reading, None where it stays as it is. By difference, what stands behind a typed
        minus is filled as the second figure."""
        self._latest = mass_g
        # a total may grow by one step; a balance that is tared goes through zero
        near = 0.0 if mode == "running total" else FLICKER * step
        if self._spent is not None and abs(mass_g - self._spent) > near:
            self._spent = None
        if not is_stable or not mass_g > 0 or self._spent is not None:
            return None
        before, minus, after = text.replace("\u2212", "-").partition("-")
        is_second = mode == "by difference" and bool(minus) and bool(before.strip())
        if is_second:
            if after.strip() and not self.is_own(text):
                return None
            filled = f"{before}-{_figure(mass_g, step)}"
        elif text.strip() and not self.is_own(text):
            return None
        else:
            filled = _figure(mass_g, step)
        self._own = filled
        return None if filled == text else filled


def _figure(mass_g: float, step: float) -> str:
    """With the decimals of the balance, or more where the cable tells more."""
    return f"{mass_g:.{max(decimals(step), decimals(mass_g))}f}"
