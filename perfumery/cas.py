# SPDX-License-Identifier: MIT
"""CAS Registry Numbers: their shape and their check digit.

The rule (CAS Registry, "Check Digit Verification of CAS Registry Numbers"): counted from the right of the digits before
the check digit, multiply the first by 1, the second by 2 and so on; the sum modulo 10 is the check digit.
"""

from __future__ import annotations

import re

from perfumery.findings import Finding

_SHAPE = re.compile(r"(\d{2,7})-(\d{2})-(\d)")
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2212", "-"))


def check_digit(body: str) -> int:
    """The check digit 0..9 of the digits before it, dashes ignored: '4707-47' gives 5."""
    digits = [int(d) for d in body if d.isdigit()]
    return sum(place * digit for place, digit in enumerate(reversed(digits), start=1)) % 10


def tidy(text: str) -> str:
    """The number as it is kept: spaces gone, any dash a hyphen."""
    return "".join(text.split()).translate(_DASHES)


def findings(text: str) -> tuple[Finding, ...]:
    """What is wrong with this CAS number: nothing, `cas-shape`, or `cas-check-digit` with the digit it should be."""
    match = _SHAPE.fullmatch(tidy(text))
    if match is None:
        return (Finding("cas-shape", {"text": text}),)
    wanted = check_digit(match[1] + match[2])
    if int(match[3]) != wanted:
        return (Finding("cas-check-digit", {"text": tidy(text), "digit": wanted}),)
    return ()
