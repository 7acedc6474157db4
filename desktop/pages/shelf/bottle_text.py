# SPDX-License-Identifier: MIT
"""A bottle in words: what it holds, what its ledger says, what came due; ready to be shown, no widget in it."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime

from db import Book, BottleRow
from desktop import figures, wording
from desktop.language import tr
from desktop.models.bottles import strength_text
from desktop.models.shown import shown
from perfumery import Move, service, vessel, weighing
from perfumery.ledger import Drift

_CAME = {
    "received": tr("came"), "found": tr("found"), "strip": tr("strip"), "used": tr("used"), "spill": tr("spilled"),
    "lost": tr("lost"), "discard": tr("thrown away"), "given": tr("given away"), "correction": tr("correction"),
}  # fmt: skip
_STATES = {
    "bought": tr("as labelled"), "made": tr("as made"), "topped up": tr("topped up"), "drift": tr("after its loss"),
    "correction": tr("corrected"),
}  # fmt: skip


def contents(
    book: Book, shares: dict[int, float], u: dict[int, float] | None, material: int | None, most: int | None = None
) -> str:
    """'10.20 % ± 0.007 ambroxide, 89.80 % ethanol': the bottle's own material first, then by mass; ± is k = 2. Only so many
    as `most` are named, where it is given."""
    if not shares:
        return tr("What it holds is not known.")
    order = sorted(shares, key=lambda key: (key != material, -shares[key]))[:most]
    names = {row.key: row for row in book.material_rows()}
    if len(shares) == 1:
        only = names.get(order[0])
        return tr("nothing but {name}", name="" if only is None else only.short)
    parts = []
    for key in order:
        held = names.get(key)
        own = (u or {}).get(key)
        figure = with_u(shares[key], own) if own and key == material else figures.percent_text(shares[key])
        name = "" if held is None else held.carrier_name if held.is_carrier else held.short
        parts.append(f"{figure} {name}")
    return ", ".join(parts)


def with_u(share: float, u: float) -> str:
    """A share with what its weighing leaves open (k = 2), both to the same digit: '10.204 ± 0.007 %'."""
    factor, unit = (1e6, "mg/kg") if share < 1e-4 else (100, "%")
    around = weighing.K * u * factor
    places = max(-math.floor(math.log10(around)), 0)
    return figures.unit(f"{share * factor:.{places}f} ± {around:.{places}f}", unit)


def between(low: float, high: float) -> str:
    """'10.00 to 10.50 %', both in the unit that shows the lower one."""
    factor, unit = (1e6, "mg/kg") if low < 1e-4 else (100, "%")
    places = max(3 - math.floor(math.log10(low * factor)), 0)
    return figures.unit(tr("{low} to {high}", low=f"{low * factor:.{places}f}", high=f"{high * factor:.{places}f}"), unit)


def head(row: BottleRow) -> str:
    """'Ambroxide 10 % in ethanol'."""
    strength = "" if row.bottle.kind in ("trial", "smelling") else strength_text(row)
    return f"{row.what} {strength}".strip()


def drift_text(row: BottleRow, drift: Drift, now: datetime) -> str:
    """What a re-weighing says: how much is missing, since when, at what rate, the range of strengths, the tolerance."""
    step = 0.01 if drift.per_month >= 0.1 else 0.001
    facts = {"mass": figures.mass_text(drift.missing_g), "rate": figures.mass_text(drift.per_month, step)}
    if row.counted_from is None:
        said = [tr("{mass} missing, {rate} a month.", **facts)]
    else:
        day = figures.day(row.counted_from, now)
        said = [tr("{mass} missing since {day}, {rate} a month.", day=day, **facts)]
    if row.bottle.carrier is not None:
        strength = between(drift.strength_low, drift.strength_high)
        said.append(tr("If that was {carrier}: {strength}.", carrier=row.carrier_name, strength=strength))
        if drift.passes_on is not None:
            day, gone = figures.day(drift.passes_on, now), drift.passes_on <= now.date()
            said.append(tr("Tolerance passed {day}.", day=day) if gone else tr("Tolerance will be passed {day}.", day=day))
    return " ".join(said)


def move_text(move: Move, bottle: int, code: Callable[[int | None], str], now: datetime) -> str:
    """One line of the ledger: '10 Apr, 15:00  −0.125 g to V024'."""
    into = move.to_bottle == bottle
    mass = figures.mass_text(move.mass_g)
    if move.estimated:
        mass = tr("about {mass}", mass=mass)
    if move.kind == "found":
        words = tr("{mass} found", mass=mass)
    elif move.kind == "pour":
        other = code(move.from_bottle if into else move.to_bottle)
        if move.mass_g:
            words = tr("{mass} from {code}", mass=mass, code=other) if into else tr("{mass} to {code}", mass=mass, code=other)
        else:
            words = tr("from {code}, not weighed", code=other) if into else tr("to {code}, not weighed", code=other)
    else:
        words = f"{'+' if into else figures.MINUS}{mass} {shown(_CAME, move.kind)}"
    remark = f" · {move.remark}" if move.remark and move.kind != "pour" else ""
    return f"{figures.moment(move.at, now)}  {words}{remark}"


def state_text(book: Book, state: object, material: int | None, now: datetime) -> str:
    """One state of the contents, with why it began."""
    reason, at, shares = getattr(state, "reason", ""), getattr(state, "at", None), getattr(state, "shares", {})
    return f"{figures.day(at, now)} {shown(_STATES, reason)}: {contents(book, dict(shares), None, material)}"


def facts(row: BottleRow, book: Book, now: datetime) -> list[str]:
    """Lot, supplier, days, container, tare, price: what is known, in short lines."""
    bottle, lines = row.bottle, []

    def day(on: object) -> str:
        return figures.day(on, now)  # type: ignore[arg-type]

    bought = [tr("lot {lot}", lot=bottle.lot) if bottle.lot else "", bottle.supplier, bottle.supplier_no]
    lines.append(" · ".join(filter(None, bought)))
    days = []
    if bottle.received_on is not None:
        days.append(tr("received {day}", day=day(bottle.received_on)))
    elif row.made_at is not None:
        made = day(row.made_at)
        days.append(tr("came {day}", day=made) if bottle.kind == "bought" else tr("made {day}", day=made))
    if bottle.opened_on is not None:
        days.append(tr("opened {day}", day=day(bottle.opened_on)))
    lines.append(" · ".join(days))
    glass = [bottle.container, bottle.liner and tr("liner {liner}", liner=bottle.liner)]
    if bottle.volume_ml is not None and f"{bottle.volume_ml:g} ml" not in bottle.container:
        glass.append(figures.unit(figures.parts(bottle.volume_ml), "ml"))
    if bottle.tare_g is not None:
        tare = figures.mass_text(bottle.tare_g, 0.01)
        glass.append(tr("tare {mass} (inferred)", mass=tare) if bottle.tare_inferred else tr("tare {mass}", mass=tare))
    lines.append(" · ".join(filter(None, glass)))
    price, missing = book.bottles.price(row.key)
    if price is not None:
        told = figures.money(price, book.currency, at_least=bool(missing))
        lines.append(told if bottle.kind == "bought" else tr("{price} by what it truly holds", price=told))
    lines.append(bottle.remark)
    return [line for line in lines if line]


def dates(row: BottleRow, now: datetime) -> list[tuple[str, str, str]]:
    """(words, token of the theme, what can be done about it: 'good', 'cap', '') of each day that comes on a bottle."""
    today, found = now.date(), []
    for kind, on, verb in ((tr("re-test"), row.retest_on, "good"), (tr("dropper cap"), row.dropper_on, "cap")):
        if on is not None:
            state, day = service.state(on, today), figures.day(on, now)
            text = tr("{kind} due since {day}", kind=kind, day=day) if state == "due" else f"{kind} {day}"
            found.append((text, "amber" if state else "quiet", verb))
    if row.bottle.ready_on is not None and row.bottle.ready_on > today:
        found.append((tr("ready {day}", day=figures.day(row.bottle.ready_on, now)), "amber", ""))
    return found


def cautions(row: BottleRow) -> list[str]:
    """What speaks against container, liner and dropper."""
    return [wording.sentence(finding) for finding in vessel.container_cautions(row.bottle)]
