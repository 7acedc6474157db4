# SPDX-License-Identifier: MIT
"""Days as a hand types them: the way they are shown ('5 Oct 2024', 'Oct 5, 2024', '2024 Oct 5'), with points ('5.10.2024'),
with slashes where the system writes them, in its order ('10/5/2024'), or as ISO text."""

from __future__ import annotations

import re
from datetime import date

from desktop.figures import MONTHS, day_order, writes_slashes
from perfumery.findings import refuse

_MONTH, _YEAR = r"(?P<name>[a-z]{3})[a-z]*\.?", r"(?P<year>\d{4})"
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
            names = [name.casefold() for name in MONTHS]
            name = found.get("name", "").casefold()
            if name and name not in names:
                return None
            month = names.index(name) + 1 if name else int(found["month"])
            return int(found["year"]) if found["year"] else None, month, int(found["day"])
    return None


def parse_day(text: str, year: int | None = None) -> date:
    """The day a text means; without its year that of `year`, where one is given. Raises Refused `day-unreadable`."""
    found = day_in(text)
    if found is None or (found[0] or year) is None:
        raise refuse("day-unreadable", text=text)
    try:
        return date(found[0] or year or 0, found[1], found[2])
    except ValueError:
        raise refuse("day-unreadable", text=text) from None
