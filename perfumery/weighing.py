# SPDX-License-Identifier: MIT
"""What a balance can tell apart.

Standard uncertainty of a net mass: max(s, 0.41 d), s the repeatability of net weighings, 0.41 d the floor of USP <41>
(d ÷ √6 ≈ 0.41 d: two readings, each rounded to d); with a stated accuracy a also √(u² + a²/3).
"""

from __future__ import annotations

import math

from perfumery.findings import Finding
from perfumery.values import Balance

FLOOR_OF_D = 0.41
K = 2


def net_u(balance: Balance) -> float:
    """Standard uncertainty of one net weighing, g."""
    u = max(balance.s_g or 0.0, FLOOR_OF_D * balance.d_g)
    return u if balance.accuracy_g is None else math.hypot(u, balance.accuracy_g / math.sqrt(3))


def found_u(balance: Balance) -> float:
    """Standard uncertainty of a net mass from a gross weighing now and a tare from another day, g: √2 of one weighing's."""
    return math.sqrt(2) * net_u(balance)


def readable(mass_g: float, balance: Balance | None) -> list[Finding]:
    """Says of a mass that it is less than the balance's smallest step."""
    if balance is None or mass_g == 0 or mass_g >= balance.d_g:
        return []
    return [Finding("below-readability", {"mass_g": mass_g, "d_g": balance.d_g})]
