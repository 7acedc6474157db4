# SPDX-License-Identifier: MIT
"""Numbers as a hand types them, and masses as a balance shows them.

Comma and point both mean the decimal mark; thousands marks are not taken, so that 1,23 can never become 123.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from fractions import Fraction

from perfumery.findings import refuse

_PLAIN = re.compile(r"[+\-\u2212]?(\d+([.,]\d*)?|[.,]\d+)([eE][+\-]?\d+)?")
_SPACES = str.maketrans("", "", " \t\u00a0\u2009\u202f")
_HOUR = re.compile(r"(\d{1,2})(?:[:.h]([0-5]\d))?")
# Common practice, no source.
ROOM_LEAST_C, ROOM_MOST_C = -10.0, 50.0
_GROUPED = re.compile(r"[+\-\u2212]?\d{1,3}([.,' \u00a0\u2009\u202f\u2019]\d{3})+([.,]\d+)?")


def parse_number(text: str) -> float:
    """The number typed into a parts or mass field: one decimal mark, comma or point, no thousands marks.

    Raises Refused `number-empty`, `number-grouped` (two marks: 1,000.5) or `number-unreadable`.
    """
    bare = text.strip()
    if not bare:
        raise refuse("number-empty")
    if _PLAIN.fullmatch(bare):
        value = float(bare.replace(",", ".").replace("\u2212", "-"))
        if math.isfinite(value):
            return value
        raise refuse("number-unreadable", text=text)
    if _GROUPED.fullmatch(bare) or (len(re.findall(r"[.,]", bare)) > 1 and re.fullmatch(r"[\d.,\s+\-\u2212]+", bare)):
        raise refuse("number-grouped", text=text)
    raise refuse("number-unreadable", text=text)


def parse_strength(text: str) -> float:
    """A strength 0..1 from '10', '10 %', '0,1%' or 'neat'. A bare number means percent.

    Raises Refused `strength-range` for 0 or less and for more than 100 %.
    """
    bare = text.strip().casefold().removesuffix("w/w").strip()
    if bare in ("neat", "pure"):
        return 1.0
    percent = parse_number(bare.removesuffix("%").strip())
    if not 0 < percent <= 100:
        raise refuse("strength-range", percent=percent)
    return float(Decimal(repr(percent)) / 100)


def parse_room(text: str) -> float:
    """The temperature of a room in °C: '21', '21.5 °C'. A bound that only catches slips: no bench stands outside of it.

    Raises Refused `room-range`.
    """
    value = parse_number(text.strip().removesuffix("C").removesuffix("°"))
    if not ROOM_LEAST_C <= value <= ROOM_MOST_C:
        raise refuse("room-range", value=value, least=ROOM_LEAST_C, most=ROOM_MOST_C)
    return value


def parse_humidity(text: str) -> float:
    """The relative humidity of a room in percent, 0 to 100: '46', '46 %'. Raises Refused `humidity-range`."""
    percent = parse_number(text.strip().removesuffix("%"))
    if not 0 <= percent <= 100:
        raise refuse("humidity-range", percent=percent)
    return percent


def parse_hour(text: str) -> float:
    """An hour of the day as a clock shows it, '22' or '8:30', in hours: 8.5. A point stands between hour and minutes here.

    Raises Refused `time-unreadable`.
    """
    match = _HOUR.fullmatch(text.strip().casefold())
    if match is None:
        raise refuse("time-unreadable", text=text)
    return int(match[1]) + int(match[2] or 0) / 60


def readings_of(text: str) -> tuple[float, ...]:
    """Every value a pasted number could mean: one, or two where a single mark may group thousands ('1,234').

    For paste and import only, where the caller must ask when there are two. Raises like parse_number.
    """
    bare = text.strip().translate(_SPACES)
    if re.fullmatch(r"[+\-\u2212]?[1-9]\d{0,2}[.,]\d{3}", bare):
        decimal = parse_number(bare)
        return (decimal, parse_number(re.sub("[.,]", "", bare)))
    if re.fullmatch(r"[+\-\u2212]?\d{1,3}(,\d{3})+\.\d+", bare):
        return (parse_number(bare.replace(",", "")),)
    if re.fullmatch(r"[+\-\u2212]?\d{1,3}(\.\d{3})+,\d+", bare):
        return (parse_number(bare.replace(".", "")),)
    if re.fullmatch(r"[+\-\u2212]?\d{1,3}([.,])\d{3}(\1\d{3})+", bare):
        return (parse_number(re.sub("[.,]", "", bare)),)
    return (parse_number(bare),)


def to_step(value: float, step: float) -> float:
    """The multiple of step nearest to value; a tie goes to the even multiple (ISO 80000-1, Annex B, rule A).

    Works on the decimal figures as written, so 12.25 to 0.1 is 12.2 and 12.35 is 12.4. Raises Refused
    `readability-not-positive`.
    """
    return _to_step(value, step, ROUND_HALF_EVEN)


def to_step_up(value: float, step: float) -> float:
    """As `to_step`, but a tie goes to the multiple further from zero (ISO 80000-1, Annex B, rule B)."""
    return _to_step(value, step, ROUND_HALF_UP)


def _to_step(value: float, step: float, rounding: str) -> float:
    if not step > 0:
        raise refuse("readability-not-positive", step=step)
    written = Decimal(repr(step))
    return float((Decimal(repr(value)) / written).quantize(Decimal(1), rounding=rounding) * written)


def weighable(masses_g: Sequence[float], d_g: float) -> tuple[tuple[float, ...], float, float]:
    """(each mass rounded to the readability d, the true sum of those, sum minus the unrounded wish), all in g."""
    shown = tuple(to_step(mass, d_g) for mass in masses_g)
    total = float(sum((Decimal(repr(mass)) for mass in shown), Decimal(0)))
    return shown, total, total - math.fsum(masses_g)


def largest_remainder(shares: Sequence[float], units: int) -> tuple[int, ...]:
    """Whole units that add up to `units` and stand nearest to the shares: floors first, the rest to the largest remainders.

    The method of largest remainders (Hamilton's rule); ties go to the earlier share.
    Shares that are all zero get no units.
    """
    whole = sum((Fraction(share) for share in shares), Fraction(0))
    if not whole:
        return (0,) * len(shares)
    quotas = [Fraction(share) / whole * units for share in shares]
    floors = [int(quota) for quota in quotas]
    rest = units - sum(floors)
    by_remainder = sorted(range(len(quotas)), key=lambda i: (floors[i] - quotas[i], i))
    for i in by_remainder[:rest]:
        floors[i] += 1
    return tuple(floors)
