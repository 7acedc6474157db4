# SPDX-License-Identifier: MIT
"""Ways of making that need several values at once: a draft child, a trial that is not weighed, its smelling dilution."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from perfumery import Bottle, Contents, Making, Material, Move, Project, Version, compose
from perfumery.findings import refuse

if TYPE_CHECKING:
    from db.book import Book


def draft_of(book: Book, version: int) -> Version:
    """A draft child, not yet put."""
    parent = _version(book, version)
    project = book.get(Project, parent.project)
    stem = f"{project.code}-" if project is not None else f"{parent.code}-"
    lines = tuple(replace(line, key=None) for line in parent.lines)
    code = book.next_code(Version, stem, project=parent.project)
    return replace(
        parent, key=None, code=code, lines=lines, parent=version, takes_from=None, reason="", made_at=None, frozen_at=None,
        starred=False, retired_on=None,
    )  # fmt: skip


def start_trial(book: Book, version: int, amount_g: float, what: str) -> tuple[Making, Bottle]:
    """A vial that holds what the version intends, and the making that froze it."""
    weighed = _version(book, version)
    if weighed.parent is not None and not weighed.reason.strip():
        raise refuse("reason-missing", code=weighed.code)
    composition = compose(weighed, book.shelf(weighed), amount_g)
    if not composition.total_parts:
        raise refuse("no-lines")
    trial_code = book.next_code(Making, "T-")
    vial = Bottle(
        code=book.next_code(Bottle, "V"), kind="trial", label=f"{weighed.code} {trial_code}", version=version,
        key=book.new_key(),
    )  # fmt: skip
    assert vial.key is not None
    now = book.now()
    making = Making(
        kind="trial", code=trial_code, version=version, into_bottle=vial.key, mode="not weighed", target_g=amount_g,
        started_at=now, finished_at=now, key=book.new_key(),
    )  # fmt: skip
    shares = {key: min(parts / composition.total_parts, 1.0) for key, parts in composition.expanded.items() if parts > 0}
    contents = Contents(bottle=vial.key, at=now, shares=shares, reason="made")
    vial, making, _ = book.put(vial, making, contents, what=what or f"trial {trial_code} of {weighed.code}")
    return making, vial


def smelling_dilution(book: Book, bottle: int, strength: float, carrier: int) -> Bottle:
    """A bottle that holds the vial's liquid at a strength in a carrier."""
    vial = book.get(Bottle, bottle)
    if vial is None:
        raise refuse("reference-missing", kind="Bottle", key=bottle)
    thinner = book.get(Material, carrier)
    if thinner is None:
        raise refuse("reference-missing", kind="Material", key=carrier)
    held = max(book.all(Contents, bottle=bottle), key=lambda state: (state.at, state.key), default=None)
    if held is None or not held.shares:
        raise refuse("contents-unknown", code=vial.code)
    if not 0 < strength < 1:
        raise refuse("strength-range", percent=strength * 100)
    shares = {key: share * strength for key, share in held.shares.items()}
    shares[carrier] = min(shares.get(carrier, 0.0) + 1 - strength, 1.0)
    percent = f"{strength * 100:g}"
    stem = f"{vial.code}-{percent}"
    code = stem if book.get(Bottle, stem) is None else book.next_code(Bottle, f"{stem}-")
    made = Bottle(
        code=code, kind="smelling", label=f"{vial.label} {percent} %", version=vial.version,
        strength=strength, carrier=carrier, key=book.new_key(),
    )  # fmt: skip
    assert made.key is not None
    now = book.now()
    making = Making(
        kind="smelling", into_bottle=made.key, version=vial.version, mode="not weighed", started_at=now, finished_at=now,
        remark=f"from {vial.code}", key=book.new_key(),
    )  # fmt: skip
    contents = Contents(bottle=made.key, at=now, shares=shares, reason="made")
    # nothing was weighed, so no mass is booked; the pour only says where the liquid came from
    poured = Move(
        at=now, kind="pour", mass_g=0.0, from_bottle=bottle, to_bottle=made.key, making=making.key, contents=held.key,
        remark="not weighed",
    )  # fmt: skip
    put: Bottle = book.put(made, making, contents, poured, what=f"smelling dilution {code}")[0]
    return put


def _version(book: Book, key: int) -> Version:
    version = book.get(Version, key)
    if version is None:
        raise refuse("reference-missing", kind="Version", key=key)
    return version
