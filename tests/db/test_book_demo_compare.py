# SPDX-License-Identifier: MIT
"""What changed between the versions of the demo studio, as worked out beside it with exact fractions."""

from collections.abc import Iterator

import pytest

from db import Book, make_demo
from perfumery import Material, Version, difference

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
