# SPDX-License-Identifier: MIT
"""Ways of making that need several values at once: a draft child, a trial that is not weighed, its smelling dilution."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from perfumery import Bottle, Composition, Contents, Making, Move, Version
from perfumery.findings import refuse


def draft_of(parent: Version, code: str) -> Version:
    """A draft child: the same lines under a code of its own, no reason yet."""
    lines = tuple(replace(line, key=None) for line in parent.lines)
    return replace(
        parent, key=None, code=code, lines=lines, parent=parent.key, takes_from=None, reason="", made_at=None, frozen_at=None,
        starred=False, retired_on=None,
    )  # fmt: skip


def trial(
    version: Version, composition: Composition, code: str, vial_code: str, at: datetime, new_key: Callable[[], int]
) -> tuple[Bottle, Making, Contents]:
    """A vial that holds what the version intends, the making that freezes it, and what the vial holds.

    Raises Refused `reason-missing` for a child version without its reason, `no-lines` where there is nothing to weigh.
    """
    if version.parent is not None and not version.reason.strip():
        raise refuse("reason-missing", code=version.code)
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
