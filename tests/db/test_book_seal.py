# SPDX-License-Identifier: MIT
"""Blind sittings and tests through the door: until they are revealed, nothing that leaves the book tells which code is which."""

import csv
import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

from db import Book
from db.sittings import is_current
from perfumery import (
    Answer,
    BlindTest,
    Bottle,
    Discrimination,
    Material,
    Move,
    Project,
    Ranking,
    Reading,
    Refused,
    Sitting,
    Strip,
    triangle,
)
from perfumery.blind import codes_of, is_right, served


def code(refused) -> str:
    return refused.value.findings[0].code


class Nose:
    """A book with three bottles and a sitting in which a paper of each hangs."""

    def __init__(self, book: Book, clock) -> None:
        self.book, self.clock = book, clock
        materials = book.put(*(Material(name) for name in ("Lemon oil", "Cedarwood oil", "Vetiver oil")))
        self.bottles = book.put(
            *(Bottle(f"X{place}", label=f"secret {place}", material=m.key) for place, m in enumerate(materials))
        )
        self.told: list = []
        self.sitting = book.sittings.begin(purpose="which is which", blind=True)
        self.strips = [self.dip(bottle) for bottle in self.bottles]
        book.on_change(self.told.append)
        clock.tick(minutes=5)

    def dip(self, bottle: Bottle) -> Strip:
        self.clock.tick(minutes=1)
        strip_code = self.book.next_code(Strip, "P")
        fresh = Strip(strip_code, bottle.key, self.clock(), sitting=self.sitting.key, strength=0.5, amount_g=0.02)
        return self.book.put(fresh, what=f"strip {strip_code}")[0]

    def seal(self, *, shuffled: bool = False) -> dict[str, Strip]:
        return self.book.sittings.seal(self.sitting.key, shuffled=shuffled, rng=Random(3))

    def seen(self) -> list[Strip]:
        return list(self.book.all(Strip, sitting=self.sitting.key))


@pytest.fixture
def nose(book: Book, clock) -> Nose:
    return Nose(book, clock)


def test_sealed_nothing_tells_which_is_which(nose: Nose) -> None:
    book = nose.book
    by_code = nose.seal()
    assert sorted(by_code) == sorted({strip.blind_code for strip in nose.seen()}) and len(by_code) == 3
    for blind_code, true in by_code.items():
        assert len(blind_code) == 3
        for strip in (book.get(Strip, true.key), next(s for s in nose.seen() if s.key == true.key)):
            assert (strip.code, strip.bottle, strip.strength, strip.amount_g) == (blind_code, 0, None, None)
            assert strip.dipped_at == nose.clock()
        assert book.get(Strip, true.code) is None and book.get(Strip, blind_code) is None
        assert not list(book.all(Strip, bottle=true.bottle)) and not list(book.all(Strip, code=true.code))
        assert [found.key for found in book.search(blind_code) if isinstance(found, Strip)] == [true.key]
        assert not [found for found in book.search(true.code) if isinstance(found, Strip)]
    assert {due.strip.code for due in book.due(nose.clock())} == set(by_code)
    assert {due.strip.dipped_at for due in book.due(nose.clock())} == {nose.clock()}
    told = [value for change in nose.told for pair in change.pairs for value in pair if isinstance(value, Strip)]
    assert told and {strip.bottle for strip in told} == {0}
    assert book.origin(0).bottle is None


def test_revealed_everything_returns(nose: Nose) -> None:
    by_code = nose.seal()
    nose.clock.tick(minutes=15)
    before = [nose.book.put(Reading(strip.key, nose.clock(), intensity=3))[0] for strip in nose.seen()]
    opened = nose.book.sittings.reveal(nose.sitting.key)
    for strip in opened:
        true = by_code[strip.blind_code]
        assert replace(strip, blind_code="") == replace(true, blind_code="")
        assert nose.book.get(Strip, strip.code) == strip
    assert [reading.strip for reading in nose.book.all(Reading)] == [reading.strip for reading in before]
    again = nose.book.get(Sitting, nose.sitting.key)
    assert again.revealed_at == nose.clock() and not again.is_sealed and again.blind


