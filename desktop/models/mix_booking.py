# SPDX-License-Identifier: MIT
"""A mixture written into the book: at once with what was read, or begun to be weighed line by line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from db import Book, Poured
from desktop.models.mix import Plan
from desktop.models.mix_known import Known
from desktop.models.weigh import suggested_lines
from perfumery import Balance, Bottle, Contents, Making, Move, Planned, Value
from perfumery.findings import refuse


class Booking:
    """Writes plans of one book."""

    def __init__(self, book: Book, known: Known) -> None:
        self._book, self._known = book, known

    def book_it(
        self, plan: Plan, into: Bottle, reads: Sequence[float], balance: Balance | None, *, settle: bool = False,
        more: Mapping[int, tuple[float, str]] | None = None,
    ) -> Bottle:  # fmt: skip
        """A mixture with what was read, with the bottles that the book does not have yet and contents that are only on labels;
        `more` names {bottle: (g there was more in it than booked, why)}. All of it stands, or none.

        Raises Refused as `Bottles.make` does, and `reference-missing` for a liquid without its bottle.
        """
        lacking = next((leg for leg in plan.legs if leg.source is None), None)
        if lacking is not None:
            raise refuse("reference-missing", kind="bottle", key=lacking.name)
        wrong = next((read for read in reads if not read > 0), None)
        if wrong is not None:
            raise refuse("mass-not-positive", mass_g=wrong)
        also, keys = self._fresh(plan)
        now = self._book.now()
        also += tuple(
            Move(at=now, kind="correction", mass_g=grams, to_bottle=bottle, remark=why)
            for bottle, (grams, why) in (more or {}).items()
        )
        poured = [
            Poured(keys.get(leg.code) or leg.bottle or 0, read, leg.target_g, leg.line)
            for leg, read in zip(plan.legs, reads, strict=True)
        ]
        return self._book.bottles.make(
            plan.kind, into, poured, balance=balance, version=plan.version, target_g=plan.total_g - plan.before_g,
            settle=settle, also=also,
        )  # fmt: skip

    def begin(self, plan: Plan, into: Bottle, balance: Balance | None, *, settle: bool = False) -> Making:
        """A mixture begun to be weighed line by line: an accord in the order suggested for its version, else as it is told.
        Raises Refused as `Weighings.begin` does."""
        also, keys = self._fresh(plan)
        planned = [Planned(leg.target_g, leg.line, keys.get(leg.code) or leg.bottle) for leg in plan.legs]
        version = self._known.version(plan.version) if plan.kind == "accord" else None
        if version is not None:
            place = {line: at for at, line in enumerate(suggested_lines(self._book, version))}
            planned.sort(key=lambda one: place.get(one.line or 0, len(place)))
        return self._book.weighings.begin(
            plan.kind, into, planned, balance=None if balance is None else balance.key, version=plan.version,
            target_g=plan.total_g - plan.before_g, settle=settle, also=also,
        )  # fmt: skip

    def _fresh(self, plan: Plan) -> tuple[tuple[Value, ...], dict[str, int]]:
        """(what has to be put with it: bottles that the book does not have yet, contents known only from labels; {code: key} of
        those bottles). They are put in the same transaction, so that a refusal leaves none of them behind."""
        also: list[Value] = []
        keys: dict[str, int] = {}
        now = self._book.now()
        for leg in plan.legs:
            if not leg.shares or leg.code in keys:
                continue
            if leg.unbooked is not None:
                fresh = replace(leg.unbooked, key=self._book.new_key())
                assert fresh.key is not None
                keys[leg.code] = fresh.key
                also.append(fresh)
            elif leg.bottle is None or self._known.contents(leg.bottle):
                continue
            else:
                keys[leg.code] = leg.bottle
            also.append(Contents(bottle=keys[leg.code], at=now, shares=leg.shares, reason="bought", key=self._book.new_key()))
        return tuple(also), keys
