# SPDX-License-Identifier: MIT
"""Where a material or an accord is used, worked out from the lines that count: the same as from whole versions."""

import random
from pathlib import Path

import pytest

from db import Book, uses
from perfumery import Line, Material, Project, Version, compose, share_within


@pytest.fixture
def many(tmp_path: Path, clock, monkeypatch: pytest.MonkeyPatch):
    """A book whose versions hold each other, some with a fill-up line, read in the smallest pieces."""
    monkeypatch.setattr(uses, "_LINES", 3)
    monkeypatch.setattr(uses, "_LOOKED_UP", 2)
    monkeypatch.setattr(uses, "_AT_ONCE", 2)
    luck = random.Random(7)
    with Book.create(tmp_path / "many.stillroom", "Many", clock=clock) as book:
        materials = book.put(*(Material(f"Material {n}") for n in range(6)))
        (project,) = book.put(Project("ONE"))
        made: list[Version] = []
        for n in range(14):
            lines = []
            for place in range(5):
                one, other = luck.sample(materials, 2)
                thin = luck.random() < 0.5
                if made and place == 2 and n % 3:
                    lines.append(Line(luck.randint(1, 50), accord=luck.choice(made).key))
                else:
                    lines.append(Line(
                        luck.randint(1, 50) / 7, one.key, strength=0.1 if thin else 1.0, carrier=other.key if thin else None,
                        fill_up=place == 4 and n % 2 == 0,
                    ))  # fmt: skip
            clock.tick(hours=1 if n % 4 else 0)
            made += book.put(Version(project.key, f"ONE-{n}", tuple(lines), parent=made[-1].key if made and n != 7 else None))
        yield book, materials, made


def test_shares_are_those_of_the_whole_versions(many) -> None:
    book, materials, made = many
    accords = {one.key: book.get(Version, one.key) for one in made}
    shelf = book.shelf(*accords.values())
    for material in materials:
        held = {key: share_within(material.key, one, accords) * 1000 for key, one in accords.items()}
        holders = {key for key, one in accords.items() if material.key in compose(one, shelf).expanded}
        found = book.where_used(material.key)
        assert {head.key: share for head, share in found} == {key: pytest.approx(held[key]) for key in holders}
        order = [(head.made_at, head.key) for head, _ in found]
        assert order == sorted(order, reverse=True)


def test_they_come_in_pieces_the_newest_first(many) -> None:
    book, materials, _ = many
    pieces = list(book.uses.finding_material(materials[0].key))
    whole = book.uses.of_material(materials[0].key)
    assert len(whole) > 4 and sum((some for some, _ in pieces), ()) == whole
    assert all(len(some) <= 2 for some, _ in pieces)
    counts = [count for _, count in pieces]
    assert counts[0] is None and counts[-1] == len(whole), "it is known how many there are before they are worked out"
    assert pieces[counts.index(len(whole))][0] == ()
    for most in (3, 99):
        newest = list(book.uses.finding_material(materials[0].key, most))
        assert sum((some for some, _ in newest), ()) == whole[:most] and newest[-1][1] == len(whole)
    assert list(book.uses.finding_material(4711, 3))[-1] == ((), 0)
    steps = book.uses.steps(whole)
    assert steps and [step.child.key for step in steps] == sorted((step.child.key for step in steps), reverse=True)


def test_an_accord_is_found_in_pieces_too(many) -> None:
    book, _, made = many
    family = {head.key for head in book.uses.family(made[3].key)}
    accords = {one.key: book.get(Version, one.key) for one in made}
    found = book.uses.of_accord(made[3].key)
    assert {use.head.key for use in found} >= {
        one.key for one in accords.values() if any(line.accord in family for line in one.lines)
    }
    direct = {use.head.key: use.held for use in found if use.held is not None}
    assert direct and all(held in {line.accord for line in accords[key].lines} for key, held in direct.items())
    newer = book.uses.newer_each(made[3].key)
    assert newer.keys() == family
    assert newer == {key: book.uses.newer(key) for key in family}


def test_what_is_taken_back_meanwhile_is_left_out(many) -> None:
    book, materials, made = many
    (draft,) = book.put(Version(made[0].project, "ONE-x", (Line(1.0, materials[0].key),)))
    finding = book.uses.finding_material(materials[0].key)
    found = next(some for some in finding if some[1] is not None)
    book.undo()
    heads = [use.head.key for some, _ in (found, *finding) for use in some]
    assert heads and draft.key not in heads
