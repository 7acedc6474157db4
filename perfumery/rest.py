# SPDX-License-Identifier: MIT
"""How many smells the nose has had, and how long it should rest.

Common practice, no source: a nose that smells without a pause stops smelling. The numbers are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from perfumery.instants import instant

# So many smells within so long ask for so long a rest, counted from the last smell.
SHORT_RUN, SHORT_SPAN, SHORT_REST = 6, timedelta(minutes=5), timedelta(minutes=5)
LONG_RUN, LONG_SPAN, LONG_REST = 30, timedelta(hours=1), timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Pacing:
    """`last_hour` smells in the hour that ends now; `rest_s` seconds the nose should still rest, 0 when it need not."""

    last_hour: int
    rest_s: float


def pacing(smelled_at: Iterable[datetime], now: datetime) -> Pacing:
    """How the nose stands: 6 smells within 5 minutes ask for 5 minutes of rest, 30 within an hour for 15.

    A rest that was taken counts: smells from before a pause of 15 minutes are over. Times after `now` are left out.
    Raises Refused `time-naive`.
    """
    now = instant(now)
    times = sorted(at for at in map(instant, smelled_at) if at <= now)
    last_hour = sum(now - at < LONG_SPAN for at in times)
    if not times:
        return Pacing(0, 0.0)
    last = times[-1]
    rest = timedelta(0)
    if sum(last - at <= SHORT_SPAN for at in times) >= SHORT_RUN:
        rest = SHORT_REST
    if sum(last - at <= LONG_SPAN for at in _since_rest(times)) >= LONG_RUN:
        rest = LONG_REST
    return Pacing(last_hour, max((last + rest - now) / timedelta(seconds=1), 0.0))


def _since_rest(times: list[datetime]) -> list[datetime]:
    """The smells since the last long rest."""
    begins = max((later for earlier, later in pairwise(times) if later - earlier >= LONG_REST), default=times[0])
    return [at for at in times if at >= begins]