def test_shuffled_papers_are_turned_over(nose: Nose) -> None:
    book = nose.book
    by_code = nose.seal(shuffled=True)
    nose.clock.tick(minutes=15)
    for strip in nose.seen():
        book.put(Reading(strip.key, nose.clock(), note=f"smelled {strip.code}"))
    papers = book.sittings.papers(nose.sitting.key)
    assert papers == ("P01", "P02", "P03")
    codes = sorted(by_code)
    for wrong in ({}, dict(zip(codes, ("P01", "P01", "P02"), strict=True)), {codes[0]: "P09"}):
        with pytest.raises(Refused) as refused:
            book.sittings.reveal(nose.sitting.key, wrong)
        assert code(refused) == "papers-missing"
    named = dict(zip(codes, ("P03", "P01", "P02"), strict=True))
    opened = book.sittings.reveal(nose.sitting.key, named)
    true = {strip.code: strip for strip in nose.strips}
    for strip in opened:
        meant = true[named[strip.blind_code]]
        assert (strip.code, strip.bottle, strip.dipped_at, strip.amount_g) == (
            meant.code, meant.bottle, meant.dipped_at, meant.amount_g,
        )  # fmt: skip
        (reading,) = book.all(Reading, strip=strip.key)
        # the words stay with the code they were written of
        assert reading.note == f"smelled {strip.blind_code}"
    assert {strip.code for strip in opened} == {"P01", "P02", "P03"} and book.check() == ()


def test_a_sealed_strip_is_closed_and_keeps_what_it_is(nose: Nose) -> None:
    by_code = nose.seal()
    for strip in nose.seen():
        (closed,) = nose.book.put(replace(strip, closed_at=nose.clock()))
        assert (closed.bottle, closed.closed_at) == (0, nose.clock())
    opened = nose.book.sittings.reveal(nose.sitting.key)
    assert {(strip.blind_code, strip.bottle) for strip in opened} == {(key, s.bottle) for key, s in by_code.items()}
    assert all(strip.closed_at for strip in opened)


def test_a_strip_that_nobody_put_stays_as_it_is(nose: Nose) -> None:
    nose.seal()
    strange = Strip("P77", nose.bottles[0].key, nose.clock(), sitting=nose.sitting.key, key=nose.book.new_key())
    with pytest.raises(Refused) as refused:
        nose.book.put(strange)
    assert code(refused) == "sealed"


