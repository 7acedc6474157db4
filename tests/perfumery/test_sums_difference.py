# SPDX-License-Identifier: MIT
"""What changed between versions: worked by hand on small ones, and what holds for all: a mirror, nothing for equals, a metric."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Line, Material, Shelf, Version, difference, side_by_side
from perfumery.side_by_side import aligned_materials, most_moved_first, parts_moved

MATERIALS = {key: Material(f"Material {key}", is_carrier=key == 9, key=key) for key in range(1, 10)}
INNER = Version(1, "A-1", (Line(600.0, 1), Line(400.0, 2)), name="stone", key=50)
NEWER = Version(1, "A-2", (Line(500.0, 1), Line(500.0, 3)), name="stone", parent=50, key=51)
SHELF = Shelf(MATERIALS, {50: INNER, 51: NEWER})


def version(*lines: Line, code: str = "V", total: float = 1000.0) -> Version:
    return Version(1, code, tuple(replace(line, key=n) for n, line in enumerate(lines, 1)), total=total)


def test_a_line_more_a_line_less_and_a_line_of_other_parts() -> None:
    a = version(Line(500.0, 1), Line(300.0, 2), Line(200.0, 9))
    b = version(Line(600.0, 1), Line(200.0, 3), Line(200.0, 9))
    found = difference(a, b, SHELF)
    assert found.lines_edited == 3 and found.materials_changed == 3 and found.carriers_changed == 0
    assert found.parts_moved == pytest.approx(300.0) == found.odorants_moved
    first, gone, carrier, new = found.lines
    assert (first.change, first.ratio) == (pytest.approx(100.0), pytest.approx(1.2))
    assert gone.b is None and gone.change == -300.0 and gone.ratio == 0.0
    assert new.a is None and new.ratio is None and not carrier.is_edited
    assert [(m.material, m.change) for m in found.materials if m.is_changed] == [(1, 100.0), (2, -300.0), (3, 200.0)]


def test_a_stronger_stock_of_the_same_material_is_the_same_line_edited() -> None:
    a = version(Line(100.0, 1, strength=0.1, carrier=9), Line(900.0, 2))
    b = version(Line(20.0, 1, strength=0.5, carrier=9), Line(900.0, 2), Line(80.0, 9))
    found = difference(a, b, SHELF)
    assert found.lines[0].is_edited and found.lines[0].b is not None and found.lines[0].b.line.strength == 0.5
    assert found.materials_changed == found.carriers_changed == 0, "the composition is kept"
    assert found.parts_moved == pytest.approx(0.0, abs=1e-9)
    assert found.lines_edited == 2


def test_two_strengths_of_one_material_keep_to_their_own() -> None:
    thin, thick = Line(100.0, 1, strength=0.01, carrier=9), Line(50.0, 1)
    found = difference(version(thin, thick), version(replace(thick, parts=60.0), replace(thin, parts=90.0)), SHELF)
    pairs = [(line.a.line.strength, line.b.line.strength) for line in found.lines if line.a and line.b]
    assert pairs == [(0.01, 0.01), (1.0, 1.0)]


def test_a_newer_version_of_an_accord_is_the_same_line() -> None:
    found = difference(version(Line(100.0, accord=50)), version(Line(100.0, accord=51)), SHELF)
    assert len(found.lines) == 1 and found.lines[0].is_edited
    assert found.parts_moved == pytest.approx(500.0)
    renamed = Shelf(MATERIALS, {50: INNER, 51: replace(NEWER, name="slate")})
    assert len(difference(version(Line(100.0, accord=51)), version(Line(100.0, accord=50)), renamed).lines) == 1, "by its parent"
    strange = Shelf(MATERIALS, {50: INNER, 51: replace(NEWER, name="slate", parent=None)})
    assert len(difference(version(Line(100.0, accord=50)), version(Line(100.0, accord=51)), strange).lines) == 2


def test_the_total_is_of_no_matter() -> None:
    a, b = version(Line(5.0, 1), Line(5.0, 2)), version(Line(500.0, 1), Line(500.0, 2))
    assert difference(a, b, SHELF).parts_moved == 0.0
    assert difference(a, b, SHELF).lines_edited == 2, "but other figures stand in it"


def test_nothing_beside_something() -> None:
    found = difference(version(), version(Line(3.0, 1)), SHELF)
    assert found.parts_moved == 500.0 and found.lines[0].a is None


def test_up_to_six_stand_side_by_side(refused) -> None:
    versions = [version(Line(100.0 + n, 1), Line(50.0, 2 + n), code=f"V{n}") for n in range(6)]
    whole = side_by_side(versions, SHELF)
    assert [len(line.rows) for line in whole.lines] == [6] * 7
    assert whole.lines[0].is_edited and whole.lines[0].material == 1
    assert [row is not None for row in whole.lines[3].rows] == [False, False, True, False, False, False]
    assert whole.lines[3].per_thousand == (0.0, 0.0, pytest.approx(50 / 152 * 1000), 0.0, 0.0, 0.0)
    assert refused(side_by_side, versions[:1], SHELF).code == "compared-range"
    assert refused(side_by_side, [*versions, versions[0]], SHELF).data["number"] == 7


def test_what_moved_most_comes_first() -> None:
    rows = aligned_materials([{1: 10.0, 2: 5.0, 3: 1.0}, {1: 11.0, 2: 50.0, 4: 1.0}], {3})
    assert [row.material for row in most_moved_first(rows)] == [2, 1, 3, 4], "equal ones as they stood"
    assert [row.is_carrier for row in rows] == [False, False, True, False]
    assert rows[0].spread == 1.0 and rows[2].is_changed


# what holds for all ---------------------------------------------------------------------------------------------------

PARTS = st.integers(1, 100_000).map(lambda thousandths: thousandths / 1000)
LINES = st.one_of(
    st.builds(Line, PARTS, material=st.integers(1, 9)),
    st.builds(Line, PARTS, material=st.integers(1, 8), strength=st.sampled_from([0.5, 0.1, 0.01]), carrier=st.just(9)),
    st.builds(Line, PARTS, accord=st.sampled_from([50, 51])),
)
VERSIONS = st.lists(LINES, min_size=1, max_size=7).map(lambda lines: version(*lines))


def shares(found) -> dict[int, tuple[float, float]]:
    return {one.material: (one.a, one.b) for one in found.materials}


@given(VERSIONS, VERSIONS)
def test_the_way_back_is_the_mirror(a: Version, b: Version) -> None:
    there, back = difference(a, b, SHELF), difference(b, a, SHELF)
    assert there.parts_moved == pytest.approx(back.parts_moved, abs=1e-9)
    assert there.lines_edited == back.lines_edited
    assert shares(there) == {key: (one, other) for key, (other, one) in shares(back).items()}
    assert 0 <= there.odorants_moved <= there.parts_moved + 1e-9 and there.parts_moved <= 1000 + 1e-9


@given(VERSIONS, st.randoms(use_true_random=False))
def test_the_order_of_lines_is_no_difference(a: Version, chance) -> None:
    lines = list(a.lines)
    chance.shuffle(lines)
    found = difference(a, replace(a, lines=tuple(lines)), SHELF)
    assert found.parts_moved == pytest.approx(0.0, abs=1e-9)
    assert found.materials_changed == found.carriers_changed == 0


@given(VERSIONS)
def test_an_equal_formula_differs_in_nothing(a: Version) -> None:
    found = difference(a, a, SHELF)
    assert found.lines_edited == 0 and found.parts_moved == 0.0
    assert all(line.a == line.b for line in found.lines) and len(found.lines) == len(a.lines)


@given(VERSIONS, VERSIONS)
def test_how_accords_nest_is_no_difference(a: Version, b: Version) -> None:
    lines = []
    for line in b.lines:
        if line.accord is None:
            lines.append(line)
        else:
            inner = SHELF.accords[line.accord]
            lines += [replace(one, parts=one.parts * line.parts / 1000) for one in inner.lines]
    opened = difference(a, version(*lines), SHELF)
    closed = difference(a, b, SHELF)
    assert opened.parts_moved == pytest.approx(closed.parts_moved, abs=1e-6)
    assert opened.materials_changed == closed.materials_changed


@given(VERSIONS, VERSIONS, VERSIONS)
def test_a_way_round_is_no_shorter(a: Version, b: Version, c: Version) -> None:
    def moved(one: Version, other: Version) -> float:
        return difference(one, other, SHELF).parts_moved

    assert moved(a, c) <= moved(a, b) + moved(b, c) + 1e-6


def test_parts_moved_is_half_of_all_changes() -> None:
    assert parts_moved({1: 600.0, 2: 400.0}, {1: 500.0, 3: 500.0}) == 500.0
