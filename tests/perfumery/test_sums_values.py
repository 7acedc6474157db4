# SPDX-License-Identifier: MIT
"""A value that cannot be must be refused when it is made, with every reason, so that no later sum has to doubt it."""

import dataclasses
import math
from datetime import UTC, date, datetime

import pytest

from perfumery.findings import Refused
from perfumery.values import (
    Balance,
    BenchCheck,
    Bottle,
    Contents,
    Decision,
    Habit,
    Line,
    Making,
    Material,
    Move,
    Note,
    Planned,
    Project,
    Property,
    Reading,
    Sitting,
    Strip,
    Version,
    Word,
    describe,
)

AT = "2025-03-04T09:06+01:00"
CASES = [
    (Material, {"name": "Lemon oil"}, {"name": " "}, "name-empty", {}),
    (Bottle, {"code": "M01-1"}, {"code": ""}, "code-empty", {}),
    (Bottle, {"code": "M01-1"}, {"strength": 0.0}, "strength-range", {"percent": 0.0}),
    (Bottle, {"code": "M01-1"}, {"strength": 1.5}, "strength-range", {"percent": 150.0}),
    (Bottle, {"code": "M01-1"}, {"material": 1, "version": 2}, "line-one-of", {}),
    (Bottle, {"code": "M01-1"}, {"tare_g": 0.0}, "mass-not-positive", {"mass_g": 0.0}),
    (Bottle, {"code": "M01-1"}, {"volume_ml": -30.0}, "volume-not-positive", {"volume_ml": -30.0}),
    (Habit, {"name": "drift tolerance"}, {"value": -0.05}, "habit-share", {"value": -0.05, "most": 1.0}),
    (Habit, {"name": "drift tolerance"}, {"value": 0.0}, "habit-share", {"value": 0.0, "most": 1.0}),
    (Habit, {"name": "low share"}, {"value": math.inf}, "habit-share", {"value": math.inf, "most": 1.0}),
    (Habit, {"name": "dissolve days"}, {"value": 3651.0}, "habit-range", {"value": 3651.0, "most": 3650.0}),
    (Habit, {"name": "re-test months liquid"}, {"value": 1e6}, "habit-range", {"value": 1e6, "most": 1200.0}),
    (Material, {"name": "Geosmin"}, {"retest_months": 10**6}, "habit-range", {"value": 10**6, "most": 1200.0}),
    (Bottle, {"code": "B1"}, {"price_per_g": -3.0}, "price-negative", {"price": -3.0}),
    (BenchCheck, {"balance": 1, "at": AT, "weight_g": 20.0}, {"readings": ()}, "mass-not-positive", {"mass_g": 20.0}),
    (BenchCheck, {"balance": 1, "at": AT, "readings": (20.0,)}, {"weight_g": 0.0}, "mass-not-positive", {"mass_g": 0.0}),
    (BenchCheck, {"balance": 1, "at": AT, "weight_g": 20.0}, {"readings": (20.0, math.nan)}, "mass-not-positive",
     {"mass_g": 20.0}),
    (Contents, {"bottle": 1, "at": AT}, {"shares": {1: 0.5, 2: 0.4}}, "share-sum", {"total": 0.9}),
    (Contents, {"bottle": 1, "at": AT}, {"shares": {1: 1.5, 2: -0.5}}, "share-sum", {"total": 1.0}),
    (Contents, {"bottle": 1, "at": AT}, {"shares": {1: 1.0, 2: 0.0}}, "share-sum", {"total": 1.0}),
    (Project, {"code": "SR"}, {"code": ""}, "code-empty", {}),
    (Project, {"code": "SR"}, {"strength": 1.2}, "strength-range", {"percent": 120.0}),
    (Project, {"code": "SR"}, {"amount_g": 0.0}, "mass-not-positive", {"mass_g": 0.0}),
    (Project, {"code": "SR"}, {"reading_times": (60.0, 0.0)}, "reading-time-range", {"longest_days": 90.0}),
    (Strip, {"code": "P03", "bottle": 1, "dipped_at": AT}, {"reading_times": (91 * 86400.0,)}, "reading-time-range",
     {"longest_days": 90.0}),
    (Line, {"material": 1}, {"parts": math.inf}, "parts-not-finite", {}),
    (Line, {"material": 1}, {"parts": math.nan}, "parts-not-finite", {}),
    (Line, {"material": 1}, {"parts": -0.5}, "parts-negative", {"parts": -0.5}),
    (Line, {"material": 1}, {"accord": 2}, "line-one-of", {}),
    (Line, {}, {"parts": 5.0}, "line-one-of", {}),
    (Line, {"carrier": 2}, {"material": 1, "strength": 1.01}, "strength-range", {"percent": 101.0}),
    (Line, {"carrier": 2}, {"material": 1, "strength": -0.5}, "strength-range", {"percent": -50.0}),
    (Line, {"accord": 2}, {"strength": 0.5}, "accord-strength", {}),
    (Line, {"material": 1}, {"strength": 0.1}, "carrier-missing", {}),
    (Line, {"material": 1}, {"carrier": 2}, "carrier-unneeded", {}),
    (Line, {"material": 1}, {"strength": 0.1, "carrier": 1}, "carrier-itself", {}),
    (Version, {"project": 1, "code": "SR-1"}, {"code": ""}, "code-empty", {}),
    (Version, {"project": 1, "code": "SR-1"}, {"total": 0.0}, "total-not-positive", {"total": 0.0}),
    (Version, {"project": 1, "code": "SR-1"}, {"total": math.inf}, "total-not-positive", {"total": math.inf}),
    (Balance, {"name": "B1", "d_g": 0.001}, {"name": ""}, "name-empty", {}),
    (Balance, {"name": "B1", "d_g": 0.001}, {"d_g": 0.0}, "readability-not-positive", {"step": 0.0}),
    (Move, {"at": AT, "kind": "received", "mass_g": 50.0}, {}, "from-and-to", {}),
    (Move, {"at": AT, "mass_g": 1.0, "from_bottle": 1}, {"kind": "pour"}, "from-and-to", {}),
    (Move, {"at": AT, "mass_g": 1.0, "to_bottle": 1}, {"kind": "pour"}, "from-and-to", {}),
    (Move, {"at": AT, "kind": "spill", "from_bottle": 1}, {"mass_g": -0.1}, "mass-not-positive", {"mass_g": -0.1}),
    (
        Move, {"at": AT, "kind": "spill", "from_bottle": 1}, {"mass_g": math.inf},
        "mass-not-positive", {"mass_g": math.inf},
    ),
    (Move, {"at": AT, "mass_g": 0.1, "from_bottle": 1}, {"kind": "correction", "remark": " "}, "correction-unnamed", {}),
    (Strip, {"code": "P03", "bottle": 1, "dipped_at": AT}, {"code": ""}, "code-empty", {}),
    (Strip, {"code": "P03", "bottle": 1, "dipped_at": AT}, {"strength": 2.0}, "strength-range", {"percent": 200.0}),
    (Reading, {"strip": 1, "at": AT}, {"intensity": 6.5}, "intensity-scale", {"value": 6.5}),
    (Reading, {"strip": 1, "at": AT}, {"intensity": -0.5}, "intensity-scale", {"value": -0.5}),
    (Reading, {"strip": 1, "at": AT}, {"intensity": 2.25}, "intensity-scale", {"value": 2.25}),
    (Reading, {"strip": 1, "at": AT}, {"liking": 5}, "liking-scale", {"value": 5}),
    (Reading, {"strip": 1, "at": AT}, {"liking": -5}, "liking-scale", {"value": -5}),
    (Reading, {"strip": 1, "at": AT}, {"liking": 0.5}, "liking-scale", {"value": 0.5}),
    (Reading, {"strip": 1, "at": AT}, {"distance_cm": -1.0}, "distance-negative", {"value": -1.0}),
    (Reading, {"strip": 1, "at": AT}, {"words": {"pine": 4}}, "word-weight", {"word": "pine", "value": 4}),
    (Reading, {"strip": 1, "at": AT}, {"words": {"pine": 0}}, "word-weight", {"word": "pine", "value": 0}),
    (Reading, {"strip": 1, "at": AT}, {"words": {"pine": 1.5}}, "word-weight", {"word": "pine", "value": 1.5}),
    (Word, {"text": "pine"}, {"text": ""}, "name-empty", {}),
    (Note, {"text": "waxy"}, {}, "line-one-of", {}),
    (Note, {"text": "waxy"}, {"material": 1, "version": 2}, "line-one-of", {}),
    (Sitting, {}, {"at": "2025-03-04T09:00"}, "time-naive", {"text": "2025-03-04T09:00:00"}),
    (Decision, {"project": 1}, {"made_on": "24 March"}, "day-unreadable", {"text": "24 March"}),
]  # fmt: skip