def test_what_a_seal_does_not_allow(nose: Nose) -> None:
    book = nose.book
    empty = book.sittings.begin()
    for act, why in (
        (lambda: book.sittings.seal(empty.key, shuffled=False), "sitting-empty"),
        (lambda: book.sittings.reveal(nose.sitting.key), "not-sealed"),
        (lambda: book.sittings.seal(999_999, shuffled=False), "reference-missing"),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == why
    nose.seal()
    first = nose.seen()[0]
    late = Reading(first.key, nose.clock() - timedelta(minutes=4), intensity=2)
    sitting = book.get(Sitting, nose.sitting.key)
    for act, why in (
        (nose.seal, "sealed"), (lambda: nose.dip(nose.bottles[0]), "sealed"), (lambda: book.put(late), "read-before-dip"),
        (lambda: book.put(replace(sitting, clock_at=None)), "record"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == why, why
    with pytest.raises(Refused) as refused:
        book.put(replace(late, at=nose.strips[0].dipped_at - timedelta(hours=1)))
    assert refused.value.findings[0].data["strip"] == first.blind_code
    book.sittings.reveal(nose.sitting.key)
    with pytest.raises(Refused) as refused:
        book.put(replace(book.get(Sitting, nose.sitting.key), revealed_at=None))
    assert code(refused) == "record"
    with pytest.raises(Refused) as refused:
        book.put(replace(book.get(Strip, first.key), blind_code="999"))
    assert code(refused) == "record"


@pytest.mark.parametrize("shuffled", [False, True])
def test_what_was_read_already_is_sealed_no_more(nose: Nose, shuffled: bool) -> None:
    """Its readings would be older than the clock of the seal and, shuffled, stand under the code of another paper."""
    book = nose.book
    second = nose.strips[1]
    (reading,) = book.put(Reading(second.key, nose.clock(), intensity=3))
    assert book.sittings.read_strips(nose.sitting.key) == (second.code,)
    before = list(book.all(Strip))
    with pytest.raises(Refused) as refused:
        nose.seal(shuffled=shuffled)
    assert code(refused) == "sitting-read" and refused.value.findings[0].data == {"code": "S1", "strips": [second.code]}
    assert list(book.all(Strip)) == before and not book.get(Sitting, nose.sitting.key).is_sealed
    # what was withdrawn is not in force
    book.correct(reading.key, "withdrawn", withdrawn=True)
    assert book.sittings.read_strips(nose.sitting.key) == () and len(nose.seal(shuffled=shuffled)) == 3


def test_an_export_of_a_sealed_book_tells_nothing_and_reads_back(nose: Nose, tmp_path: Path, clock) -> None:
    by_code = nose.seal()
    test = nose.book.tests.plan("triangle", (nose.bottles[0].key, nose.bottles[1].key), 2, rng=Random(1))
    nose.book.export(tmp_path / "out")
    for name, hidden in (("strip.csv", {strip.code for strip in nose.strips}), ("book.json", set())):
        text = (tmp_path / "out" / name).read_text(encoding="utf-8")
        assert not [one for one in hidden if one in text], name
    rows = list(csv.DictReader((tmp_path / "out" / "strip.csv").read_text(encoding="utf-8").splitlines()))
    assert {row["code"] for row in rows} == set(by_code) and {row["bottle"] for row in rows} == {""}
    whole = json.loads((tmp_path / "out" / "book.json").read_text(encoding="utf-8"))
    assert whole["tables"]["strip"]["rows"] == [] == whole["tables"]["blind_test"]["rows"]
    served_csv = (tmp_path / "out" / "blind_test.csv").read_text(encoding="utf-8")
    assert ":A" not in served_csv and codes_of(test.sets[0])[0] in served_csv
    with Book.read_export(tmp_path / "out", tmp_path / "back.stillroom", clock) as back:
        assert list(back.all(Strip)) == list(nose.book.all(Strip))
        assert back.tests.serving(test.key) == nose.book.tests.serving(test.key)
        opened = back.sittings.reveal(nose.sitting.key)
        assert {(s.blind_code, s.bottle) for s in opened} == {(key, s.bottle) for key, s in by_code.items()}


def test_sittings_are_told_with_what_hangs_in_them(nose: Nose) -> None:
    book = nose.book
    (project,) = book.put(Project("ONE", benchmark=nose.bottles[0].key))
    (reading,) = book.put(Reading(nose.strips[0].key, nose.clock(), intensity=2))
    assert [row.sitting.key for row in book.sittings.rows()] == [nose.sitting.key]
    empty = book.sittings.begin(at=nose.clock.tick(hours=1), temp_c=21.0)
    newest, first = book.sittings.rows()
    assert (newest.sitting, newest.strips, newest.has_benchmark) == (empty, 0, False) and book.sittings.last() == empty
    assert (first.sitting.key, first.strips, first.has_benchmark) == (nose.sitting.key, 3, True)
    assert book.sittings.set(empty.key, tired=True).tired and book.sittings.rows()[0].sitting.tired
    assert is_current(empty, nose.clock()) and not is_current(empty, nose.clock() + timedelta(hours=13))
    assert not is_current(replace(empty, clock_at=nose.clock()), nose.clock())
    assert book.sittings.pacing(nose.clock()).last_hour >= 0 and reading.intensity == 2
    assert book.sittings.noise(project.key) is None and book.sittings.nose(empty.key) is None


def test_a_sitting_that_is_begun_while_they_are_read_ahead_is_among_them(nose: Nose) -> None:
    book = nose.book
    pieces = book.read_ahead()
    while True:
        next(pieces)
        if book._queries._sittings is None and book.bottles.are_near:
            break
    begun = book.sittings.begin(at=nose.clock.tick(hours=1), temp_c=21.0)
    list(pieces)
    assert [row.sitting for row in book.sittings.rows()] == [begun, nose.sitting]


def test_own_noise_of_the_studio(studio: Book) -> None:
    project = next(studio.all(Project))
    noise = studio.sittings.noise(project.key)
    assert (noise.s, noise.pairs, noise.count) == (pytest.approx(0.25), 3, 24) and noise.limit == pytest.approx(0.693, abs=5e-4)


def test_todays_nose_beside_five_earlier_sittings(book: Book, clock) -> None:
    (material,) = book.put(Material("Lemon oil"))
    (mark,) = book.put(Bottle("H-0", material=material.key, kind="benchmark"))
    book.put(Project("ONE", benchmark=mark.key))
    sittings = []
    for place, intensity in enumerate((3.0, 3.5, 3.0, 3.5, 3.0, 5.0)):
        clock.tick(days=1)
        sitting = book.sittings.begin(benchmark=mark.key)
        (strip,) = book.put(Strip(f"P{place}", mark.key, clock(), sitting=sitting.key))
        for minutes in (2, 15):
            at = strip.dipped_at + timedelta(minutes=minutes)
            book.put(Reading(strip.key, at, due_s=minutes * 60, intensity=intensity))
        sittings.append(sitting)
    assert book.sittings.nose(sittings[4].key) is None
    nose = book.sittings.nose(sittings[5].key)
    assert nose.sittings == 5 and nose.difference == pytest.approx(1.8) and nose.deviation > 3


# tests -------------------------------------------------------------------------------------------------------------------


def test_a_blind_test_keeps_its_key_and_tells_its_result(nose: Nose) -> None:
    book = nose.book
    pair = (nose.bottles[0].key, nose.bottles[1].key)
    test = book.tests.plan("triangle", pair, 9, question="", project=None, rng=Random(5))
    assert test.code == "B-1" and all(":" not in one for one in test.sets) and len(test.sets) == 9
    assert all(":" not in one for one in book.get(BlindTest, "B-1").sets)
    assert book.tests.result(test.key) is None and book.tests.next_set(test.key) == 0
    true = book.tests.serving(test.key)
    for place, one in enumerate(true):
        wanted = place < 6
        chosen = next(c for c in codes_of(one) if is_right("triangle", one, c) is wanted)
        book.tests.answer(test.key, place, f" {chosen} ")
    result = book.tests.result(test.key)
    assert isinstance(result, Discrimination) and result == triangle(6, 9)
    assert book.tests.next_set(test.key) is None
    # a slip is put right by an answer that replaces it
    mended = book.tests.answer(test.key, 0, codes_of(true[0])[0], note="looked again")
    assert book.history(mended.key) and len(list(book.all(Answer))) == 9
    (kept,) = book.put(replace(book.get(BlindTest, test.key), remark="said so"))
    assert kept.remark == "said so" and book.tests.serving(test.key) == true
    opened = book.tests.reveal(test.key)
    assert opened.sets == true == book.get(BlindTest, "B-1").sets
    for act, why in (
        (lambda: book.tests.reveal(test.key), "not-sealed"), (lambda: book.tests.answer(test.key, 0, "1"), "answer-late"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == why


def test_rankings_and_shuffled_papers(nose: Nose) -> None:
    book = nose.book
    ranked = book.tests.plan("ranking", tuple(b.key for b in nose.bottles), 6, question="wet stone", rng=Random(5))
    for place, one in enumerate(book.tests.serving(ranked.key)):
        order = sorted(served(one), key=lambda pair: pair[1])
        book.tests.answer(ranked.key, place, " ".join(blind for blind, _ in order))
    result = book.tests.result(ranked.key)
    assert isinstance(result, Ranking) and result.is_significant and result.sums == (6.0, 12.0, 18.0)
    turned = book.tests.plan("duo-trio", (nose.bottles[0].key, nose.bottles[2].key), 4, shuffled=True, rng=Random(5))
    for place, right in enumerate((True, True, False)):
        book.tests.answer(turned.key, place, right=right)
    assert (book.tests.result(turned.key).right, book.tests.result(turned.key).n) == (2, 3)


def test_what_is_no_test_or_no_answer(nose: Nose) -> None:
    book, (a, b, c) = nose.book, (bottle.key for bottle in nose.bottles)
    test = book.tests.plan("triangle", (a, b), 2, rng=Random(1))
    ranked = book.tests.plan("ranking", (a, b, c), 1, rng=Random(1))
    codes = codes_of(ranked.sets[0])
    for act, why in (
        (lambda: book.tests.plan("triangle", (a, a), 2), "same-sample"),
        (lambda: book.tests.plan("triangle", (a, 999_999), 2), "reference-missing"),
        (lambda: book.tests.plan("triangle", (a, b, c), 2), "serving-range"),
        (lambda: book.tests.plan("guess", (a, b), 2), "kind-unknown"),
        (lambda: book.tests.plan("triangle", (a, b), 0), "answers-range"),
        (lambda: book.tests.answer(test.key, 0), "answer-missing"),
        (lambda: book.tests.answer(test.key, 0, "99"), "code-unknown"),
        (lambda: book.tests.answer(test.key, 2, "99"), "answers-range"),
        (lambda: book.tests.answer(ranked.key, 0, codes[0]), "ranks-missing"),
        (lambda: book.tests.answer(ranked.key, 0, "1 2 3"), "code-unknown"),
        (lambda: book.tests.answer(999_999, 0, "1"), "reference-missing"),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert code(refused) == why, why
    assert list(book.all(Answer)) == [] and list(book.all(Move)) == []
