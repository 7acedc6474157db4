# SPDX-License-Identifier: MIT
"""A bottle's mass by its moves, its drift at a re-weighing, and the days that come due."""

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Move, Refused
from perfumery.ledger import book_mass, drift, in_force, is_known, last_found, left, months_after, without_carrier

START = datetime.fromisoformat("2025-01-10T10:00:00+01:00")
BOTTLE, OTHER = 1, 2


def move(hours: float, kind: str, mass_g: float, *, key: int, out: bool = True, **more) -> Move:
    ends = {"from_bottle": BOTTLE} if out else {"to_bottle": BOTTLE}
    return Move(at=START + timedelta(hours=hours), kind=kind, mass_g=mass_g, key=key, **ends, **more)


MADE = move(0, "received", 20.0, key=1, out=False)
DRAWN = move(5, "used", 6.4, key=2)
FOUND = move(9, "found", 12.95, key=3, out=False)
LATER = move(12, "used", 0.5, key=4)


def test_book_mass_is_what_came_less_what_left():
    assert book_mass(BOTTLE, (LATER, DRAWN, MADE)) == 13.1
    assert book_mass(BOTTLE, (MADE, DRAWN, LATER), START + timedelta(hours=6)) == 13.6
    assert book_mass(OTHER, (MADE,)) == 0


def test_a_re_weighing_changes_what_is_left_and_not_the_book():
    moves = (MADE, DRAWN, FOUND, LATER)
    assert book_mass(BOTTLE, moves) == 13.1
    assert left(BOTTLE, moves) == 12.45
    assert left(BOTTLE, (MADE, DRAWN)) == 13.6
    assert last_found(BOTTLE, moves) == FOUND and last_found(BOTTLE, (MADE,)) is None


def test_a_corrected_or_withdrawn_move_no_longer_counts():
    wrong = move(5, "used", 64.0, key=5)
    right = move(5, "used", 6.4, key=6, replaces=5)
    gone = move(5, "withdrawn", 0.0, key=7, replaces=2)
    assert book_mass(BOTTLE, (MADE, wrong, right)) == 13.6
    assert book_mass(BOTTLE, (MADE, DRAWN, gone)) == 20


def test_drift_by_hand():
    """20.000 g at 10 %, 6.400 drawn, 12.95 found after 90 days: 0.65 g missing, 10.00 to 10.50 %, 5 % passed on day 89."""
    found = drift(made_on=date(2025, 1, 10), strength=0.1, book_g=13.6, found_g=12.95, found_on=date(2025, 4, 10))
    assert (round(found.missing_g, 3), round(found.per_month, 4)) == (0.65, 0.2198)
    assert (found.strength_low, round(found.strength_high, 4)) == (0.1, 0.105)
    assert found.passes_on == date(2025, 4, 9) and round(found.risen, 4) == 0.0502
    assert found.top_up_g == pytest.approx(0.65) and not found.is_noise


def test_what_the_balance_cannot_see_is_noise_and_more_than_booked_is_no_loss():
    same = {"made_on": date(2025, 1, 10), "strength": 0.2, "found_on": date(2025, 4, 10)}
    small = drift(book_g=18.494, found_g=18.49, noise_g=0.017, **same)
    assert small.is_noise
    more = drift(book_g=14.848, found_g=14.85, **same)
    assert more.is_noise and more.passes_on is None and more.strength_high == 0.2 and more.top_up_g == 0
    with pytest.raises(Refused):
        drift(book_g=0, found_g=1, **same)


def test_a_loss_that_takes_thousands_of_years_to_matter_passes_on_no_day():
    """100 g found as 99.999 g after two years: 5 % would be passed some 9,500 years on."""
    found = drift(made_on=date(2024, 1, 1), strength=0.1, book_g=100.0, found_g=99.999, found_on=date(2026, 1, 1))
    assert found.passes_on is None and found.missing_g == pytest.approx(0.001) and not found.is_noise


@given(
    st.dates(date(1900, 1, 1), date(2100, 1, 1)), st.floats(1e-6, 1e6), st.floats(-1, 1), st.integers(-5, 100_000),
    st.floats(1e-9, 1),
)  # fmt: skip
def test_any_loss_can_be_told(made_on, book_g, lost, days, tolerance):
    found_g = book_g * (1 - lost) or book_g
    found = drift(made_on=made_on, strength=0.1, book_g=book_g, found_g=found_g, found_on=made_on + timedelta(days=days),
                  tolerance=tolerance)  # fmt: skip
    assert 0.1 <= found.strength_high <= 1
    if found.passes_on is not None:
        # a straight line from the day it was made to the loss found
        loss_then = found.missing_g / max(days, 1) * ((found.passes_on - made_on).days + 1)
        assert found.missing_g > 0 and loss_then >= book_g * (1 - 1 / (1 + tolerance)) * (1 - 1e-9)