@pytest.mark.parametrize("kind, fields, wrong, code, data", CASES)
def test_refused_with_its_reason(refused, kind, fields, wrong, code, data):
    finding = refused(kind, **{**fields, **wrong})
    assert (finding.code, finding.data) == (code, data)


@pytest.mark.parametrize(
    "kind, fields, name",
    [
        (Bottle, {"code": "M01-1"}, "kind"),
        (Contents, {"bottle": 1, "at": AT}, "reason"),
        (Making, {"kind": "trial", "into_bottle": 1, "started_at": AT}, "kind"),
        (Making, {"kind": "trial", "into_bottle": 1, "started_at": AT}, "mode"),
        (Move, {"at": AT, "kind": "spill", "mass_g": 1.0, "from_bottle": 1, "remark": "weighed twice"}, "kind"),
        (Strip, {"code": "P03", "bottle": 1, "dipped_at": AT}, "kind"),
    ],
)
def test_unknown_kind_is_refused_with_the_known_ones(refused, kind, fields, name):
    finding = refused(kind, **{**fields, name: "heap"})
    assert finding.code == "kind-unknown"
    assert finding.data["kind"] == "heap"
    for known in finding.data["known"]:
        assert getattr(kind(**{**fields, "to_bottle": 2, name: known} if kind is Move else {**fields, name: known}), name)


