# SPDX-License-Identifier: MIT
"""The rules a put is held to before anything is written, and what a refused constraint means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from db.kinds import KINDS
from db.store import Store
from db.undo import Change
from perfumery import (
    BlindTest,
    Bottle,
    Finding,
    Making,
    Material,
    Move,
    Note,
    Reading,
    Refused,
    Sitting,
    Strip,
    Value,
    Version,
    ledger,
)
from perfumery import cas as cas_numbers
from perfumery.findings import refuse
from perfumery.shelf import reached
from perfumery.smelling import due_times
from perfumery.values import describe

# Sums of many masses may be off by the last digit of a float, never by what a balance shows.
TOLERATED_G = 1e-6
# Of a strip under seal; see `seal`.
HIDDEN = frozenset({"code", "bottle", "dipped_at", "strength", "carrier", "amount_g"})
_LINE_FROZEN = ("key", "parts", "material", "accord", "strength", "carrier", "fill_up", "held", "as_carrier", "remark")


def complete(value: Any, now: datetime) -> Any:
    """The value with what only the book can fill in: when it was made, noted or entered; a CAS number tidied."""
    if isinstance(value, Version) and value.made_at is None:
        return replace(value, made_at=now)
    if isinstance(value, Note) and value.at is None:
        return replace(value, at=now)
    if isinstance(value, Reading) and value.entered_at is None:
        return replace(value, entered_at=now)
    if isinstance(value, Material) and value.cas != cas_numbers.tidy(value.cas):
        return replace(value, cas=cas_numbers.tidy(value.cas))
    if isinstance(value, Strip) and not value.reading_times:
        return replace(value, reading_times=due_times(value))
    return value


def unfrozen(new: Value) -> Value:
    """A value as it may be new: only being weighed freezes a version."""
    return replace(new, frozen_at=None) if isinstance(new, Version) and new.frozen_at is not None else new


def check_keys(values: Iterable[Any], next_key: int) -> None:
    """Raises Refused for keys that the book's counter has not given, and for a record that replaces what came after it."""
    for value in values:
        replaced = getattr(value, "replaces", None)
        for key in (value.key, *(line.key for line in getattr(value, "lines", ()))):
            if key is not None and not 0 < key < next_key:
                raise refuse("reference-missing", kind=type(value).__name__, key=key)
        if replaced is not None and replaced >= (next_key if value.key is None else value.key):
            raise refuse("reference-missing", kind=type(value).__name__, key=replaced)


def check(pairs: list[tuple[Any, Any]], store: Store) -> None:
    """Raises Refused with everything that forbids these (old, new) values."""
    found: list[Finding] = []
    putting = {new.key: new for _, new in pairs if isinstance(new, Version)}
    sittings = {new.key: (old, new) for old, new in pairs if isinstance(new, Sitting)}
    for old, new in pairs:
        found += _settled(old, new, sittings)
        if isinstance(new, Strip) and old is None:
            found += _into_sealed(new, store)
        if isinstance(new, Material) and new.cas and (old is None or old.cas != new.cas):
            found += cas_numbers.findings(new.cas)
        if isinstance(new, Version):
            found += _frozen(old, new)
            if _accords(new) - _accords(old):
                # only a line that is new can close a loop
                _refuse_loop(new, putting, store)
        if isinstance(new, Reading) and old is None:
            found += _after_dip(new, pairs, store)
    found += _beyond_left([new for old, new in pairs if isinstance(new, Move) and old is None], pairs, store)
    if found:
        raise Refused(*found)


def _into_sealed(strip: Strip, store: Store) -> list[Finding]:
    sitting = None if strip.sitting is None else store.get(KINDS[Sitting], strip.sitting)
    return [] if sitting is None or sitting.clock_at is None else [Finding("sealed", {"code": sitting.code})]


def _settled(
    old: Value | None, new: Value, sittings: Mapping[int | None, tuple[Sitting | None, Sitting]]
) -> list[Finding]:
    kind = KINDS[type(new)]
    if old is None or old == new or kind.editable:
        return []
    changed = {field.name for field in kind.fields if getattr(old, field.name) != getattr(new, field.name)}
    if isinstance(old, Making) and old.version is None:
        # what was freely poured may become a version afterwards
        changed.discard("version")
    if isinstance(old, Strip):
        changed -= _opened(sittings.get(old.sitting))
    if isinstance(old, Sitting | BlindTest) and old.revealed_at is not None:
        # what was revealed is known
        changed |= {"sealed"} if "revealed_at" in changed else set()
    if isinstance(old, Sitting) and old.clock_at is not None and "clock_at" in changed:
        changed.add("sealed")
    return [] if not kind.record and changed <= kind.settled else [Finding("record", {"name": describe(old)})]


def _opened(way: tuple[Sitting | None, Sitting] | None) -> frozenset[str]:
    """What of a strip may change as its sitting is sealed, or a shuffled one is revealed."""
    before, after = way or (None, None)
    if before is None or after is None:
        return frozenset()
    if before.clock_at is None and after.clock_at is not None:
        return frozenset({"blind_code"})
    return HIDDEN if before.is_sealed and before.shuffled and not after.is_sealed else frozenset()


