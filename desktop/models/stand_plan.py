# SPDX-License-Identifier: MIT
"""A stand of several strips as it is proposed: how far apart they are dipped, and which readings fall outside bench hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from db import Book
from desktop import figures, wording
from desktop.language import tr
from perfumery import Refused, Stagger, hours_of, stagger

SHOWN = 3


@dataclass(frozen=True, slots=True)
class StandPlan:
    """The proposal for strips of these names, or why there is none."""

    names: tuple[str, ...]
    stagger: Stagger | None
    why_not: str = ""

    def told(self, now: datetime) -> str:
        """'One every 3 min: then no two readings fall nearer than 3 min. Outside bench hours: SR-3 8 h at 23:10.'"""
        if self.stagger is None:
            return self.why_not
        gap = figures.span(self.stagger.gap_min * 60)
        said = tr("One every {gap}, and no two readings collide.", gap=gap)
        outside = self.stagger.outside
        if outside:
            named = ", ".join(
                tr("{strip} {time} at {moment}", strip=self.names[one.strip], time=figures.due_text(one.due_s),
                   moment=figures.moment(one.at, now))
                for one in outside[:SHOWN]
            )  # fmt: skip
            more = len(outside) - SHOWN
            late = tr("{readings} and {more} more", readings=named, more=more) if more > 0 else named
            said += " " + tr("Outside bench hours: {readings}.", readings=late)
        return said

    def due_in(self, place: int, first_at: datetime, now: datetime) -> timedelta | None:
        """How long until the strip at a place is to be dipped, counted from when the first one was; None without a proposal."""
        if self.stagger is None:
            return None
        return first_at + timedelta(minutes=self.stagger.gap_min * place) - now


def stand_plan(book: Book, names: Sequence[str], reading_times: Sequence[float], now: datetime) -> StandPlan:
    """The proposal for so many strips that are read at these times, by the habits of this bench."""
    habits = book.bottles.habits()
    try:
        zone = now.tzinfo
        assert zone is not None
        found = stagger(len(names), reading_times, habits["reading minutes"], hours_of(habits), first_at=now, zone=zone)
    except Refused as refused:
        return StandPlan(tuple(names), None, wording.sentences(refused.findings))
    return StandPlan(tuple(names), found)