def test_a_habit_that_is_not_one_is_refused_with_the_known_ones(refused):
    finding = refused(Habit, name="tea", value=1.0)
    assert finding.code == "kind-unknown" and "dropper cap months" in finding.data["known"]


def test_the_ends_of_what_a_habit_may_be_are_inside():
    for name, value in (("low share", 0.0), ("head space", 1.0), ("drift tolerance", 1e-9), ("drift tolerance", 1.0),
                        ("dissolve days", 3650.0), ("weigh again months", 1200.0), ("dropper cap months", 0.0)):  # fmt: skip
        assert Habit(name, value).value == value
    assert Material("x", retest_months=1200).retest_months == 1200 and Material("x", retest_months=0).retest_months == 0
    assert Bottle("B1", price_per_g=0.0).price_per_g == 0


def test_every_reason_is_given_at_once():
    with pytest.raises(Refused) as caught:
        Line(parts=-1.0, material=1, strength=0.0, carrier=1)
    assert [f.code for f in caught.value.findings] == ["parts-negative", "strength-range", "carrier-itself"]


def test_fill_up_line_may_fill_with_nothing_and_names_an_excess(refused):
    filler = Line(material=1, fill_up=True)
    assert Version(project=1, code="A", lines=(Line(parts=1000.0, material=2), filler)).total == 1000.0
    finding = refused(Version, project=1, code="A", lines=(Line(parts=1010.0, material=2), filler))
    assert (finding.code, finding.data) == ("fill-up-excess", {"total": 1000.0, "others": 1010.0, "excess": 10.0})
    assert refused(Version, project=1, code="A", lines=(filler, filler)).code == "fill-up-twice"


def test_fill_up_excess_is_a_decimal_figure_and_an_ulp_is_none(refused):
    filler, tenth = Line(material=1, fill_up=True), Line(parts=0.1, material=2)
    assert math.fsum([0.1, 0.1, 0.1]) > 0.3
    assert Version(project=1, code="A", total=0.3, lines=(tenth, tenth, tenth, filler)).total == 0.3
    finding = refused(Version, project=1, code="A", lines=(Line(parts=1010.1, material=2), filler))
    assert finding.data["excess"] == 10.1


