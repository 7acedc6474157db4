# SPDX-License-Identifier: MIT
"""What restricts a formula, as frozen values: the limits the user typed, and what is known of a natural's composition."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from perfumery import cas
from perfumery.base import Base, empty
from perfumery.findings import Finding


@dataclass(frozen=True, slots=True)
class Limit(Base):
    """The most of one substance, 0..1 of the finished product, that a category of product may hold. Typed by the user.

    The substance is the material `material` where one is given; else whatever has its CAS number, else its name. Limits of
    one category with the same `budget` share it: their ratios are summed. `source` and `dated_on` say where the figure is
    from: without them nobody can check it later. An empty category counts for every product.
    """

    name: str
    share_max: float
    category: str = ""
    cas: str = ""
    material: int | None = None
    budget: str = ""
    source: str = ""
    dated_on: date | None = None
    remark: str = ""
    retired_on: date | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.name, "name-empty")
        wrong += [] if 0 < self.share_max <= 1 else [Finding("limit-range", {"percent": self.share_max * 100})]
        return wrong + (list(cas.findings(self.cas)) if self.cas else [])


@dataclass(frozen=True, slots=True)
class Constituent(Base):
    """How much of a named substance a natural holds: mass shares 0..1, each None where not known.

    `applies` is False for data that are known for another quality of the same natural (of untreated oil, say): then what this
    one holds is not known. `source` says where the figures are from.
    """

    whole: int
    name: str
    cas: str = ""
    low: float | None = None
    typical: float | None = None
    high: float | None = None
    source: str = ""
    applies: bool = True
    remark: str = ""
    retired_on: date | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.name, "name-empty")
        known = [share for share in (self.low, self.typical, self.high) if share is not None]
        if any(not 0 <= share <= 1 for share in known) or known != sorted(known):
            wrong.append(Finding("constituent-range", {"name": self.name}))
        return wrong + (list(cas.findings(self.cas)) if self.cas else [])
