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
from perfumery import Move, service, vessel, weighing
from perfumery.ledger import Drift

_CAME = {"received": "came", "found": "found", "strip": "strip", "used": "used", "spill": "spilled", "lost": "lost",
         "discard": tr("thrown away"), "given": tr("given away"), "correction": "correction"}  # fmt: skip
_STATES = {"bought": tr("as labelled"), "made": tr("as made"), "topped up": tr("topped up"), "drift": tr("after its loss"),
           "correction": "corrected"}  # fmt: skip


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
        return tr("nothing but {what}", what="" if only is None else only.short)
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
    return figures.unit(f"{low * factor:.{places}f} to {high * factor:.{places}f}", unit)


def head(row: BottleRow) -> str:
    """'Ambroxide 10 % in ethanol'."""
    strength = "" if row.bottle.kind in ("trial", "smelling") else strength_text(row)
    return " ".join(filter(None, (row.what, "" if strength == "neat" else strength)))


def drift_text(row: BottleRow, drift: Drift, now: datetime) -> str:
    """What a re-weighing says: how much is missing, since when, at what rate, the range of strengths, the tolerance."""
    made = "" if row.counted_from is None else tr(" since {counted_from}", counted_from=figures.day(row.counted_from, now))
    step = 0.01 if drift.per_month >= 0.1 else 0.001
    text = tr(
        "{missing_g} missing{made}, {per_month} a month.",
        missing_g=figures.mass_text(drift.missing_g), made=made, per_month=figures.mass_text(drift.per_month, step),
    )
    if row.bottle.carrier is None:
        return text
    text += tr(
        " If that was {carrier_name}: {strength_low}.",
        carrier_name=row.carrier_name, strength_low=between(drift.strength_low, drift.strength_high),
    )
    if drift.passes_on is not None:
        gone = drift.passes_on <= now.date()
        text += tr(
            " Tolerance {what} {passes_on}.",
            what="passed" if gone else "will be passed", passes_on=figures.day(drift.passes_on, now),
        )
    return text


def move_text(move: Move, bottle: int, code: Callable[[int | None], str], now: datetime) -> str:
    """One line of the ledger: '10 Apr, 15:00  −0.125 g to V024'."""
    into = move.to_bottle == bottle
    other = move.from_bottle if into else move.to_bottle
    mass = figures.mass_text(move.mass_g)
    about = "about " if move.estimated else ""
    if move.kind == "found":
        words = tr("{mass} found", mass=mass)
    elif move.kind == "pour":
        words = f"{about}{mass} {'from' if into else 'to'} {code(other)}"
        words = words if move.mass_g else tr("{what} {other}, not weighed", what="from" if into else "to", other=code(other))
    else:
        sign = "+" if into else figures.MINUS
        words = f"{sign}{about}{mass} {_CAME.get(move.kind, move.kind)}"
    remark = f" · {move.remark}" if move.remark and move.kind != "pour" else ""
    return f"{figures.moment(move.at, now)}  {words}{remark}"


def state_text(book: Book, state: object, material: int | None, now: datetime) -> str:
    """One state of the contents, with why it began."""
    reason, at, shares = getattr(state, "reason", ""), getattr(state, "at", None), getattr(state, "shares", {})
    return f"{figures.day(at, now)} {_STATES.get(reason, reason)}: {contents(book, dict(shares), None, material)}"


def facts(row: BottleRow, book: Book, now: datetime) -> list[str]:
    """Lot, supplier, days, container, tare, price: what is known, in short lines."""
    bottle, lines = row.bottle, []

    def day(on: object) -> str:
        return figures.day(on, now)  # type: ignore[arg-type]

    bought = [tr("lot {lot}", lot=bottle.lot) if bottle.lot else "", bottle.supplier, bottle.supplier_no]
    lines.append(" · ".join(filter(None, bought)))
    days = [f"{word} {day(on)}" for word, on in (("received", bottle.received_on), ("opened", bottle.opened_on)) if on]
    if bottle.received_on is None and row.made_at is not None:
        days.insert(0, f"{'came' if bottle.kind == 'bought' else 'made'} {day(row.made_at)}")
    lines.append(" · ".join(days))
    glass = [bottle.container, bottle.liner and tr("liner {liner}", liner=bottle.liner)]
    if bottle.volume_ml is not None and f"{bottle.volume_ml:g} ml" not in bottle.container:
        glass.append(figures.unit(figures.parts(bottle.volume_ml), "ml"))
    if bottle.tare_g is not None:
        glass.append(tr(
            "tare {tare_g}{what}",
            tare_g=figures.mass_text(bottle.tare_g, 0.01), what=" (inferred)" if bottle.tare_inferred else "",
        ))
    lines.append(" · ".join(filter(None, glass)))
    price, missing = book.bottles.price(row.key)
    if price is not None:
        whole = "" if bottle.kind == "bought" else tr(" by what it truly holds")
        lines.append(figures.money(price, book.currency, at_least=bool(missing)) + whole)
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
        found.append((tr("ready {ready_on}", ready_on=figures.day(row.bottle.ready_on, now)), "amber", ""))
    return found


def cautions(row: BottleRow) -> list[str]:
    """What speaks against container, liner and dropper."""
    return [wording.sentence(finding) for finding in vessel.container_cautions(row.bottle)]