def test_without_a_fill_up_line_any_sum_will_do():
    assert Version(project=1, code="A", lines=[Line(parts=1010.0, material=2)]).lines == (Line(parts=1010.0, material=2),)


def test_times_days_and_collections_are_normalised():
    version = Version(project=1, code="A", lines=[], made_at="2025-03-04T09:00:00.0005Z", retired_on="2025-05-01")
    assert version.lines == ()
    assert version.made_at == datetime(2025, 3, 4, 9, tzinfo=UTC)
    assert version.retired_on == date(2025, 5, 1)
    words = {"pine": 2}
    reading = Reading(strip=1, at=AT, words=words)
    words["pine"] = 3
    assert reading.words == {"pine": 2}
    assert Project(code="SR", reading_times=[120.0]).reading_times == (120.0,)
    assert Material(name="x", synonyms=["y"], properties=[Property("density", 0.9)]).properties[0].value == 0.9


def test_a_check_of_a_balance_and_a_plan_are_taken_as_they_come():
    # a balance may show nothing for its weight, or less: that is what a check is for
    check = BenchCheck(balance=1, at=AT, weight_g=20.0, readings=[0.0, -0.001])
    assert (check.readings, check.level_ok, check.warm_up_min) == ((0.0, -0.001), None, None)
    making = Making(kind="trial", into_bottle=1, started_at=AT, plan=[Planned(0.5), Planned(0.1, line=2, bottle=3)])
    assert making.plan == (Planned(0.5, None, None), Planned(0.1, 2, 3))


def test_sitting_needs_nothing_but_its_time():
    assert Sitting(at=AT).at == datetime(2025, 3, 4, 8, 6, tzinfo=UTC)


def test_values_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        Material(name="x").name = "y"


def test_scale_ends_are_inside():
    for intensity in (0, 0.5, 6):
        assert Reading(strip=1, at=AT, intensity=intensity).intensity == intensity
    for liking in (-4, 0, 4):
        assert Reading(strip=1, at=AT, liking=liking, distance_cm=0.0).liking == liking
    assert Contents(bottle=1, at=AT, shares={1: 0.1, 2: 0.9}).shares == {1: 0.1, 2: 0.9}
    assert Contents(bottle=1, at=AT, shares={1: 1.0}).shares == {1: 1.0}
    assert Contents(bottle=1, at=AT).shares == {}  # not known
    for about in ("material", "bottle", "version", "project"):
        assert getattr(Note(text="waxy", **{about: 1}), about) == 1


def test_what_a_value_says_of_itself():
    assert Material(name="Lemon oil, cold-pressed", bench_name="Lemon oil").short == "Lemon oil"
    assert Material(name="Linalool").short == "Linalool"
    assert [Material(name="x", form=form).is_solid for form in ("Crystals", "powder", "liquid")] == [True, True, False]
    assert not Version(project=1, code="A").is_frozen
    assert Version(project=1, code="A", frozen_at=AT).is_frozen


def test_describe():
    assert describe(Version(project=1, code="SR-1", name="first sketch")) == "SR-1"
    assert describe(Material(name="Lemon oil")) == "Lemon oil"
    assert describe(Word(text="pine")) == "pine"
    assert describe(Making(kind="trial", into_bottle=1, started_at=AT)) == "making"


@pytest.mark.parametrize(
    ("form", "botanical", "mixture"),
    [
        ("essential oil", "", True), ("absolute; paste", "", True), ("liquid", "", False), ("liquid", "Citrus bergamia", True),
        ("crystals", "Mentha arvensis", False), ("isolate", "Cinnamomum camphora", False), ("solvent", "", False),
    ],
)  # fmt: skip
def test_a_natural_is_a_mixture_unless_one_substance_was_taken_from_it(form: str, botanical: str, mixture: bool) -> None:
    assert Material("x", form=form, botanical=botanical).is_mixture is mixture
