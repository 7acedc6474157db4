# SPDX-License-Identifier: MIT
"""Sets of a blind test as they are served: which code holds which sample, and what counts as right.

A set is written '417:A 862:A 295:B' in the order of serving, A the first sample; in duo-trio the reference comes first as 'R:A'.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import cycle, islice
from random import Random

from perfumery.findings import refuse
from perfumery.methods import DUO_TRIO, METHODS, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE, checked_count
from perfumery.serving import blind_codes, williams
from perfumery.smelled import RANKING

REFERENCE = "R"
_LETTERS = "ABCDEFGH"
# Codes differ among so many of the newest strips of a test; there are not enough for all of a long one.
_LATELY = 60


def planned_sets(method: str, samples: int, count: int, rng: Random, taken: Iterable[str] = ()) -> tuple[str, ...]:
    """So many sets of a method, every order equally often as far as the count allows, in an order that chance decides; codes
    are new in each set. The same ones for the same `rng`.

    Raises Refused `kind-unknown`, `answers-range`, `serving-range` for samples that the method cannot take (rankings 2..8,
    all others 2).
    """
    checked_count(count)
    if method == RANKING:
        orders = ["".join(_LETTERS[place] for place in row) for row in williams(samples)]
    elif method in METHODS:
        if samples != 2:
            raise refuse("serving-range", samples=samples, fewest=2, most=2)
        orders = list(METHODS[method].orders)
    else:
        raise refuse("kind-unknown", kind=method, known=(*METHODS, RANKING))
    # whole rounds of all orders, so that a test that is cut short is balanced too
    rounds: list[str] = []
    while len(rounds) < count:
        rounds += rng.sample(orders, len(orders))
    used, made = list(taken), []
    for order in islice(cycle(rounds), count):
        codes = blind_codes(len(order), rng, used[-_LATELY:])
        used += codes
        names = (REFERENCE, *codes[1:]) if method == DUO_TRIO else codes
        made.append(" ".join(f"{name}:{letter}" for name, letter in zip(names, order, strict=True)))
    return tuple(made)


def served(one: str) -> tuple[tuple[str, str], ...]:
    """((code, letter), …) of a set; letters are '' while it is sealed."""
    return tuple((code, letter) for code, _, letter in (part.partition(":") for part in one.split()))


def codes_of(one: str) -> tuple[str, ...]:
    """The codes that can be chosen, in the order of serving; the reference is none."""
    return tuple(code for code, _ in served(one) if code != REFERENCE)


def sealed(one: str) -> str:
    """The set without its key: '417 862 295'."""
    return " ".join(code for code, _ in served(one))


def is_right(method: str, one: str, chosen: str) -> bool:
    """Whether the chosen code is what was asked for: the odd one, the one like the reference, the one expected to have more
    (B, fixed beforehand), in a two-sided pair sample A. Raises Refused `code-unknown` for a code that was not served."""
    letters = dict(served(one))
    if chosen not in letters or chosen == REFERENCE:
        raise refuse("code-unknown", code=chosen, served=codes_of(one))
    own = letters[chosen]
    if method == TRIANGLE:
        return Counter(letters.values())[own] == 1
    if method == DUO_TRIO:
        return own == letters[REFERENCE]
    if method in (THREE_AFC, PAIRED_ONE_SIDED):
        return own == "B"
    if method == PAIRED:
        return own == "A"
    raise refuse("kind-unknown", kind=method, known=tuple(METHODS))


def ranks_of(one: str, chosen: str) -> tuple[int, ...]:
    """The rank of every sample (A first) of a set that was ranked: `chosen` names the codes from the least to the most.

    Raises Refused `code-unknown` for what was not served, `ranks-missing` where one is left out or stands twice.
    """
    letters, named = dict(served(one)), chosen.split()
    strange = next((code for code in named if code not in letters), None)
    if strange is not None:
        raise refuse("code-unknown", code=strange, served=codes_of(one))
    if sorted(named) != sorted(letters):
        raise refuse("ranks-missing", row=1, count=len(set(named)), samples=len(letters))
    places = {letters[code]: place for place, code in enumerate(named, 1)}
    return tuple(places[letter] for letter in sorted(places))
