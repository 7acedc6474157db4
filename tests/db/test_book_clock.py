# SPDX-License-Identifier: MIT
"""A clock that is set back, or read at another offset, changes no elapsed time, loses no record and stops no work."""

from dataclasses import replace
from datetime import timedelta, timezone

import pytest

from db import Book, Refused
from perfumery import Bottle, Material, Note, Reading, Strip, Version, series
from perfumery.instants import hours

SUMMER, WINTER = timezone(timedelta(hours=2)), timezone(timedelta(hours=1))


@pytest.fixture
def strip(bench, vial, clock):
    return bench.book.put(Strip("P01", vial.key, clock()))[0]


def test_elapsed_time_goes_on_over_the_end_of_summer_time(bench, vial, clock):
    """Dipped at 2:50 summer time, read at 2:05, 2:50 and 3:50 by a clock that was set back in between: 15 min, 1 h, 2 h."""
    book = bench.book
    clock.at = clock.at.replace(month=10, day=26, hour=2, minute=50)
    (strip,) = book.put(Strip("P02", vial.key, clock()))
    for minutes, wall in ((15, "02:05"), (45, "02:50"), (60, "03:50")):
        clock.at = (clock.tick(minutes=minutes)).astimezone(WINTER)
        assert clock().strftime("%H:%M") == wall
        book.put(Reading(strip.key, clock(), intensity=3))
    readings = book.readings((strip.key,))[strip.key]
    assert [t for t, _ in series(readings, strip)] == [0.25, 1.0, 2.0]
    assert [r.at.utcoffset() for r in readings] == [timedelta(hours=1)] * 3
    assert strip.dipped_at.utcoffset() == timedelta(hours=2)
    (due,) = book.due(clock())
    assert (due.point.due_s, hours(strip.dipped_at, due.at)) == (4 * 3600, 4.0)


def test_an_offset_that_changes_moves_nothing(bench, strip, clock):
    before = [(due.at, due.point) for due in bench.book.due(clock())]
    clock.at = clock().astimezone(timezone(timedelta(hours=-9, minutes=-30)))
    assert [(due.at, due.point) for due in bench.book.due(clock())] == before
    (reading,) = bench.book.put(Reading(strip.key, clock.tick(hours=1), intensity=2))
    assert hours(strip.dipped_at, reading.at) == 1.0


def test_a_clock_set_back_to_before_the_dip(bench, strip, clock):
    """What would have been smelled before the strip was dipped is refused; nothing is due, nothing fails, nothing is lost."""
    book = bench.book
    (reading,) = book.put(Reading(strip.key, clock.tick(minutes=2), intensity=3))
    clock.tick(days=-30)
    assert book.due(clock()) == ()
    with pytest.raises(Refused) as refused:
        book.put(Reading(strip.key, clock(), intensity=2))
    assert [f.code for f in refused.value.findings] == ["read-before-dip"]
    assert book.correct(reading.key, intensity=2.5).at == reading.at
    assert book.readings((strip.key,))[strip.key][0].entered_at == clock()
    clock.tick(days=30)
    assert [due.strip for due in book.due(clock())] == [strip]


def test_what_is_made_after_a_clock_was_set_back_is_still_the_newest(bench, clock):
    """Keys tell the order of entry where times do not."""
    book = bench.book
    (first,) = book.put(Note("first about lemon", material=bench.lemon.key))
    clock.tick(days=-400)
    (second,) = book.put(Note("second about lemon", material=bench.lemon.key))
    assert [n.key for n in book.search("about lemon")] == [second.key, first.key]
    mended = book.correct(first.key, text="mended about lemon")
    assert mended.at < first.at and book.history(mended.key) == (first,)
    (child,) = book.put(book.draft_of(bench.version.key))
    assert child.made_at == clock() and child.code == "SR-2"
    assert [head.code for head in book.version_heads(bench.project.key)] == ["A-1", "SR-1", "SR-2"]


def test_the_state_of_a_bottle_after_a_clock_was_set_back(bench, vial, clock):
    """A trial weighed by a clock that runs behind is frozen at its hour, and its dilution is made of what the vial holds."""
    book = bench.book
    clock.tick(days=-400)
    (child,) = book.put(replace(book.draft_of(bench.version.key), reason="clock"))
    making, later = book.start_trial(child.key, 5)
    assert book.get(Version, child.key).frozen_at == clock() == making.started_at
    assert book.get(Version, bench.accord.key).frozen_at > clock()
    dilution = book.smelling_dilution(vial.key, 0.1, bench.ethanol.key)
    origin = book.origin(dilution.key)
    assert origin.concentrate_at > origin.alcohol_at
    # nothing was weighed: nobody knows how much either holds
    assert book.left(dilution.key, vial.key) == {}
    assert book.get(Bottle, later.key) == later and book.check() == ()


def test_a_book_opened_by_a_clock_in_the_past(bench, path, clock):
    bench.book.close()
    clock.tick(days=-4000)
    with Book.open(path, clock) as book:
        (material,) = book.put(Material("From the past"))
        assert book.retire(material.key).retired_on == clock().date()
        assert book.undo() and book.redo()
        assert book.check() == ()
