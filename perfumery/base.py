# SPDX-License-Identifier: MIT
"""What every value does when it is made: instants and days normalised, sequences made tuples, its own rules checked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from functools import cache
from typing import Any

from perfumery.findings import Finding, Refused
from perfumery.instants import day, instant

LONGEST_READING_S = 90 * 86400.0


class Base:
    """What every value does on construction: instants and days normalised, sequences made tuples, rules checked."""

    __slots__ = ()

    def __post_init__(self) -> None:
        kind: Any = type(self)  # mypy takes no class for a hashable argument
        for name, tidy in _tidied(kind):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, tidy(value))
        wrong = tuple(self._wrong())
        if wrong:
            raise Refused(*wrong)

    def _wrong(self) -> list[Finding]:
        return []


@cache
def _tidied(kind: type[Any]) -> tuple[tuple[str, Callable[[Any], Any]], ...]:
    """The fields of a kind that are normalised on construction, each with how."""
    plan: list[tuple[str, Callable[[Any], Any]]] = []
    for spec in fields(kind):
        if spec.name == "at" or spec.name.endswith("_at"):
            plan.append((spec.name, instant))
        elif spec.name.endswith("_on"):
            plan.append((spec.name, day))
        elif str(spec.type).startswith("tuple"):
            plan.append((spec.name, tuple))
        elif str(spec.type).startswith("Mapping"):
            plan.append((spec.name, dict))
    return tuple(plan)


def one_of(kind: str, known: tuple[str, ...]) -> list[Finding]:
    """`kind-unknown` where a word is not one of the known ones."""
    return [] if kind in known else [Finding("kind-unknown", {"kind": kind, "known": known})]


def strength_wrong(value: float) -> list[Finding]:
    """`strength-range` for what is no strength."""
    return [] if 0 < value <= 1 else [Finding("strength-range", {"percent": value * 100})]


def reading_times_wrong(times_s: tuple[float, ...]) -> list[Finding]:
    """`reading-time-range` for due points that no strip has."""
    if all(0 < due <= LONGEST_READING_S for due in times_s):
        return []
    return [Finding("reading-time-range", {"longest_days": LONGEST_READING_S / 86400})]


def empty(name: str, code: str) -> list[Finding]:
    """The finding `code` where a text is empty."""
    return [] if name.strip() else [Finding(code)]
