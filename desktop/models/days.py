# SPDX-License-Identifier: MIT
"""Days as a hand types them: the way they are shown ('5 Oct 2024'), with points ('5.10.2024'), or as ISO text."""

from __future__ import annotations

import re
from datetime import date

from desktop.figures import MONTHS
from perfumery.findings import refuse
from perfumery.instants import day

_NAMED = re.compile(r"(\d{1,2})\.?\s+([a-z]{3})[a-z]*\.?\s+(\d{4})", re.IGNORECASE)
_POINTED = re.compile(r"(\d{1,2})\.\s*(\d{1,2})\.\s*(\d{4})")


def parse_day(text: str) -> date:
    """The day a text means; day before month in figures with points. Raises Refused `day-unreadable`."""
    bare = " ".join(text.split())
    named, pointed = _NAMED.fullmatch(bare), _POINTED.fullmatch(bare)
    names = [name.casefold() for name in MONTHS]
    try:
        if named and named[2].casefold() in names:
            return date(int(named[3]), names.index(named[2].casefold()) + 1, int(named[1]))
        if pointed:
            return date(int(pointed[3]), int(pointed[2]), int(pointed[1]))
    except ValueError:
        raise refuse("day-unreadable", text=text) from None
    return day(bare)
