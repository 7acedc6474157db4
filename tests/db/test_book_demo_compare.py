# SPDX-License-Identifier: MIT
"""What changed between the versions of the demo studio, as worked out beside it with exact fractions."""

from collections.abc import Iterator

import pytest

from db import Book, make_demo
from perfumery import Limit, Line, Material, Project, Version, difference, limits

# from, to: lines edited, materials changed, carriers changed, parts moved, odorants moved
CHANGES = (
    ("SR-1", "SR-2", 6, 13, 3, 55.00, 43.25),
    ("SR-2", "SR-2B", 8, 15, 3, 55.00, 50.90),
    ("SR-2", "SR-3", 7, 7, 1, 60.00, 48.75),
    ("SR-3", "SR-3B", 5, 10, 2, 35.00, 24.30),
    ("SR-3", "SR-4", 6, 12, 2, 30.00, 24.97),
    ("SR-2B", "SR-4", 15, 20, 3, 73.77, 62.37),
    ("SR-4", "SR-5", 16, 16, 1, 170.00, 144.00),
)


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    with make_demo(tmp_path_factory.mktemp("compare") / "demo.stillroom") as book:
        yield book


@pytest.mark.parametrize(("a", "b", "lines", "materials", "carriers", "moved", "odorants"), CHANGES)
def test_what_changed_from_version_to_version(
    studio: Book, a: str, b: str, lines: int, materials: int, carriers: int, moved: float, odorants: float
) -> None:
    first, second = studio.get(Version, a), studio.get(Version, b)
    assert first is not None and second is not None
    found = difference(first, second, studio.shelf(first, second))
    assert (found.lines_edited, found.materials_changed, found.carriers_changed) == (lines, materials, carriers)
    assert (round(found.parts_moved, 2), round(found.odorants_moved, 2)) == (moved, odorants)


def test_what_moved_from_sr_3_to_sr_4(studio: Book) -> None:
    first, second = studio.get(Version, "SR-3"), studio.get(Version, "SR-4")
    assert first is not None and second is not None
    found = difference(first, second, studio.shelf(first, second))
    assert found.parts_moved == pytest.approx(30.0, abs=1e-9)
    named = {studio.get(Material, one.material).short: one for one in found.materials}
    assert named["Grapefruit oil"].ratio == pytest.approx(110 / 90)
    assert named["Ambroxide"].ratio == pytest.approx(3.25 / 3.9)
    assert named["Black pepper oil"].ratio is None and named["Black pepper oil"].b == pytest.approx(5.0)
    lines = [line.b.line for line in found.lines if line.is_edited and line.b is not None]
    edited = {studio.get(Material, line.material).short for line in lines if line.material}
    edited |= {studio.get(Version, line.accord).code for line in lines if line.accord}
    assert edited == {"A-WS", "Ambroxide", "Lemon oil", "Grapefruit oil", "Pine needle oil", "Black pepper oil"}


# limits of the demo studio, at 12 %: share of the product in %, state
LIMITS = {
    "Vetiver oil in all": {
        "SR-1": (0.0864, "fine"), "SR-2": (0.1344, "fine"), "SR-2B": (0.1248, "fine"), "SR-3": (0.2544, "over"),
        "SR-4": (0.2400, "close"), "SR-3B": (0.2736, "over"), "SR-5": (0.7200, "over"),
    },
    "Linalool in all": {
        "SR-1": (0.8220, "over"), "SR-2": (0.7020, "fine"), "SR-2B": (0.6780, "fine"), "SR-3": (0.6750, "fine"),
        "SR-4": (0.6750, "fine"), "SR-3B": (0.5550, "fine"), "SR-5": (0.5340, "fine"),
    },
    "Camphor in all": {
        "SR-1": (0.0450, "fine"), "SR-2": (0.0450, "fine"), "SR-2B": (0.0450, "fine"), "SR-3": (0.0450, "fine"),
        "SR-4": (0.0450, "fine"), "SR-3B": (0.0450, "fine"), "SR-5": (0.0300, "fine"),
    },
}  # fmt: skip


@pytest.mark.parametrize("code", ["SR-1", "SR-2", "SR-2B", "SR-3", "SR-4", "SR-3B", "SR-5"])
def test_the_invented_limits_as_they_stand(studio: Book, code: str) -> None:
    version = studio.get(Version, code)
    assert version is not None
    found = limits(version, studio.shelf(version), 0.12, studio.all(Limit))
    said = {state.limit.name: (round(state.share * 100, 4), state.state) for state in found.states}
    assert said == {name: states[code] for name, states in LIMITS.items()}


