# SPDX-License-Identifier: MIT
"""Freezing: at the first accepted figure a version and every accord inside it stand for ever as they are."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, select, update

from db import tables as t
from db.kinds import KINDS
from db.store import Store
from db.undo import Change
from perfumery import Making, Move, Version
from perfumery.instants import to_ms


def freeze(store: Store, sql: Connection, change: Change) -> tuple[tuple[Version, Version], ...]:
    """Freezes what this change weighed, inside its transaction; returns (before, after) of every version it froze.

    A making counts when it is not weighed (there is no figure to wait for) and when it gets its version after it was weighed, a
    pour when it belongs to a making.
    """
    weighed: dict[int, datetime] = {}
    for old, new in change.pairs:
        if isinstance(old, Making) and isinstance(new, Making) and old.version is None and new.version is not None:
            weighed.setdefault(new.version, new.started_at)
        if old is not None:
            continue
        if isinstance(new, Making) and new.mode == "not weighed" and new.version is not None:
            weighed.setdefault(new.version, new.started_at)
        elif isinstance(new, Move) and new.kind == "pour" and new.making is not None:
            making: Making | None = store.get(KINDS[Making], new.making)
            if making is not None and making.version is not None:
                weighed.setdefault(making.version, new.at)
    frozen: list[tuple[Version, Version]] = []
    for key, at in weighed.items():
        inside = store.many(KINDS[Version], inside_keys(sql, key))
        ms, off = to_ms(at)
        sql.execute(
            update(t.VERSION).where(t.VERSION.c.key == key, t.VERSION.c.frozen_at.is_(None)).values(frozen_at=ms, frozen_off=off)
        )
        frozen += [(v, replace(v, frozen_at=at)) for v in inside.values() if v.frozen_at is None]
    return tuple(frozen)


def inside_keys(sql: Connection, version: int) -> list[int]:
    """Keys of a version and of all accords reached from it, in one recursive query."""
    inside = select(t.VERSION.c.key).where(t.VERSION.c.key == version).cte("inside", recursive=True)
    inside = inside.union(
        select(t.LINE.c.accord).join(inside, t.LINE.c.version == inside.c.key).where(t.LINE.c.accord.is_not(None))
    )
    return [row[0] for row in sql.execute(select(inside.c.key))]
