# SPDX-License-Identifier: MIT
"""The life of a bottle: book mass from its moves, drift against what was found, dates that come due.

Common practice, no source: what a dilution loses on the shelf is taken to be solvent, lost after the last draw, unless the
perfumer knows better; so the strength is stated as a range from "nothing of it" to "all of it".
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from perfumery.findings import refuse
from perfumery.values import Move

# A year of 365.25 days ÷ 12.
MONTH_D = 30.4375
TOLERANCE = 0.05


@dataclass(frozen=True, slots=True)
class Drift:
    """Found mass against book mass. `missing_g` is negative where more was found than booked; `noise_g` is what two
    readings of that balance cannot tell apart (k = 2), None where the balance is not known; strengths are those of the label
    material from "nothing was solvent" to "all was solvent"; `per_month` in g; `passes_on` the day a straight line passes the
    tolerance, past or to come, None where nothing was lost."""

    book_g: float
    found_g: float
    missing_g: float
    noise_g: float | None
    strength_low: float
    strength_high: float
    per_month: float
    passes_on: date | None

    @property
    def is_noise(self) -> bool:
        """Whether the loss is less than the balance can see."""
        return self.missing_g <= 0 or (self.noise_g is not None and self.missing_g <= self.noise_g)

    @property
    def top_up_g(self) -> float:
        """g of solvent that bring it back, if solvent is what is missing."""
        return max(self.missing_g, 0.0)

    @property
    def risen(self) -> float:
        """The relative rise of strength, if all that is missing was solvent."""
        return self.strength_high / self.strength_low - 1


def in_force(moves: Iterable[Move]) -> tuple[Move, ...]:
    """Moves that count, by time: neither replaced nor withdrawn."""
    own = tuple(moves)
    replaced = {move.replaces for move in own}
    return tuple(
        sorted(
            (m for m in own if m.kind != "withdrawn" and (m.key is None or m.key not in replaced)),
            key=lambda m: (m.at, m.key or 0),
        )
    )


def book_mass(bottle: int, moves: Iterable[Move], at: datetime | None = None) -> float:
    """g that the ledger says a bottle holds at an instant: everything that arrived less everything that left. A correction
    counts like a move: into the bottle where there was more than booked, out of it where there was less."""
    parts = []
    for move in in_force(moves):
        if move.kind == "found" or (at is not None and move.at > at):
            continue
        if move.to_bottle == bottle:
            parts.append(move.mass_g)
        if move.from_bottle == bottle:
            parts.append(-move.mass_g)
    return round(math.fsum(parts), 9)


def last_found(bottle: int, moves: Iterable[Move]) -> Move | None:
    """The newest re-weighing of a bottle; None where it was never re-weighed."""
    found = [m for m in in_force(moves) if m.kind == "found" and bottle in (m.to_bottle, m.from_bottle)]
    return found[-1] if found else None


def is_known(bottle: int, moves: Iterable[Move]) -> bool:
    """Whether its moves tell what a bottle holds: mass came into it, or it was re-weighed. What only left tells nothing, nor
    does a pour that was not weighed."""
    return any(m.kind == "found" or (m.to_bottle == bottle and m.mass_g > 0) for m in in_force(moves))


def left(bottle: int, moves: Iterable[Move]) -> float:
    """g left as far as is known: the mass last found and the ledger since, or the book mass where none was ever found."""
    own = in_force(moves)
    found = last_found(bottle, own)
    if found is None:
        return book_mass(bottle, own)
    since = [m for m in own if (m.at, m.key or 0) > (found.at, found.key or 0)]
    return round(found.mass_g + book_mass(bottle, since), 9)


def drift(
    *,
    made_on: date,
    strength: float,
    book_g: float,
    found_g: float,
    found_on: date,
    tolerance: float = TOLERANCE,
    noise_g: float | None = None,
) -> Drift:
    """What a re-weighing says of a bottle made at `strength` on `made_on`: strength × book ÷ found, if all was solvent.

    `tolerance` is the relative rise of strength that is still taken for the written one. Raises Refused `mass-not-positive`.
    """
    if not (book_g > 0 and found_g > 0):
        raise refuse("mass-not-positive", mass_g=min(book_g, found_g))
    missing = book_g - found_g
    days = max((found_on - made_on).days, 1)
    rate = missing / days
    # the strength has risen by the tolerance when book ÷ (book − loss) = 1 + tolerance
    loss_at_tolerance = book_g * (1 - 1 / (1 + tolerance))
    days_to_go = loss_at_tolerance * days / missing if missing > 0 else math.inf
    # a loss that takes thousands of years to matter never does
    passes = made_on + timedelta(days=math.floor(days_to_go)) if days_to_go < (date.max - made_on).days else None
    high = min(strength * book_g / found_g, 1.0) if missing > 0 else strength
    return Drift(
        book_g=book_g,
        found_g=found_g,
        missing_g=missing,
        noise_g=noise_g,
        strength_low=strength,
        strength_high=high,
        per_month=rate * MONTH_D,
        passes_on=passes,
    )


def without_carrier(shares: Mapping[int, float], carrier: int, lost_g: float, book_g: float) -> dict[int, float]:
    """{material: share} of what stays of `book_g` when `lost_g` of its carrier is gone: each other share × book ÷ found.

    Raises Refused `loss-beyond-carrier` where more is missing than there was of the carrier.
    """
    kept_g = book_g - lost_g
    left_g = shares.get(carrier, 0.0) * book_g - lost_g
    if left_g < 0 or not kept_g > 0:
        raise refuse("loss-beyond-carrier", lost_g=lost_g, carrier_g=shares.get(carrier, 0.0) * book_g)
    # the last digit of a float must not make a whole of more than one
    grown = {key: min(share * book_g / kept_g, 1.0) for key, share in shares.items() if key != carrier}
    rest = 1 - math.fsum(grown.values())
    return grown | ({carrier: rest} if rest > 1e-12 else {})


def months_after(on: date, months: int) -> date:
    """The same day that many months later, the last of the month where there is no such day; the last day there is where the
    calendar ends before."""
    month = on.month - 1 + months
    year, month = on.year + month // 12, month % 12 + 1
    if not date.min.year <= year <= date.max.year:
        return date.max if months > 0 else date.min
    return date(year, month, min(on.day, calendar.monthrange(year, month)[1]))
