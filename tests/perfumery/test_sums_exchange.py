# SPDX-License-Identifier: MIT
"""A stock exchanged for another strength, a formula rescaled around held lines: composition and total kept."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Line, Refused, Version
from perfumery.exchange import exchange, rescaled


def test_a_stock_exchanged_by_hand():
    """20 parts at 10 % are 2 neat and 18 of carrier; with 30 free parts 1 % cannot be, 4 % is the weakest that works."""
    neat = exchange(20, 0.1, 1.0)
    assert (neat.parts, neat.carrier_parts) == (2, 18)
    weak = exchange(20, 0.1, 0.04, free_carrier=30)
    assert (weak.parts, weak.carrier_parts) == (50, -30)
    with pytest.raises(Refused) as refused:
        exchange(20, 0.1, 0.01, free_carrier=30)
    (finding,) = refused.value.findings
    assert finding.code == "exchange-too-weak" and finding.data["weakest"] == pytest.approx(0.04)
    with pytest.raises(Refused):
        exchange(20, 0.1, 0)


@given(st.floats(0.1, 500), st.floats(0.001, 1), st.floats(0.001, 1))
def test_an_exchange_keeps_neat_parts_and_total(parts, strength, wanted):
    made = exchange(parts, strength, wanted, free_carrier=1e9)
    assert made.parts * wanted == pytest.approx(parts * strength)
    assert made.parts + made.carrier_parts == pytest.approx(parts)


def version(*parts: float, held: int | None = None, fill_up: bool = False) -> Version:
    lines = [Line(parts=p, material=at + 1, held=at == held) for at, p in enumerate(parts)]
    if fill_up:
        lines.append(Line(material=99, fill_up=True))
    return Version(project=1, code="V-1", lines=lines)


def test_held_lines_stay_and_the_rest_makes_the_total():
    """One line of 120 held in 1010 parts: the other 890 become 880, each × 0.988764."""
    scaled, factor = rescaled(version(120, 400, 490, held=0), 1000)
    assert round(factor, 6) == 0.988764 and scaled.lines[0].parts == 120
    assert math.fsum(line.parts for line in scaled.lines) == pytest.approx(1000) and scaled.total == 1000


def test_what_leaves_nothing_to_rescale_is_refused():
    for bad, total in ((version(120, held=0), 1000), (version(120, 5, held=0), 100)):
        with pytest.raises(Refused) as refused:
            rescaled(bad, total)
        assert refused.value.findings[0].code == "held-too-much"
    with pytest.raises(Refused) as refused:
        rescaled(version(1, 2), 0)
    assert refused.value.findings[0].code == "total-not-positive"


@given(st.lists(st.floats(0.1, 500), min_size=2, max_size=30), st.floats(1, 5000))
def test_rescaled_without_held_lines_keeps_every_ratio(parts, total):
    scaled, factor = rescaled(version(*parts), total)
    assert [line.parts for line in scaled.lines] == pytest.approx([p * factor for p in parts])
    assert math.fsum(line.parts for line in scaled.lines) == pytest.approx(total)