def _frozen(old: Version | None, new: Version) -> list[Finding]:
    if old is None or (old.frozen_at is None and new.frozen_at is None):
        return []
    same_lines = [[getattr(line, name) for name in _LINE_FROZEN] for line in old.lines] == [
        [getattr(line, name) for name in _LINE_FROZEN] for line in new.lines
    ]
    if same_lines and old.total == new.total and old.frozen_at == new.frozen_at and old.project == new.project:
        return []
    return [Finding("frozen", {"code": old.code})]


def _accords(version: Version | None) -> set[int]:
    return set() if version is None else {line.accord for line in version.lines if line.accord is not None}


def _refuse_loop(version: Version, putting: dict[int | None, Version], store: Store) -> None:
    """Raises Refused `accord-loop` naming the loop, or `reference-missing`, if the version would hold itself."""
    accords: dict[int, Version] = {}
    wanted = _accords(version)
    while wanted:
        ready = {key: putting[key] for key in wanted if key in putting}
        ready |= store.many(KINDS[Version], wanted - ready.keys())
        accords |= ready
        wanted = {
            line.accord for inner in ready.values() for line in inner.lines if line.accord is not None
        } - accords.keys() - {version.key}  # fmt: skip
    reached(version, accords)


def _beyond_left(moves: list[Move], pairs: list[tuple[Any, Any]], store: Store) -> list[Finding]:
    """More may not leave a bottle than is left in it; that there was more is booked first, as a correction with its reason.

    What replaces or withdraws a move is held to the same at both ends of that move. A bottle of which nobody knows what is in
    it is left alone.
    """
    replaced = store.many(KINDS[Move], [move.replaces for move in moves if move.replaces is not None])
    touching: dict[int, list[Move]] = {}
    leaving: set[int] = set()
    for move in moves:
        earlier = replaced.get(move.replaces or 0)
        ends = _ends(move) | (_ends(earlier) if earlier is not None else set())
        for key in ends:
            touching.setdefault(key, []).append(move)
        if earlier is not None:
            leaving |= ends
        elif move.from_bottle is not None and move.kind != "found":
            leaving.add(move.from_bottle)
    before = store.moves(leaving)
    found = []
    for key in sorted(leaving):
        had = before.get(key, [])
        own = ledger.in_force([*had, *touching[key]])
        if not (ledger.is_known(key, had) or ledger.is_known(key, own)):
            continue
        weighed = ledger.last_found(key, own)
        for was, now in zip(_masses(key, had, weighed), _masses(key, own, weighed), strict=True):
            if now < min(was, 0.0) - TOLERATED_G:
                bottle = next((new for _, new in pairs if isinstance(new, Bottle) and new.key == key), None)
                bottle = bottle or store.get(KINDS[Bottle], key)
                code = "" if bottle is None else bottle.code
                found.append(Finding("beyond-left", {"code": code, "left_g": max(was, 0.0), "wanted_g": was - now}))
                break
    return found


def _ends(move: Move) -> set[int]:
    return {key for key in (move.from_bottle, move.to_bottle) if key is not None}


def _masses(bottle: int, moves: Iterable[Move], weighed: Move | None) -> tuple[float, float]:
    """(what is left, the book just before a re-weighing): what is booked late for before it does not touch what is left."""
    own = list(moves)
    earlier = [m for m in own if weighed is not None and (m.at, m.key or 0) < (weighed.at, weighed.key or 0)]
    return ledger.left(bottle, own), ledger.book_mass(bottle, earlier)


def _after_dip(reading: Reading, pairs: list[tuple[Any, Any]], store: Store) -> list[Finding]:
    strip = next((new for _, new in pairs if isinstance(new, Strip) and new.key == reading.strip), None)
    strip = strip or store.get(KINDS[Strip], reading.strip)
    if strip is None:
        raise refuse("reference-missing", kind="Strip", key=reading.strip)
    sitting = None if strip.sitting is None else store.get(KINDS[Sitting], strip.sitting)
    code, since = strip.code, strip.dipped_at
    if sitting is not None and sitting.is_sealed:
        code, since = strip.blind_code, sitting.clock_at
    return [Finding("read-before-dip", {"strip": code, "dipped_at": since})] if reading.at < since else []


def refusal_of(said: str, change: Change, *, undoing: bool) -> Refused:
    """What a constraint of the file means in our terms."""
    values = [new if new is not None else old for old, new in change.pairs]
    names = ", ".join(describe(value) for value in values[:3])
    if "UNIQUE" in said:
        if ".replaces" in said:
            return refuse("record", name=names)
        coded = [value for value in values if KINDS[type(value)].code is not None]
        return refuse("code-taken", code=", ".join(describe(value) for value in coded[:3]))
    if "FOREIGN KEY" in said:
        return refuse("undo-held", what=change.what) if undoing else refuse("reference-missing", kind="value", key=names)
    if said in ("frozen", "record"):
        return refuse("frozen", code=names) if said == "frozen" else refuse("record", name=names)
    return refuse("kind-unknown", kind=names, known=(said,))
