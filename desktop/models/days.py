# SPDX-License-Identifier: MIT
"""Days as a hand types them: the way they are shown ('5 Oct 2024', 'Oct 5, 2024', '2024 Oct 5'), with points ('5.10.2024'),
with slashes where the system writes them, in its order ('10/5/2024'), or as ISO text. Months are read by their English
names too, whatever the language, for those stand in papers of the trade."""

from __future__ import annotations

import calendar
import re
from datetime import date

from desktop.figures import MONTHS, day_order, writes_slashes
from perfumery.findings import refuse

_ENGLISH = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
# the longest first: one may begin with another
_NAMES = sorted({*_ENGLISH, *(name.casefold() for name in MONTHS)}, key=len, reverse=True)
_MONTH, _YEAR = rf"(?P<name>{'|'.join(map(re.escape, _NAMES))})[^\W\d_]*\.?", r"(?P<year>\d{4})"
_D, _M = r"(?P<day>\d{1,2})", r"(?P<month>\d{1,2})"
_WAYS = tuple(
    re.compile(way, re.IGNORECASE)
    for way in (
        rf"{_D}\.?\s*{_MONTH}(?:,?\s+{_YEAR})?",
        rf"{_MONTH}\s*{_D}(?:,?\s+{_YEAR})?",
        rf"{_YEAR}\s+{_MONTH}\s*{_D}",
        rf"{_D}\.\s*{_M}\.\s*{_YEAR}",
        rf"{_YEAR}-{_M}-{_D}",
    )
)
_SLASHED = {
    order: re.compile(way)
    for order, way in (("mdy", rf"{_M}/{_D}/{_YEAR}"), ("dmy", rf"{_D}/{_M}/{_YEAR}"), ("ymd", rf"{_YEAR}/{_M}/{_D}"))
}


def day_in(text: str) -> tuple[int | None, int, int] | None:
    """(year or None, month, day) that a text names, whether there is such a day or not; None where it names none."""
    bare = " ".join(text.split())
    for way in (*_WAYS, _SLASHED[day_order()]) if writes_slashes() else _WAYS:
        match = way.fullmatch(bare)
        if match is not None:
            found = match.groupdict()
            month = _month(found["name"].casefold()) if found.get("name") else int(found["month"])
            return int(found["year"]) if found["year"] else None, month, int(found["day"])
    return None


def _month(name: str) -> int:
    shown = [month.casefold() for month in MONTHS]
    return (shown if name in shown else list(_ENGLISH)).index(name) + 1


def parse_day(text: str, year: int | None = None) -> date:
    """The day a text means; without its year that of `year`, where one is given. Raises Refused `day-unclear`, and
    `day-beyond` for one that its month has not."""
    given, month, day = day_in(text) or (None, 0, 0)
    in_year = year if given is None else given
    if not in_year or not 1 <= month <= 12 or not day:
        raise refuse("day-unclear", text=text, like=date(2025, 3, 11))
    longest = calendar.monthrange(in_year, month)[1]
    if day > longest:
        raise refuse("day-beyond", text=text, month=date(in_year, month, 1), days=longest)
    return date(in_year, month, day)
