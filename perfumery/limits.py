# SPDX-License-Identifier: MIT
"""Limits on what a finished product holds: every substance over all routes, constituents of naturals at their maximum.

Limits are what the user typed, for a category of product, with their source; nothing here says what is allowed. A share is
mass of the substance ÷ mass of the product, at the finished strength (mass of concentrate, its carriers included, ÷ mass of
product). What a natural holds and nobody wrote down is not zero: the share is then "at least", and the natural is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from perfumery.compose import compose, resolved
from perfumery.findings import Finding
from perfumery.limited import Constituent, Limit
from perfumery.shelf import Shelf
from perfumery.text import fold
from perfumery.values import Line, Material, Version

FINE, CLOSE, OVER = "fine", "close", "over"
# Our own choice: from here on it is said to be close.
CLOSE_FROM = 0.9
# A sum of shares misses by a few ulp; a product that holds just what is allowed is not over.
_ROUNDING = 1e-12
_STRENGTH_STEP, _PARTS_STEP = 1e-5, 0.01


@dataclass(frozen=True, slots=True)
class LimitState:
    """One limit on one product. Shares are 0..1 of the product: `share` of the substance, `sources` {material: its part of it}.

    `unknown` are the materials of which nobody wrote down whether they hold the substance: where there are any, `share` is
    "at least". `most_per_thousand` is the most of it in the concentrate at this strength, `highest_strength` the strongest the
    product may be, rounded down to 0.001 %, None where nothing limits it.
    """

    limit: Limit
    share: float
    sources: Mapping[int, float]
    unknown: tuple[int, ...]
    most_per_thousand: float
    highest_strength: float | None

    @property
    def ratio(self) -> float:
        """The share as a part of what the limit lets: 1 is just all of it."""
        return self.share / self.limit.share_max

    @property
    def state(self) -> str:
        """'fine', 'close' from 90 % of the limit, 'over'."""
        return state_of(self.ratio)


@dataclass(frozen=True, slots=True)
class BudgetState:
    """Limits of one category that share a budget: the sum of their ratios is at most 1."""

    budget: str
    category: str
    parts: tuple[LimitState, ...]

    @property
    def ratio(self) -> float:
        """The sum of the ratios."""
        return math.fsum(part.ratio for part in self.parts)

    @property
    def state(self) -> str:
        """As of a limit."""
        return state_of(self.ratio)

    @property
    def unknown(self) -> tuple[int, ...]:
        """What is not known of any of them."""
        return tuple(dict.fromkeys(key for part in self.parts for key in part.unknown))


@dataclass(frozen=True, slots=True)
class LimitsFound:
    """Every limit as it stands, in the order it was given, and every shared budget; `unknown` are the formula's materials of
    unknown composition."""

    states: tuple[LimitState, ...]
    budgets: tuple[BudgetState, ...]
    unknown: tuple[int, ...]


def limits(version: Version, shelf: Shelf, strength: float, given: Iterable[Limit]) -> LimitsFound:
    """How a version stands to limits when finished at a strength, 0..1.

    `shelf` reaches the version (`book.shelf(version)`), with what is known of constituents. Raises what `compose` raises.
    """
    whole = compose(version, shelf, strength=strength)
    total = whole.total_parts
    shares = {key: parts / total for key, parts in whole.expanded.items()} if total else {}
    known = {key: _inside(material, shelf.constituents.get(key, ())) for key, material in shelf.materials.items()}
    states = tuple(_state(limit, shares, known, strength) for limit in given)
    budgets: dict[tuple[str, str], list[LimitState]] = {}
    for state in states:
        if state.limit.budget:
            budgets.setdefault((state.limit.budget, state.limit.category), []).append(state)
    unknown = tuple(key for key in shares if known[key].is_unknown)
    return LimitsFound(
        states, tuple(BudgetState(budget, category, tuple(own)) for (budget, category), own in budgets.items()), unknown
    )


def limit_findings(found: LimitsFound) -> tuple[Finding, ...]:
    """`limit-over` and `limit-close` for every limit and budget that is, with its figures; nothing for those that are fine."""
    told = [
        Finding(f"limit-{one.state}", {"name": one.limit.name, "share": one.share, "allowed": one.limit.share_max,
                                       "at_least": bool(one.unknown)})
        for one in found.states if one.state != FINE
    ]  # fmt: skip
    told += [
        Finding("budget-over", {"name": one.budget, "ratio": one.ratio}) for one in found.budgets if one.state == OVER
    ]  # fmt: skip
    return tuple(told)


def state_of(ratio: float) -> str:
    """What a ratio of a limit is called; never rounded up, and never down to under it."""
    if ratio > 1 + _ROUNDING:
        return OVER
    return CLOSE if ratio >= CLOSE_FROM - _ROUNDING else FINE


def is_unknown(material: Material, constituents: Iterable[Constituent]) -> bool:
    """Whether it is a mixture of whose composition nothing that applies was written down."""
    return material.is_mixture and not any(one.applies and one.high is not None for one in constituents)


def held(limit: Limit, material: Material, constituents: Iterable[Constituent]) -> float | None:
    """The share 0..1 of a limited substance in one material: 1 where it is it, its constituent at the maximum, 0 where it has
    none of it; None where that is not known."""
    return _held(limit, fold(limit.name), _inside(material, constituents))


@dataclass(frozen=True, slots=True)
class _Inside:
    """A material and what is in it, with the names that limits are held against."""

    material: Material
    names: frozenset[str]
    named: tuple[tuple[str, Constituent], ...]
    is_mixture: bool
    is_unknown: bool

    def is_meant(self, limit: Limit, name: str) -> bool:
        """Whether it is the limited substance; `name` is the limit's, folded."""
        if limit.material is not None and limit.material == self.material.key:
            return True
        if limit.cas and self.material.cas:
            return limit.cas == self.material.cas
        return name in self.names


