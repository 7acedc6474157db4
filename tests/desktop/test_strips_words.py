# SPDX-License-Identifier: MIT
"""Smell words typed ahead: synonyms, new words, weights, all by keyboard; and the scales as typed."""

import pytest
from PySide6.QtCore import Qt

from desktop.models.moments import Unreadable
from desktop.models.scales import anchor, draft_of, read_distance, read_intensity, read_liking
from desktop.models.vocabulary import Offer, Vocabulary, split_weight
from desktop.theme import Theme
from desktop.widgets.smell_words import SmellWords
from perfumery import Reading, Refused, Word

WORDS = (
    Word(key=1, text="wet stone", group="earth-mineral"),
    Word(key=2, text="wet slate", same_as=1),
    Word(key=3, text="woody", group="woody"),
    Word(key=4, text="salty", group="amber-resin"),
    Word(key=5, text="clean musk", group="animal-musk"),
    Word(key=6, text="musk", same_as=5),
    Word(key=7, text="stonecrop"),
)


@pytest.fixture
def vocabulary():
    return Vocabulary(WORDS)


def test_a_synonym_finds_its_word(vocabulary):
    assert vocabulary.offers("wet sl")[0] == Offer("wet stone", "wet slate", "earth-mineral")
    assert vocabulary.offers("wet sl")[0].text == "wet stone (wet slate)"
    assert vocabulary.means("Wet  Slate") == "wet stone"


def test_own_name_stands_before_a_synonym_and_each_word_once(vocabulary):
    assert [offer.word for offer in vocabulary.offers("wet")] == ["wet stone", "wet"]
    assert vocabulary.offers("stone")[0].word == "stonecrop"
    assert vocabulary.offers("musk")[0].word == "clean musk"


def test_a_family_is_a_word_and_a_corrected_reading_keeps_its_synonyms(vocabulary):
    assert vocabulary.read("earth-mineral 2").new == ()
    assert Vocabulary(WORDS, own=("wet slate",)).read("wet slate").words == {"wet slate": 1}
    assert Vocabulary(WORDS, own=("wet slate",)).offers("wet slate")[0].word == "wet slate"


def test_an_unknown_fragment_is_offered_as_a_new_word_last(vocabulary):
    offers = vocabulary.offers("sal")
    assert [(o.word, o.new) for o in offers] == [("salty", False), ("sal", True)]
    assert vocabulary.offers("salty")[-1].new is False
    assert vocabulary.offers("") == ()


@pytest.mark.parametrize(
    "typed, word, weight",
    [("wet stone 3", "wet stone", 3), ("woody+", "woody", 2), ("woody ++", "woody", 3), (" pine ", "pine", 1), ("", "", 1)],
)
def test_weights(typed, word, weight):
    assert split_weight(typed) == (word, weight)


def test_a_line_is_read_with_synonyms_weights_and_new_words(vocabulary):
    typed = vocabulary.read("wet slate 2, flinty 3, woody, wet stone 3, ")
    assert typed.words == {"wet stone": 3, "flinty": 3, "woody": 1}
    assert typed.new == ("flinty",)
    assert typed.wrong == ""


@pytest.mark.parametrize("line, told", [("woody 7", "1, 2 or 3"), ("woody, 3", "has no word")])
def test_a_line_that_cannot_be_read_is_told(vocabulary, line, told):
    assert told in vocabulary.read(line).wrong


@pytest.fixture
def line(qtbot, qapp, vocabulary):
    widget = SmellWords(Theme(qapp, "light"))
    widget.set_vocabulary(vocabulary)
    qtbot.addWidget(widget)
    return widget


def test_enter_takes_the_marked_word_and_goes_on_when_none_is_begun(qtbot, line):
    qtbot.keyClicks(line.line, "wet sl")
    assert line.marked.word == "wet stone"
    qtbot.keyClick(line.line, Qt.Key.Key_Return)
    assert line.text == "wet stone, "
    with qtbot.waitSignal(line.finished):
        qtbot.keyClick(line.line, Qt.Key.Key_Return)


def test_the_hint_is_not_cut_where_it_is_narrow_and_nothing_jumps(qtbot, line):
    line.resize(340, line.sizeHint().height())
    line.show()
    qtbot.waitExposed(line)
    line.line.setFocus()
    below, line_height = line._below, line._below.fontMetrics().height()
    qtbot.waitUntil(lambda: bool(below.text()) and below.height() >= 2 * line_height)
    asked = below.heightForWidth(below.width())
    qtbot.keyClicks(line.line, "wet")
    assert line.offers and below.heightForWidth(below.width()) == asked
    assert below.heightForWidth(2000) < 2 * line_height


def test_arrows_reach_the_new_word(qtbot, line):
    qtbot.keyClicks(line.line, "wet")
    qtbot.keyClick(line.line, Qt.Key.Key_Up)
    assert line.marked.new
    qtbot.keyClick(line.line, Qt.Key.Key_Return)
    assert line.read().words == {"wet": 1}
    assert line.read().new == ("wet",)


def test_commas_take_words_and_weights_stay(qtbot, line):
    qtbot.keyClicks(line.line, "wet sl 3, wood, sal+")
    assert line.read().words == {"wet stone": 3, "woody": 1, "salty": 2}


def test_plus_behind_a_taken_word_weighs_it(qtbot, line):
    qtbot.keyClicks(line.line, "wood,+")
    assert line.text == "woody 2, "
    qtbot.keyClicks(line.line, "++")
    assert line.read().words == {"woody": 3}


def test_a_click_takes_an_offer(qtbot, line):
    qtbot.keyClicks(line.line, "sal")
    line._on_offer_clicked("1")
    assert line.read().words == {"sal": 1}


def test_scales_take_comma_and_point_and_refuse_what_is_off_them():
    assert read_intensity("3,5") == 3.5 and read_intensity("6") == 6 and read_intensity(" ") is None
    assert read_distance("12,5 cm") == 12.5 and read_distance("") is None
    assert read_liking("+3") == 3 and read_liking("−4") == -4 and read_liking("-1") == -1 and read_liking("") is None
    for read, texts in ((read_intensity, ("6.5", "-1", "3.2")), (read_distance, ("-1",)), (read_liking, ("5", "0.5"))):
        for text in texts:
            with pytest.raises(Unreadable):
                read(text)
    with pytest.raises(Refused):
        read_intensity("three")


def test_anchors_are_the_published_ones():
    assert [anchor(v) for v in (0, 3, 6)] == ["not perceptible", "distinct", "extremely strong"]
    assert anchor(3.5) == "distinct – strong"


def test_a_reading_is_typed_again_as_it_was():
    reading = Reading(
        strip=1, at="2025-03-19T09:02:00+01:00", intensity=4.5, distance_cm=30.0, liking=3,
        words={"pine": 1, "wet stone": 3}, note="shade",
    )  # fmt: skip
    draft = draft_of(reading)
    assert (draft.intensity, draft.distance, draft.liking) == ("4.5", "30", "+3")
    assert draft.words == "wet stone 3, pine"
    assert draft.read_at == "19 Mar 2025 09:02"
