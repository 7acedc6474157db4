# SPDX-License-Identifier: MIT
"""Days that come due on a bottle: whose months count, from which day, and how early it is said."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Bottle, Habit, Material
from perfumery.ledger import months_after
from perfumery.service import dropper_due, habits, retest_months, retest_on, state
from perfumery.values import FORMS, HABITS

KNOWN = habits(())
OPENED = date(2024, 11, 20)


def test_habits_are_the_perfumers_own_where_there_are_any():
    own = habits((Habit("dropper cap months", 6.0),))
    assert own["dropper cap months"] == 6 and own["dissolve days"] == HABITS["dissolve days"]
    assert habits(()) == HABITS


def test_months_of_a_material_its_own_or_those_of_its_form():
    assert retest_months(Material("Lemon oil", form="essential oil", retest_months=12), KNOWN) == 12
    assert retest_months(Material("Lemon oil", form="essential oil"), KNOWN) == 18
    own = habits((Habit("re-test months essential oil", 9.0), Habit("re-test months solvent", 0.0)))
    assert retest_months(Material("Lemon oil", form="essential oil"), own) == 9
    # none at all is none, and a form the perfumer made up has no habit
    assert retest_months(Material("Ethanol", form="solvent"), own) is None
    assert retest_months(Material("Ash", form="ashes"), KNOWN) is None


def test_every_form_has_its_months():
    assert [form for form in FORMS if retest_months(Material("x", form=form), KNOWN) is None] == []


def test_a_bottle_ages_from_its_opening_and_only_what_is_kept_on_the_shelf():
    bought = Bottle("M01-1", opened_on=OPENED)
    assert retest_on(bought, 12) == date(2025, 11, 20)
    assert retest_on(bought, None) is None
    # one that was never opened does not age; a dilution ages from its making
    assert retest_on(Bottle("M02-1"), 12, OPENED) is None
    assert retest_on(Bottle("K19", kind="dilution"), 12, date(2025, 1, 10)) == date(2026, 1, 10)
    assert retest_on(Bottle("K19", kind="dilution", opened_on=OPENED), 12, date(2025, 1, 10)) == date(2025, 11, 20)
    assert retest_on(Bottle("K19", kind="dilution"), 12) is None
    for kind in ("trial", "smelling", "accord", "benchmark"):
        assert retest_on(Bottle("V", kind=kind, opened_on=OPENED), 12, OPENED) is None


def test_a_day_written_on_the_bottle_goes_before_everything():
    written = date(2027, 1, 10)
    assert retest_on(Bottle("K20", kind="dilution", retest_on=written), 24, date(2025, 1, 10)) == written
    assert retest_on(Bottle("V1", kind="trial", retest_on=written), None) == written


def test_a_dropper_cap_is_changed_yearly_or_as_this_perfumer_does():
    bottle = Bottle("K19", dropper_on=date(2025, 1, 10))
    assert dropper_due(bottle, KNOWN) == date(2026, 1, 10)
    assert dropper_due(bottle, habits((Habit("dropper cap months", 3.0),))) == date(2025, 4, 10)
    assert dropper_due(bottle, habits((Habit("dropper cap months", 0.0),))) is None
    assert dropper_due(Bottle("K20"), KNOWN) is None


@pytest.mark.parametrize(
    "today, said",
    [("2025-10-19", ""), ("2025-10-20", "soon"), ("2025-11-19", "soon"), ("2025-11-20", "due"), ("2026-05-01", "due")],
)
def test_soon_from_a_month_before_due_from_the_day_itself(today, said):
    assert state(date(2025, 11, 20), date.fromisoformat(today)) == said
    assert state(None, date.fromisoformat(today)) == ""


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(-400, 400))
def test_a_state_never_goes_back(on, days):
    today = on + timedelta(days=days)
    order = ("", "soon", "due")
    assert order.index(state(on, today)) <= order.index(state(on, today + timedelta(days=1)))
    assert (state(on, today) == "due") == (days >= 0)
    assert (state(on, today) == "") == (today < months_after(on, -1))
