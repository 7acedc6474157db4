# SPDX-License-Identifier: MIT
"""Contents, book mass and drift through the door, on the invented studio's bottles."""

from datetime import date, datetime

import pytest

from db import make_demo
from perfumery import Bottle, Material, Move


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    book = make_demo(tmp_path_factory.mktemp("ledger") / "demo.stillroom")
    yield book
    book.close()


def key(book, code):
    return book.get(Bottle, code).key


def test_drift_of_the_bottle_that_lost_solvent(studio):
    found = studio.drift(key(studio, "K19"))
    assert (found.book_g, found.found_g) == (13.6, 12.95) and round(found.missing_g, 2) == 0.65
    assert round(found.strength_high, 5) == 0.10502 and found.passes_on == date(2025, 4, 9)
    assert studio.drift(key(studio, "K19"), tolerance=0.10).passes_on > date(2025, 4, 10)


@pytest.mark.parametrize(
    "code, book_g, missing",
    [("K14", 76.21, 0), ("K18", 19.652, 0.082), ("K20", 18.494, 0.004), ("K24", 14.848, -0.002), ("M01-1", 44.608, 0.018)],
)
def test_every_re_weighing_stands_against_the_book(studio, code, book_g, missing):
    found = studio.drift(key(studio, code))
    assert (studio.book_mass(key(studio, code)), round(found.missing_g, 3)) == (book_g, missing)


def test_what_was_never_re_weighed_or_is_not_known_has_no_drift(studio):
    assert studio.drift(key(studio, "K26")) is None
    assert studio.drift(key(studio, "A-WS")) is None  # no material of its own
    assert studio.drift(999_999) is None


def test_contents_are_those_of_the_hour(studio):
    ambroxide, ethanol = (next(r.key for r in studio.material_rows() if r.short == n) for n in ("Ambroxide", "Ethanol 96 %"))
    assert studio.contents(key(studio, "K19")) == pytest.approx({ambroxide: 0.1, ethanol: 0.9})
    assert studio.contents(key(studio, "K19"), datetime.fromisoformat("2025-01-01T00:00:00+01:00")) == {}
    assert studio.contents(key(studio, "H-0")) == {}


def test_book_mass_at_an_hour(studio):
    made = datetime.fromisoformat("2025-01-10T10:30:00+01:00")
    assert studio.book_mass(key(studio, "K19"), made) == 20
    assert studio.book_mass(999_999) == 0


def test_a_balances_noise_is_told_and_a_bottle_of_unknown_contents_is_left_alone(tmp_path, clock):
    clock.tick(hours=24)
    with make_demo(tmp_path / "d.stillroom", clock) as book:
        vial = key(book, "K19")
        book.put(Move(at=clock(), kind="found", mass_g=12.9, to_bottle=vial, u_g=0.0085))
        assert book.drift(vial).noise_g == 0.017
        (material,) = book.put(Material(name="Unknown"))
        (bottle,) = book.put(Bottle(code="X-1", material=material.key))
        book.put(Move(at=clock(), kind="received", mass_g=5, to_bottle=bottle.key))
        book.put(Move(at=clock(), kind="found", mass_g=4, to_bottle=bottle.key))
        assert book.drift(bottle.key) is None
