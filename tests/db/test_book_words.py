# SPDX-License-Identifier: MIT
"""The word list and where its words stand: synonyms, families, filters, the seal; with and without a text index."""

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from random import Random

import pytest

from db import Book, Refused, make_demo, steps, words
from perfumery import Bottle, Material, Note, Project, Reading, Strip, Version, Word

NOON = datetime(2025, 4, 10, 12, tzinfo=timezone(timedelta(hours=2)))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    with make_demo(tmp_path_factory.mktemp("words") / "demo.stillroom", clock=lambda: NOON) as book:
        yield book


@pytest.fixture(params=["text index", "no text index"])
def book(tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Book]:
    if request.param == "no text index":
        monkeypatch.setattr(steps, "has_fts5", lambda raw: False)
    with Book.create(tmp_path / "b.stillroom", "Words", clock=lambda: NOON) as made:
        assert made._store.has_text_index == (request.param == "text index")
        stone, = made.put(Word("wet stone", "earth-mineral"))
        made.put(Word("wet slate", "earth-mineral", same_as=stone.key), Word("soil", "earth-mineral"), Word("pine", "conifer"))
        lemon, = made.put(Material("Lemon oil"))
        project, = made.put(Project("ONE"))
        version, = made.put(Version(project.key, "ONE-1"))
        vial, raw = made.put(Bottle("V1", kind="trial", version=version.key), Bottle("L1", material=lemon.key))
        paper, skin, own = made.put(
            Strip("P01", vial.key, NOON - timedelta(days=40)), Strip("W01", vial.key, NOON - timedelta(days=2), kind="skin"),
            Strip("P02", raw.key, NOON - timedelta(days=1)),
        )
        made.put(
            Reading(paper.key, NOON - timedelta(days=39), intensity=3.0, words={"wet stone": 2}),
            Reading(paper.key, NOON - timedelta(days=38), intensity=2.0, note="a pineapple, not a tree"),
            Reading(skin.key, NOON - timedelta(days=1, hours=20), intensity=2.0, words={"wet slate": 1, "pine": 1}),
            Reading(own.key, NOON - timedelta(hours=20), intensity=2.0, note="old pine on wet stone"),
            Reading(own.key, NOON - timedelta(hours=19), intensity=1.0),
            Note("like pine, then soil", NOON - timedelta(days=60), material=lemon.key),
        )
        yield made


def test_a_synonym_finds_its_word_on_paper_and_skin(demo: Book) -> None:
    found = demo.words.found("Wet Slate")
    assert (found.paper, found.papers, found.skin, found.notes) == (44, 12, 1, 0)
    assert found.meanings == ("wet slate", "wet stone", "wet rock")
    papers = {"P02", "P03", "P04", "P06", "P07", "P08", "P09", "P10", "P11", "P13", "P14", "P15"}
    assert {strip.code for strip in found.strips.values()} == papers | {"W01"}
    assert len(found.hits) == 45
    assert demo.words.times("wet stone") == 45
    assert [m.short for m in demo.search("wet slate") if isinstance(m, Material)] == ["Geosmin"]


def test_a_word_is_whole_and_a_text_may_go_on(book: Book) -> None:
    if book._store.has_text_index:
        assert [type(one) for one in book.words.found("pine").hits] == [Reading, Reading, Note], "no pineapple"
    assert "pineapple" in book.words.found("pineap").hits[0].note
    assert book.words.found("tree pineapple").papers == 1, "in any order"
    assert book.words.found("nothing like it").hits == ()


@pytest.mark.parametrize("text", ['"', "\0", "*", "NOT", "(", "pine OR", "_%"])
def test_no_text_is_too_odd_to_look_for(book: Book, text: str) -> None:
    assert book.words.found(text).paper >= 0


def test_a_family_finds_its_words(book: Book) -> None:
    found = book.words.found("earth-mineral")
    assert set(found.meanings) == {"earth-mineral", "wet stone", "wet slate", "soil"}
    assert (found.paper, found.skin, found.notes) == (2, 1, 1)


def test_an_empty_text_finds_what_was_said_in_words(book: Book) -> None:
    found = book.words.found("")
    assert len(found.hits) == 4
    assert all(isinstance(one, Reading) and (one.words or one.note) for one in found.hits)
    assert [one.at for one in found.hits] == sorted((one.at for one in found.hits), reverse=True)


def test_what_narrows(book: Book) -> None:
    version = book.get(Version, "ONE-1")
    project = book.get(Project, "ONE")
    assert version is not None and project is not None
    asked = book.words.found
    assert (asked("wet stone").paper, asked("wet stone").skin) == (2, 1)
    assert asked("wet stone", since=NOON - timedelta(days=3)).papers == 1
    assert asked("soil", since=NOON - timedelta(days=3)).notes == 0
    assert asked("wet stone", kind="skin").paper == 0
    assert asked("wet stone", project=project.key).papers == 1
    assert asked("wet stone", versions=[version.key]).papers == 1
    assert asked("wet stone", raw=True).papers == 1
    assert asked("pine", raw=True).notes == 0, "notes hang on no strip"
    assert len(asked("wet stone", most=1).hits) == 1
    assert asked("wet stone", most=1).paper == 2, "counted are all"


