# SPDX-License-Identifier: MIT
"""Which due point a reading counts for, said before it is kept: where it comes late, early, or once more."""

from __future__ import annotations

from datetime import datetime

from desktop import figures
from desktop.language import tr
from desktop.models.strips import StripCard
from perfumery.smelling import answers, at_due, elapsed_s, in_time_s, lateness_s


def counts_told(card: StripCard, at: datetime, now: datetime) -> str:
    """Which due point a reading at an instant counts for, where that is more than its own time: '' where it is in time."""
    due = answers(card.strip, at)
    off, time = lateness_s(card.strip, at, due), figures.due_text(due)
    before = at_due(card.readings, card.strip, due)
    if before is not None:
        return tr(
            "{time} was read already: {moment}, {elapsed} after the dip. This is read once more; the one that is nearer to "
            "{time} counts for it.",
            time=time, moment=figures.moment(before.at, now), elapsed=figures.due_text(elapsed_s(card.strip, before.at)),
        )  # fmt: skip
    if off > in_time_s(due):
        return tr("Counts for {time}, {late}.", time=time, late=figures.lateness(off))
    if -off <= in_time_s(due):
        return ""
    elapsed, early = figures.due_text(elapsed_s(card.strip, at)), figures.span(-off)
    told = tr(
        "{elapsed} is nearest to {time}: this counts for {time}, {early} early, and {time} is not asked for again.",
        elapsed=elapsed, time=time, early=early,
    )  # fmt: skip
    unread = next((p for p in reversed(card.points) if p.due_s < due), None)
    if unread is None or unread.reading is not None:
        return told
    return f"{told} " + tr("{time} stays unread.", time=figures.due_text(unread.due_s))