def test_what_only_left_or_was_not_weighed_tells_no_mass():
    assert not is_known(BOTTLE, ()) and not is_known(BOTTLE, (DRAWN,))
    assert not is_known(BOTTLE, (move(0, "pour", 0.0, key=9, out=False, from_bottle=OTHER),))
    assert is_known(BOTTLE, (MADE,)) and is_known(BOTTLE, (FOUND,)) and not is_known(OTHER, (MADE,))
    withdrawn = move(0, "withdrawn", 20.0, key=9, out=False, replaces=1)
    assert not is_known(BOTTLE, (MADE, DRAWN, withdrawn))


def test_a_correction_by_name_counts_like_a_move():
    more = move(6, "correction", 0.4, key=8, out=False, remark="the supplier filled in more")
    less = move(7, "correction", 0.1, key=9, remark="the scoop was wet")
    assert book_mass(BOTTLE, (MADE, DRAWN, more, less)) == 13.9
    assert left(BOTTLE, (MADE, DRAWN, FOUND, LATER, more, less)) == 12.45  # both before it was found


def test_a_move_put_twice_counts_by_its_last_wording_and_by_time():
    wrong, worse = move(5, "used", 64.0, key=5), move(5, "used", 6.0, key=6, replaces=5)
    right = move(4, "used", 6.4, key=7, replaces=6)
    assert in_force((right, worse, MADE, wrong)) == (MADE, right)


def test_carrier_that_evaporated_strengthens_the_rest():
    """13.6 g at 10 % that lost 0.65 g of ethanol: 1.36 ÷ 12.95 = 10.502 %; a second carrier rises like the material."""
    assert without_carrier({1: 0.1, 2: 0.9}, 2, 0.65, 13.6) == pytest.approx({1: 0.105019, 2: 0.894981}, abs=1e-6)
    risen = without_carrier({1: 0.1, 2: 0.6, 3: 0.3}, 2, 5.0, 20.0)
    assert risen == pytest.approx({1: 2 / 15, 2: 7 / 15, 3: 6 / 15})
    assert without_carrier({1: 0.1, 2: 0.9}, 2, 18.0, 20.0) == {1: 1.0}
    for lost in (18.001, 20.0, 25.0):
        with pytest.raises(Refused) as refused:
            without_carrier({1: 0.1, 2: 0.9}, 2, lost, 20.0)
        assert refused.value.findings[0].code == "loss-beyond-carrier"
        assert refused.value.findings[0].data == {"lost_g": lost, "carrier_g": 18.0}
    with pytest.raises(Refused):
        without_carrier({1: 1.0}, 2, 0.1, 20.0)


@given(st.integers(1, 999), st.integers(1, 50_000), st.integers(0, 1000))
def test_all_or_some_of_the_carrier_gone_leaves_shares_of_one(per_thousand, book_mg, lost_per_thousand):
    strength, book_g = per_thousand / 1000, book_mg / 1000
    lost_g = (1 - strength) * book_g * lost_per_thousand / 1000
    shares = without_carrier({1: strength, 2: 1 - strength}, 2, lost_g, book_g)
    assert sum(shares.values()) == pytest.approx(1, abs=1e-9) and all(0 < share <= 1 for share in shares.values())
    assert shares[1] * (book_g - lost_g) == pytest.approx(strength * book_g)


def test_months_after_keeps_to_the_month():
    assert months_after(date(2024, 11, 20), 12) == date(2025, 11, 20)
    assert months_after(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert months_after(date(2024, 12, 31), 2) == date(2025, 2, 28)
    # no figure leaves the calendar
    assert months_after(date(2024, 12, 31), 10**6) == months_after(date.max, 1) == date.max
    assert months_after(date(1, 1, 31), -1) == date.min and months_after(date(9999, 11, 30), 1) == date(9999, 12, 30)


@given(st.lists(st.tuples(st.booleans(), st.floats(0, 50)), max_size=20))
def test_book_mass_of_any_moves_is_their_sum(steps):
    moves = [move(hour, "used" if out else "received", mass, key=hour + 1, out=out) for hour, (out, mass) in enumerate(steps)]
    assert book_mass(BOTTLE, moves) == pytest.approx(sum(-mass if out else mass for out, mass in steps), abs=1e-8)
    assert left(BOTTLE, moves) == book_mass(BOTTLE, moves)