def test_under_seal_words_are_found_by_no_vial(book: Book) -> None:
    vial = book.get(Bottle, "V1")
    project = book.get(Project, "ONE")
    assert vial is not None and project is not None
    sitting = book.sittings.begin(blind=True)
    strip, = book.put(Strip("P03", vial.key, NOON, sitting=sitting.key))
    book.sittings.seal(sitting.key, shuffled=False, rng=Random(3))
    book.put(Reading(strip.key, NOON, intensity=2.0, words={"soil": 1}))
    found = book.words.found("soil")
    sealed = found.strips[strip.key]
    assert (sealed.code, sealed.bottle) == (sealed.blind_code, 0)
    assert book.words.found("soil", project=project.key).paper == 0
    assert book.words.found("soil", versions=[vial.version]).paper == 0
    book.sittings.reveal(sitting.key)
    assert book.words.found("soil", project=project.key).paper == 1


def test_a_correction_is_found_by_what_it_says_now(book: Book) -> None:
    reading = book.words.found("soil").hits
    assert [type(one) for one in reading] == [Note]
    written = next(one for one in book.all(Reading) if one.words == {"wet stone": 2})
    book.correct(written.key, words={"soil": 1})
    assert book.words.found("soil").paper == 1
    assert book.words.found("wet stone").paper == 1


def test_a_renamed_word_finds_what_was_written_before(book: Book) -> None:
    soil = book.get(Word, "soil")
    assert soil is not None
    renamed = book.words.rename(soil.key, "earth")
    assert (renamed.key, renamed.text, renamed.group) == (soil.key, "earth", "earth-mineral")
    old = book.get(Word, "soil")
    assert old is not None and old.same_as == soil.key
    assert book.words.found("earth").notes == 1
    assert book.words.rename(soil.key, "earth") == renamed
    slate = book.get(Word, "wet slate")
    assert slate is not None
    book.words.rename(slate.key, "damp slate")
    again = book.get(Word, "wet slate")
    assert again is not None and again.same_as == slate.same_as, "beside the synonym, not below it"
    assert book.undo() == "wet slate is called damp slate"
    assert book.get(Word, "damp slate") is None


def test_a_joined_word_brings_its_synonyms(book: Book) -> None:
    stone, slate, pine = (book.get(Word, text) for text in ("wet stone", "wet slate", "pine"))
    assert stone is not None and slate is not None and pine is not None
    joined = book.words.join(stone.key, pine.key)
    assert (joined.same_as, joined.group) == (pine.key, "conifer")
    moved = book.get(Word, "wet slate")
    assert moved is not None and (moved.same_as, moved.group) == (pine.key, "conifer")
    assert book.undo() == "wet stone means pine"
    # a synonym named as the main word stands for the word it means
    soil = book.get(Word, "soil")
    assert soil is not None
    assert book.words.join(soil.key, slate.key).same_as == stone.key
    with pytest.raises(Refused) as refused:
        book.words.join(stone.key, slate.key)
    assert refused.value.findings[0].code == "word-itself"
    with pytest.raises(Refused):
        book.words.join(99999, stone.key)


# long looks ------------------------------------------------------------------------------------------------------------


def test_what_is_found_comes_in_pieces_that_add_up(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = [book.words.found(text) for text in ("pine", "", "stone")]
    monkeypatch.setattr(words, "_HITS", 1)
    monkeypatch.setattr(words, "_SPAN", 2)
    for text, found in zip(("pine", "", "stone"), whole, strict=True):
        pieces = list(book.words.finding(text))
        assert pieces[-1] == found and len(pieces) > 2
        assert [len(one.hits) for one in pieces] == sorted(len(one.hits) for one in pieces), "never fewer than before"
    assert len(list(book.words.finding("", most=1))[-1].hits) == 1


def test_many_strips_narrow_as_few_do(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    version, project = book.get(Version, "ONE-1"), book.get(Project, "ONE")
    assert version is not None and project is not None
    few = [book.words.found("wet stone", versions=[version.key]), book.words.found("wet stone", project=project.key)]
    monkeypatch.setattr(words, "_STRIPS", 1)
    assert [book.words.found("wet stone", versions=[version.key]), book.words.found("wet stone", project=project.key)] == few
    assert few[0].papers == 1
    # more versions than a question has room for one by one
    assert book.words.found("wet stone", versions=range(1, 300_000)).papers == 1


def test_a_word_is_counted_as_often_as_it_is_found(book: Book) -> None:
    def count(word: str) -> int:
        found = book.words.found(word)
        return found.paper + found.skin + found.notes

    assert {word: book.words.times(word) for word in ("pine", "wet stone", "soil", "nothing like it")} == {
        word: count(word) for word in ("pine", "wet stone", "soil", "nothing like it")
    }
    first, second, *_ = [one for one in book.all(Reading) if one.words or one.note]
    book.correct(first.key, words={"wet stone": 1})
    book.correct(second.key, withdrawn=True)
    note = next(book.all(Note))
    book.correct(note.key, text="like soil alone")
    for word in ("pine", "wet stone", "soil"):
        assert book.words.times(word) == count(word)