def test_what_is_not_known_is_named(studio: Book) -> None:
    version = studio.get(Version, "SR-4")
    assert version is not None
    found = limits(version, studio.shelf(version), 0.12, studio.all(Limit))
    names = {studio.get(Material, key).short for key in found.unknown}
    assert names == {"Pine needle oil", "Juniper berry oil", "Labdanum absolute", "Seaweed absolute", "Black pepper oil"}
    bergapten = limits(version, studio.shelf(version), 0.12, [Limit("bergapten", 0.01, cas="484-20-8")]).states[0]
    assert "Bergamot oil, treated" in {studio.get(Material, key).short for key in bergapten.unknown}


def test_how_strong_sr_3_may_be(studio: Book) -> None:
    version = studio.get(Version, "SR-3")
    assert version is not None
    vetiver = limits(version, studio.shelf(version), 0.12, studio.all(Limit)).states[0]
    assert (vetiver.highest_strength, round(vetiver.most_per_thousand, 3)) == (0.11792, 20.833)


# where used, and what happened when it was moved ------------------------------------------------------------------------


def named(studio: Book, short: str) -> int:
    return next(one.key for one in studio.all(Material) if one.short == short)


def test_where_a_trace_was_used(studio: Book) -> None:
    uses = studio.uses.of_material(named(studio, "2,6-Nonadienal"))
    assert {use.head.code: round(use.per_thousand, 6) for use in uses} == dict.fromkeys(
        ("SR-2", "SR-2B", "SR-3", "SR-4", "SR-3B", "SR-5"), 0.005
    )
    versions = [use.head.key for use in uses]
    found = studio.words.found("cucumber", versions=versions)
    assert sorted(found.strips[one.strip].code for one in found.hits) == ["P02", "P11"]


def test_who_holds_an_accord_and_in_which_version(studio: Book) -> None:
    accord = studio.get(Version, "A-WS")
    assert accord is not None and accord.key is not None
    assert [head.code for head in studio.uses.accords()] == ["A-WS"]
    assert studio.uses.holders(accord.key) == ("SR-5 (draft)", "SR-4", "SR-3B", "SR-3", "SR-2B", "SR-2", "SR-1")
    uses = studio.uses.of_accord(accord.key)
    shares = {use.head.code: round(use.per_thousand, 6) for use in uses}
    assert (shares["SR-1"], shares["SR-2"], shares["SR-3"], shares["SR-4"]) == (90.0, 140.0, 140.0, 125.0)
    assert all(use.held == accord.key for use in uses)
    steps = {(step.parent.code, step.child.code): (step.before, step.after) for step in studio.uses.steps(uses)}
    assert steps["SR-1", "SR-2"] == (pytest.approx(90.0), pytest.approx(140.0)) and ("SR-2", "SR-3") not in steps


def test_what_else_moved_with_it(studio: Book) -> None:
    pepper = named(studio, "Black pepper oil")
    (first, *_) = [step for step in studio.uses.steps(studio.uses.of_material(pepper)) if step.child.code == "SR-4"]
    assert (first.parent.code, first.before, first.after) == ("SR-3", 0.0, pytest.approx(5.0))
    found = studio.uses.moved(first, pepper)
    assert found.parts_moved == pytest.approx(30.0) and pepper not in found.others
    assert studio.get(Material, next(iter(found.others))).short == "Grapefruit oil"


def test_a_newer_version_of_an_accord_is_found(tmp_path) -> None:
    with Book.create(tmp_path / "b.stillroom", "Family") as book:
        (lemon,) = book.put(Material("Lemon oil"))
        (project,) = book.put(Project("ONE"))
        (first,) = book.put(Version(project.key, "A-1", (Line(1.0, lemon.key),), name="stone"))
        (second,) = book.put(Version(project.key, "A-2", (Line(2.0, lemon.key),), name="stone", parent=first.key))
        (third,) = book.put(Version(project.key, "A-3", (Line(3.0, lemon.key),), name="stone", parent=second.key))
        (user,) = book.put(Version(project.key, "ONE-1", (Line(5.0, accord=first.key), Line(5.0, lemon.key))))
        (outer,) = book.put(Version(project.key, "ONE-2", (Line(1.0, accord=user.key), Line(1.0, lemon.key))))
        assert book.uses.newer(first.key).code == "A-3"
        assert book.uses.newer(third.key) is None and book.uses.newer(99999) is None
        book.retire(third.key)
        assert book.uses.newer(first.key).code == "A-2"
        assert [head.code for head in book.uses.family(third.key)] == ["A-1", "A-2", "A-3"]
        uses = {use.head.code: (use.per_thousand, use.held) for use in book.uses.of_accord(second.key)}
        assert uses == {"ONE-1": (500.0, first.key), "ONE-2": (250.0, None)}
        assert outer.key is not None
