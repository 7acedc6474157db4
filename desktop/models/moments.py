# SPDX-License-Identifier: MIT
"""Times as a hand writes them: reading times of a project ('2 min, 1 h, 2 d') and when a reading was taken ('14:30').

Raises Unreadable with the sentence for the person who typed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime, timedelta, timezone

from desktop import figures
from desktop.language import tr
from desktop.models.days import day_in
from perfumery.base import LONGEST_READING_S

_UNITS = {
    "s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "m": 60.0, "min": 60.0, "mins": 60.0, "minute": 60.0,
    "minutes": 60.0, "h": 3600.0, "hr": 3600.0, "hour": 3600.0, "hours": 3600.0, "d": 86400.0, "day": 86400.0,
    "days": 86400.0, "w": 604800.0, "week": 604800.0, "weeks": 604800.0,
}  # fmt: skip
_SPAN = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z]*)", re.IGNORECASE)
# A comma between two figures is a decimal comma, unless a space follows it or a unit stands before it.
_BETWEEN = re.compile(r"\s*[;\n]\s*|,\s+|(?<=[a-zA-Z]),|,$")
_HALVES = rf"(?:\s*(?:([ap])\.?m\b\.?|({re.escape(figures.MORNING)})|({re.escape(figures.AFTERNOON)})))?"
# Not a piece of a day with points.
_CLOCK = re.compile(rf"(?<![\d.])(\d{{1,2}})[:.h](\d{{2}})(?![\d.]){_HALVES}", re.IGNORECASE)
SHORTEST_S = 10.0
MOST_TIMES = 40


class Unreadable(ValueError):
    """What was typed cannot be read; str() is the sentence that says why and what to write."""


# reading times ----------------------------------------------------------------------------------------------------------


def parse_times(text: str) -> tuple[float, ...]:
    """Reading times in seconds after the dip, ascending, each once. A figure without a unit takes the next unit given."""
    found: list[float] = []
    waiting: list[str] = []
    for part in (piece.strip() for piece in _BETWEEN.split(text.strip())):
        if not part:
            continue
        match = _SPAN.fullmatch(part)
        if match is None or (match[2] and match[2].casefold() not in _UNITS):
            raise Unreadable(tr("“{typed}” is not a time. Write a number with min, h or d, as 15 min.", typed=part))
        if not match[2]:
            waiting.append(match[1])
            continue
        unit = _UNITS[match[2].casefold()]
        found += [_number(figure) * unit for figure in (*waiting, match[1])]
        waiting.clear()
    if waiting:
        raise Unreadable(tr("“{typed}” has no unit. Write min, h or d behind it.", typed=waiting[0]))
    if not found:
        raise Unreadable(tr("No time is given. Write the times after the dip, as 2 min, 1 h, 1 d."))
    for seconds in found:
        if seconds < SHORTEST_S:
            raise Unreadable(tr("{time} is too soon after the dip. The first can be 10 s.", time=figures.due_text(seconds)))
        if seconds > LONGEST_READING_S:
            longest = figures.due_text(LONGEST_READING_S)
            raise Unreadable(
                tr("{time} is too late. A strip is read for {longest} at most.", time=figures.due_text(seconds), longest=longest)
            )
    times = tuple(sorted(set(found)))
    if len(times) > MOST_TIMES:
        raise Unreadable(tr("{number} times are too many. A strip takes {most} at most.", number=len(times), most=MOST_TIMES))
    return times


def times_text(times: Sequence[float]) -> str:
    """Reading times as they are typed, exact: '2 min, 15 min, 1 h, 1 d'."""
    return ", ".join(_exact(seconds) for seconds in times)


def _exact(seconds: float) -> str:
    for unit, size in (("d", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds % size == 0:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:g} s"


def _number(text: str) -> float:
    return float(text.replace(",", "."))


# when a reading was taken -----------------------------------------------------------------------------------------------


def parse_moment(text: str, now: datetime) -> datetime:
    """When something was read: '14:30' today, '19 Mar 14:30', '2025-03-19 14:30', '20 min ago'; empty or 'now' is now.

    A clock time that has not come yet today is yesterday's. Raises Unreadable for what lies ahead or cannot be read.
    """
    typed = " ".join(text.split())
    bare = _without_ago(typed)
    if not bare or bare.casefold() in ("now", tr("now").casefold()):
        return now
    span = _SPAN.fullmatch(bare)
    if span is not None and span[2].casefold() in _UNITS and (bare != typed or span[2] != "h"):
        return now - timedelta(seconds=_number(span[1]) * _UNITS[span[2].casefold()])
    clock = _CLOCK.search(bare)
    half = "" if clock is None else clock[3] or ("a" if clock[4] else "p" if clock[5] else "")
    if clock is None or int(clock[1]) > (12 if half else 23) or int(clock[2]) > 59:
        ago = tr("{span} ago", span="20 min")
        raise Unreadable(
            tr("“{typed}” is not a time. Write it as 14:30, {moment} or {ago}.", typed=text.strip(), moment=_example(), ago=ago)
        )
    hour, minute = int(clock[1]), int(clock[2])
    if half:
        hour = hour % 12 + (12 if half.casefold() == "p" else 0)
    rest = f"{bare[: clock.start()]} {bare[clock.end() :]}".strip(" ,")
    if not rest:
        at = _local(now, now.year, now.month, now.day, hour, minute)
        if at > now:
            before = now - timedelta(days=1)
            at = _local(now, before.year, before.month, before.day, hour, minute)
        return at
    at = _local(now, *_day(rest, now, text), hour, minute)
    if at > now:
        raise Unreadable(tr("{moment} has not come yet. Write when it was read.", moment=figures.moment(at)))
    return at


def _example() -> str:
    """A moment of this year as it can be typed: '19 Mar 14:30'."""
    day = date(2025, 3, 19)
    return f"{figures.day(day, day)} 14:30"


def _without_ago(text: str) -> str:
    """'20 min' of '20 min ago', as this language or English writes it; any other text as it is."""
    for way in (tr("{span} ago"), "{span} ago"):
        before, _, behind = way.partition("{span}")
        if text.startswith(before) and text.endswith(behind):
            return text[len(before) : len(text) - len(behind)]
    return text


def _day(text: str, now: datetime, whole: str) -> tuple[int, int, int]:
    found = day_in(text)
    if found is None:
        raise Unreadable(tr("“{typed}” names no day. Write it as {moment}.", typed=whole.strip(), moment=_example()))
    given, month, day = found
    year = now.year - ((month, day) > (now.month, now.day)) if given is None else given
    try:
        datetime(year, month, day, tzinfo=now.tzinfo)
    except ValueError:
        if 1 <= month <= 12:
            wrong = tr("There is no {day} {month} {year}.", day=day, month=figures.MONTHS[month - 1], year=year)
        else:
            wrong = tr("There is no month {month}. Write the day as 2025-03-19.", month=month)
        raise Unreadable(wrong) from None
    return year, month, day


def _local(now: datetime, year: int, month: int, day: int, hour: int, minute: int) -> datetime:
    """A wall clock time where `now` was read. The offset is that of its own day: a clock change in between is heeded."""
    zone = now.tzinfo
    if not isinstance(zone, timezone):
        return datetime(year, month, day, hour, minute, tzinfo=zone)
    here = datetime(year, month, day, hour, minute).astimezone()  # the machine's own zone is meant
    # a clock handed in from elsewhere keeps its own offset; the machine's zone is asked only where it is that clock's
    is_machine = now.astimezone().utcoffset() == now.utcoffset()
    return here if is_machine else datetime(year, month, day, hour, minute, tzinfo=zone)


def moment_text(at: datetime) -> str:
    """As `parse_moment` reads it: '19 Mar 2025 14:30'."""
    return f"{figures.day(at)} {figures.clock(at)}"
