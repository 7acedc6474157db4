# SPDX-License-Identifier: MIT
"""Findings: what a sum or a check noticed, as a code and its numbers.

perfumery never writes a sentence. It returns findings; `desktop/sentences.py` has one for every code listed in
`CODES`, and a test fails on a code without one. A finding that forbids something is raised inside `Refused`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

CODES: frozenset[str] = frozenset(
    {
        # values that cannot be
        "time-naive", "time-unreadable", "day-unreadable", "day-unclear", "day-beyond", "number-unreadable", "number-grouped",
        "number-empty", "data-unreadable", "name-empty", "code-empty", "code-taken", "cas-shape", "cas-check-digit",
        "parts-negative", "parts-not-finite",
        "strength-range", "room-range", "humidity-range",
        "carrier-missing", "carrier-unclear", "carrier-unneeded", "carrier-itself", "line-one-of",
        "total-not-positive",
        "fill-up-twice", "fill-up-excess", "accord-loop", "accord-strength", "share-sum", "mass-not-positive",
        "intensity-scale", "liking-scale", "distance-negative", "word-weight", "kind-unknown", "reference-missing",
        "odorant-out-of-reach", "frozen", "record", "not-correctable", "undo-held", "readability-not-positive",
        "read-before-dip", "from-and-to", "reading-time-range", "dilution-form", "strength-out-of-reach",
        "exchange-too-weak", "exchange-carrier", "exchange-no-carrier", "held-too-much", "nothing-to-rescale", "reason-missing",
        "contents-unknown",
        "volume-not-positive", "correction-unnamed", "habit-range", "habit-share", "price-negative", "settled",
        "top-up-late", "gone", "beyond-left", "loss-beyond-carrier", "below-readability",
        "too-little", "left-unknown", "source-itself", "unit-not-grams", "balance-below-zero", "after-not-less",
        "density-unknown",
        # a bottle: what it can take, what speaks against it, how its contents are brought into solution
        "vessel-too-small", "head-space-small", "container-plastic", "liner-none", "dropper-rubber", "dissolve-solid",
        "warm-thick", "tare-implausible", "too-few-readings", "order-boat", "order-thick",
        "not-ready", "order-accord", "order-trace", "order-bulk", "order-volatile", "over-capacity",
        # what to take care of while a formula is weighed
        "caution-always", "caution-flame", "caution-flash-unknown", "caution-air", "caution-powder", "caution-skin",
        "caution-decides",
        # blind tests: triangle, duo-trio, paired, ranking
        "answers-range", "right-range", "alpha-range", "power-range", "share-range", "dprime-range", "effect-form",
        "effect-range", "effect-too-small", "ranks-few", "ranks-missing", "ranks-tied",
        # how samples are served and strips are dipped one after another
        "serving-range", "blind-codes-short", "stand-range", "reading-minutes-range", "reading-times-close", "stagger-none",
        # blind sittings and tests in the book
        "sealed", "not-sealed", "sitting-empty", "sitting-read", "papers-missing", "code-unknown", "same-sample",
        "answer-missing", "answer-late",
        # limits and compositions
        "limit-range", "constituent-range", "compared-range", "steps-range", "dose-range", "same-line",
        # smell words
        "word-itself",
        # notices that forbid nothing
        "price-unknown", "no-lines", "all-carrier", "over-price", "grams-lost", "retired-used",
        "limit-over", "limit-close", "budget-over", "accord-newer",
        # whether a version can be made again today
        "again-never-weighed", "again-none", "again-prepare", "again-dissolve", "again-relabelled", "again-other-lot",
        "again-topped-up", "again-other-bottle", "again-unsmelled", "again-smelled-apart", "again-smelled-alike",
        "again-smelled-open",
        "again-strong", "again-weak", "again-not-ready", "again-retest-due", "again-retest-soon", "again-made-up", "again-opened",
        "again-not-weighed", "same-mass-strong", "same-mass-weak",
        # rows of a pasted sheet
        "row-too-wide", "row-total", "unit-unclear",
        # the state of a file
        "file-damaged", "key-broken", "file-structure",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed: a code of `CODES` and the figures or names its sentence needs."""

    code: str
    data: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"no such finding: {self.code}")


class Refused(Exception):
    """Raised for a value that cannot be; carries one finding for every reason."""

    def __init__(self, *findings: Finding) -> None:
        super().__init__("; ".join(f"{f.code} {dict(f.data)}" for f in findings))
        self.findings = findings


def refuse(code: str, /, **data: Any) -> Refused:
    """The exception for one reason, ready to be raised."""
    return Refused(Finding(code, data))
