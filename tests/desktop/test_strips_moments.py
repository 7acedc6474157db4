# SPDX-License-Identifier: MIT
"""Times as a hand writes them: reading times of a project, and when a reading was taken."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from desktop.models.moments import Unreadable, moment_text, parse_moment, parse_times, times_text
from perfumery.smelling import READING_TIMES, SHORT_TIMES

NOW = datetime.fromisoformat("2025-04-10T12:00:00+02:00")
MIN, H, D = 60.0, 3600.0, 86400.0


@pytest.mark.parametrize(
    "text, seconds",
    [
        ("2 min, 15 min, 1 h, 2 d", (2 * MIN, 15 * MIN, H, 2 * D)),
        ("1 d, 2 min", (2 * MIN, D)),
        ("2, 15, 30 min, 1, 2 h", (2 * MIN, 15 * MIN, 30 * MIN, H, 2 * H)),
        ("2min,15min;1h", (2 * MIN, 15 * MIN, H)),
        ("1,5 h", (1.5 * H,)),
        ("1.5 hours\n1 week", (1.5 * H, 7 * D)),
        ("30 s, 30 s", (30.0,)),
    ],
)
def test_reading_times_are_read(text, seconds):
    assert parse_times(text) == seconds


@pytest.mark.parametrize(
    "text, told",
    [
        ("15 mn", "“15 mn” is not a time"),
        ("2 min, 5", "“5” has no unit"),
        ("  ", "No time is given"),
        ("2 s", "too soon"),
        ("400 d", "too late"),
        (", ".join(f"{n} min" for n in range(1, 60)), "59 times are too many"),
    ],
)
def test_reading_times_that_cannot_be_are_told_in_a_sentence(text, told):
    with pytest.raises(Unreadable) as refused:
        parse_times(text)
    assert told in str(refused.value)
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize("times", [READING_TIMES, SHORT_TIMES, (161 * MIN,), (36 * H, 90.0 * 60), (10.0,)])
def test_times_written_and_read_again_are_the_same(times):
    assert parse_times(times_text(times)) == tuple(sorted(times))


@pytest.mark.parametrize(
    "text, at",
    [
        ("", "2025-04-10T12:00:00+02:00"),
        ("now", "2025-04-10T12:00:00+02:00"),
        ("11:30", "2025-04-10T11:30:00+02:00"),
        ("9.05", "2025-04-10T09:05:00+02:00"),
        ("14:30", "2025-04-09T14:30:00+02:00"),
        ("20 min ago", "2025-04-10T11:40:00+02:00"),
        ("20 min", "2025-04-10T11:40:00+02:00"),
        ("2 h ago", "2025-04-10T10:00:00+02:00"),
        ("12 May 10:00", "2024-05-12T10:00:00+02:00"),
        ("19 Mar 2024 14:30", "2024-03-19T14:30:00+02:00"),
        ("2025-04-01 14:30", "2025-04-01T14:30:00+02:00"),
    ],
)
def test_a_moment_is_read(text, at):
    assert parse_moment(text, NOW) == datetime.fromisoformat(at)


@pytest.mark.parametrize("text", ["x", "25:00", "10 Apr 13:00", "31 Feb 10:00", "2025-13-01 10:00", "32 min 7", "q Apr 10:00"])
def test_a_moment_that_cannot_be_is_told(text):
    with pytest.raises(Unreadable):
        parse_moment(text, NOW)


def test_a_moment_before_the_clock_change_has_the_offset_of_its_own_day():
    summer = datetime(2025, 3, 30, 12, 0, tzinfo=ZoneInfo("Europe/Berlin"))
    at = parse_moment("29 Mar 12:00", summer)
    assert at.utcoffset() == timedelta(hours=1)
    assert (summer.astimezone(ZoneInfo("UTC")) - at) == timedelta(hours=23)


def test_a_moment_is_written_as_it_is_read():
    at = datetime.fromisoformat("2025-04-01T09:05:00+02:00")
    assert parse_moment(moment_text(at), NOW) == at
