# SPDX-License-Identifier: MIT
"""Instants and days: aware times to the millisecond, calendar days without a clock.

An instant keeps the offset it was read at. Naive times are refused, because elapsed time must never jump when a clock
is set. Nothing here reads a clock: times come in as arguments.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache

from perfumery.findings import refuse

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MILLISECOND = timedelta(milliseconds=1)
_MINUTE = timedelta(minutes=1)
_HOUR = timedelta(hours=1)


def instant(at: datetime | str) -> datetime:
    """An aware datetime, cut to whole milliseconds, with a fixed offset in whole minutes.

    Takes an aware datetime or ISO 8601 text with an offset. Raises Refused `time-naive` or `time-unreadable`.
    """
    if isinstance(at, str):
        try:
            at = datetime.fromisoformat(at)
        except ValueError:
            raise refuse("time-unreadable", text=at) from None
    offset = at.utcoffset()
    if offset is None:
        raise refuse("time-naive", text=at.isoformat())
    if type(at.tzinfo) is timezone and not at.microsecond % 1000 and not offset % _MINUTE:
        # as every instant that comes from the file
        return at
    return from_ms((at - EPOCH) // MILLISECOND, round(offset / _MINUTE))


def to_ms(at: datetime) -> tuple[int, int]:
    """(milliseconds since 1970 UTC, offset in minutes east of UTC) of an instant."""
    offset = at.utcoffset()
    if offset is None:
        raise refuse("time-naive", text=at.isoformat())
    return (at - EPOCH) // MILLISECOND, round(offset / _MINUTE)


def from_ms(ms: int, offset_min: int) -> datetime:
    """The instant of these milliseconds since 1970 UTC, read at this offset."""
    return _epoch(offset_min) + timedelta(milliseconds=ms)


@cache
def _epoch(offset_min: int) -> datetime:
    return EPOCH.astimezone(timezone(timedelta(minutes=offset_min)))


def day(on: date | str) -> date:
    """A calendar day from a date or 'YYYY-MM-DD'. Raises Refused `day-unreadable`."""
    if isinstance(on, datetime):
        return on.date()
    if isinstance(on, date):
        return on
    try:
        return date.fromisoformat(on)
    except ValueError:
        raise refuse("day-unreadable", text=on) from None


def hours(earlier: datetime, later: datetime) -> float:
    """Elapsed hours between two instants, whatever offsets they were read at."""
    return (later - earlier) / _HOUR
