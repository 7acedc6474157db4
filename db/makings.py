# SPDX-License-Identifier: MIT
"""Ways of making that need several values at once: a draft child, a trial, a delivery, anything weighed together, a loss settled.

Pure: values in, values out. What they refer to is looked up by the book.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from perfumery import Balance, Bottle, Composition, Contents, Making, Move, Value, Version, ledger, weighing
from perfumery.dilution import Pour, mixed
from perfumery.findings import refuse
from perfumery.ledger import Drift


def draft_of(parent: Version, code: str) -> Version:
    """A draft child: the same lines under a code of its own, no reason yet."""
    lines = tuple(replace(line, key=None) for line in parent.lines)
    return replace(
        parent, key=None, code=code, lines=lines, parent=parent.key, takes_from=None, reason="", made_at=None, frozen_at=None,
        starred=False, retired_on=None,
    )  # fmt: skip


def check_reason(version: Version | None) -> None:
    """Raises Refused `reason-missing` for a child version that does not say why it was made: it cannot be weighed yet."""
    if version is not None and version.parent is not None and not version.reason.strip():
        raise refuse("reason-missing", code=version.code)


def trial(
    version: Version, composition: Composition, code: str, vial_code: str, at: datetime, new_key: Callable[[], int]
) -> tuple[Bottle, Making, Contents]:
    """A vial that holds what the version intends, the making that freezes it, and what the vial holds.

    Raises Refused `reason-missing` for a child version without its reason, `no-lines` where there is nothing to weigh.
    """
    check_reason(version)
    if not composition.total_parts:
        raise refuse("no-lines")
    into = new_key()
    vial = Bottle(code=vial_code, kind="trial", label=f"{version.code} {code}", version=version.key, key=into)
    making = Making(
        kind="trial", code=code, version=version.key, into_bottle=into, mode="not weighed", target_g=composition.amount_g,
        started_at=at, finished_at=at, key=new_key(),
    )  # fmt: skip
    shares = {key: min(parts / composition.total_parts, 1.0) for key, parts in composition.expanded.items() if parts > 0}
    return vial, making, Contents(bottle=into, at=at, shares=shares, reason="made")


def smelling_code(vial: Bottle, strength: float) -> str:
    """The code of a vial's smelling dilution: 'V027-12'."""
    return f"{vial.code}-{strength * 100:g}"


def smelling_dilution(
    vial: Bottle, held: Contents | None, strength: float, carrier: int, code: str, at: datetime, new_key: Callable[[], int]
) -> tuple[Bottle, Making, Contents, Move]:
    """A bottle that holds the vial's liquid at a strength in a carrier, its making and contents, and where it came from.

    Raises Refused `contents-unknown` where the vial's contents are not known, `strength-range`.
    """
    if held is None or not held.shares:
        raise refuse("contents-unknown", code=vial.code)
    if not 0 < strength < 1:
        raise refuse("strength-range", percent=strength * 100)
    shares = {key: share * strength for key, share in held.shares.items()}
    shares[carrier] = min(shares.get(carrier, 0.0) + 1 - strength, 1.0)
    into = new_key()
    bottle = Bottle(
        code=code, kind="smelling", label=f"{vial.label} {strength * 100:g} %", version=vial.version, strength=strength,
        carrier=carrier, key=into,
    )  # fmt: skip
    making = Making(
        kind="smelling", into_bottle=into, version=vial.version, mode="not weighed", started_at=at, finished_at=at,
        remark=f"from {vial.code}", key=new_key(),
    )  # fmt: skip
    # nothing was weighed, so no mass is booked; the pour only says where the liquid came from
    poured = Move(
        at=at, kind="pour", mass_g=0.0, from_bottle=vial.key, to_bottle=into, making=making.key, contents=held.key,
        remark="not weighed",
    )  # fmt: skip
    return bottle, making, Contents(bottle=into, at=at, shares=shares, reason="made"), poured


@dataclass(frozen=True, slots=True)
class Poured:
    """What a balance showed for one liquid on its way into a bottle, g; `target_g` what was meant, `line` of which line."""

    bottle: int
    read_g: float
    target_g: float | None = None
    line: int | None = None
    estimated: bool = False


