# SPDX-License-Identifier: MIT
"""Limits and constituents refuse what cannot be, each with its reason."""

import pytest

from perfumery import Constituent, Limit, Refused


@pytest.mark.parametrize("share", [0.0, -0.1, 1.1, float("nan")])
def test_a_limit_is_a_share_of_the_product(share: float) -> None:
    with pytest.raises(Refused) as refused:
        Limit("Camphor in all", share)
    assert [one.code for one in refused.value.findings] == ["limit-range"]


def test_a_limit_needs_a_name_and_a_true_cas_number() -> None:
    with pytest.raises(Refused) as refused:
        Limit(" ", 0.01, cas="76-22-3")
    assert [one.code for one in refused.value.findings] == ["name-empty", "cas-check-digit"]
    assert Limit("Camphor", 1.0).category == ""


@pytest.mark.parametrize("shares", [(0.3, 0.2, None), (None, 0.5, 0.4), (-0.1, None, None), (None, None, 1.2)])
def test_shares_of_a_constituent_rise_from_least_to_most(shares: tuple[float | None, ...]) -> None:
    with pytest.raises(Refused) as refused:
        Constituent(1, "camphor", "76-22-2", *shares)
    assert [one.code for one in refused.value.findings] == ["constituent-range"]


def test_what_is_not_known_of_a_constituent_stays_so() -> None:
    assert Constituent(1, "camphor").high is None
    assert Constituent(1, "camphor", low=0.1, high=0.1).high == 0.1
    with pytest.raises(Refused) as refused:
        Constituent(1, "", "1")
    assert [one.code for one in refused.value.findings] == ["name-empty", "cas-shape"]