def _inside(material: Material, constituents: Iterable[Constituent]) -> _Inside:
    own = tuple(constituents)
    names = (material.name, material.bench_name, material.inci, *material.synonyms)
    return _Inside(
        material, frozenset(fold(name) for name in names if name), tuple((fold(one.name), one) for one in own),
        material.is_mixture, is_unknown(material, own),
    )  # fmt: skip


def _held(limit: Limit, name: str, inside: _Inside) -> float | None:
    if inside.is_meant(limit, name):
        return 1.0
    named = [one for known, one in inside.named if (limit.cas == one.cas if limit.cas and one.cas else name == known)]
    known = [one.high for one in named if one.applies and one.high is not None]
    if known:
        return max(known)
    # data of another quality say that it may be in there, and not how much
    return None if named or inside.is_unknown else 0.0


def is_borne(limit: Limit, materials: Iterable[Material], constituents: Iterable[Constituent]) -> bool:
    """Whether any of them is the limited substance; where none is, the limit counts nothing."""
    name = fold(limit.name)
    if any(_inside(one, ()).is_meant(limit, name) for one in materials):
        return True
    return any(limit.cas == one.cas if limit.cas and one.cas else name == fold(one.name) for one in constituents)


def _state(limit: Limit, shares: Mapping[int, float], known: Mapping[int, _Inside], strength: float) -> LimitState:
    found: dict[int, float] = {}
    unknown: list[int] = []
    # no oil is a constituent of another oil: of a mixture only itself is counted
    name = fold(limit.name)
    is_mixture = any(one.is_mixture and one.is_meant(limit, name) for one in known.values())
    for key, share in shares.items():
        inside = _held(limit, name, known[key])
        if inside is None:
            unknown += [] if is_mixture else [key]
        elif inside:
            found[key] = share * inside
    within = math.fsum(found.values())
    highest = None
    if within > 0:
        highest = min(_down(limit.share_max / within, _STRENGTH_STEP), 1.0)
    return LimitState(
        limit, within * strength, {key: share * strength for key, share in found.items()}, tuple(unknown),
        limit.share_max / strength * 1000, highest,
    )  # fmt: skip


def most_parts(version: Version, shelf: Shelf, strength: float, limit: Limit) -> dict[int, float | None]:
    """{place of a line: the most parts that it may have, the other lines untouched, rounded down to 0.01}, no fill-up line's.

    Where the version has a fill-up line that gives way, so that the total stays. `math.inf` where more of the line never leads
    over the limit, None where the product is over it even without the line. Substances that are not known are left out.
    """
    lines = resolved(version)
    inside = [_of_line(line, limit, shelf) for line in lines]
    most = limit.share_max / strength
    places = [place for place, line in enumerate(lines) if not line.fill_up]
    return {place: _most_parts(version.total, lines, inside, most, place) for place in places}


def _most_parts(total: float, lines: Sequence[Line], inside: Sequence[float], most: float, place: int) -> float | None:
    filling = next((at for at, line in enumerate(lines) if line.fill_up), None)
    others = [at for at in range(len(lines)) if at not in (place, filling)]
    rest = math.fsum(lines[at].parts for at in others)
    content = math.fsum(lines[at].parts * inside[at] for at in others)
    own = inside[place]
    if filling is None:
        room, gain = most * rest - content, own - most
    else:
        room = most * total - content - inside[filling] * (total - rest)
        gain = own - inside[filling]
    if gain <= 0 and filling is None:
        return math.inf
    if gain <= 0:
        # the more of it, the less of what it takes the place of
        whole = total - rest
        return _down(whole, _PARTS_STEP) if content + own * whole <= most * total * (1 + _ROUNDING) else None
    if room < -_ROUNDING * max(rest, 1.0):
        return None
    reached = max(room, 0.0) / gain
    return _down(reached if filling is None else min(reached, total - rest), _PARTS_STEP)


def _of_line(line: Line, limit: Limit, shelf: Shelf) -> float:
    """The share of a limited substance in one part of a line, as far as it is known."""
    alone = Version(project=0, code="-", lines=(replace(line, parts=1.0, fill_up=False),))
    parts = compose(alone, shelf).expanded
    inside = ((share, held(limit, shelf.materials[key], shelf.constituents.get(key, ()))) for key, share in parts.items())
    return math.fsum(share * own for share, own in inside if own is not None)


def _down(value: float, step: float) -> float:
    """The largest multiple of a step that is not above the value, but for a sum's last digits."""
    count = math.floor(value / step * (1 + _ROUNDING) + _ROUNDING)
    return float(f"{count * step:.12g}")