@dataclass(frozen=True, slots=True)
class Arrival:
    """A bottle that came: what is in it, g, None where nobody knows; `estimated` where that is millilitres times a density;
    `u_g` the standard uncertainty where it was weighed."""

    bottle: Bottle
    mass_g: float | None = None
    estimated: bool = False
    read_g: float | None = None
    u_g: float | None = None


def arrived(arrival: Arrival, at: datetime, new_key: Callable[[], int]) -> list[Value]:
    """The bottle, what its label says it holds, and its mass in the ledger."""
    bottle = replace(arrival.bottle, key=arrival.bottle.key or new_key())
    assert bottle.key is not None
    values: list[Value] = [bottle]
    if bottle.material is not None:
        shares = {bottle.material: bottle.strength}
        if bottle.strength < 1:
            if bottle.carrier is None:
                raise refuse("carrier-missing")
            shares[bottle.carrier] = 1 - bottle.strength
        values.append(Contents(bottle=bottle.key, at=at, shares=shares, reason="bought"))
    if arrival.mass_g is not None:
        values.append(
            Move(at=at, kind="received", mass_g=arrival.mass_g, to_bottle=bottle.key, read_g=arrival.read_g,
                 u_g=arrival.u_g, estimated=arrival.estimated, remark="delivery")
        )  # fmt: skip
    return values


def correction(bottle: int, difference_g: float, why: str, at: datetime) -> Move:
    """The book set right by name: so much more than booked, or less where negative."""
    more = difference_g > 0
    return Move(
        at=at, kind="correction", mass_g=abs(difference_g), to_bottle=bottle if more else None,
        from_bottle=None if more else bottle, remark=why,
    )  # fmt: skip


def together(
    making: Making, poured: Iterable[tuple[Poured, Contents | None, str]], balance: Balance | None,
    before: Pour | None = None,
) -> list[Value]:
    """The making, its pours, and the contents they give: from what was really read, and what was there before (a top-up).

    `poured` comes with the source's contents in force and its code. Raises Refused `contents-unknown`, `source-itself`,
    `mass-not-positive`.
    """  # fmt: skip
    at = making.finished_at or making.started_at
    u_g = None if balance is None else weighing.net_u(balance)
    moves: list[Value] = []
    pours = [] if before is None else [before]
    for one, held, code in poured:
        if one.bottle == making.into_bottle:
            raise refuse("source-itself", code=code)
        if held is None or not held.shares:
            raise refuse("contents-unknown", code=code)
        if not one.read_g > 0:
            raise refuse("mass-not-positive", mass_g=one.read_g)
        pours.append(Pour(held.shares, one.read_g))
        moves.append(
            Move(at=at, kind="pour", mass_g=one.read_g, from_bottle=one.bottle, to_bottle=making.into_bottle,
                 target_g=one.target_g, read_g=one.read_g, u_g=u_g, making=making.key, line=one.line, contents=held.key,
                 estimated=one.estimated)
        )  # fmt: skip
    reason = "made" if before is None else "topped up"
    return [making, *moves, Contents(bottle=making.into_bottle, at=at, shares=mixed(pours), reason=reason)]


def settled(bottle: Bottle, drift: Drift, found_at: datetime, held: Contents) -> list[Value]:
    """The missing mass written off as carrier, just before the hour it was found missing, and what is left from that hour on.

    Trials weighed before keep what they were weighed with. Raises Refused `carrier-missing` for a bottle without a carrier,
    `loss-beyond-carrier`.
    """
    if bottle.carrier is None or bottle.key is None:
        raise refuse("carrier-missing")
    shares = ledger.without_carrier(held.shares, bottle.carrier, drift.missing_g, drift.book_g)
    return [
        lost(bottle.key, drift.missing_g, found_at, held, "taken for carrier that evaporated"),
        Contents(bottle=bottle.key, at=found_at, shares=shares, reason="drift"),
    ]


def lost(bottle: int, missing_g: float, found_at: datetime, held: Contents | None, remark: str) -> Move:
    """Mass that a re-weighing found missing, written off just before its hour, so that the book says what was found."""
    return Move(
        at=found_at - timedelta(milliseconds=1), kind="lost", mass_g=missing_g, from_bottle=bottle, remark=remark,
        contents=None if held is None else held.key,
    )  # fmt: skip
