# SPDX-License-Identifier: MIT
"""Small helpers of the drawer: days as typed, words completed one by one, data in words, bottles by date."""

from datetime import date

import pytest

from desktop import wording
from desktop.models import properties
from desktop.models.days import parse_day
from desktop.models.holdings import retest_on
from desktop.pages.bench.card import breakable
from desktop.theme import Theme
from desktop.widgets.word_entry import WordEntry
from perfumery import Bottle, Material, Property, Refused
from perfumery.ledger import months_after


@pytest.mark.parametrize("text", ["5 Oct 2024", "5. october 2024", "05.10.2024", "5. 10. 2024", "2024-10-05"])
def test_a_day_is_read_as_it_is_written(text):
    assert parse_day(text) == date(2024, 10, 5)


@pytest.mark.parametrize("text", ["5 Oxt 2024", "10/5/2024", "5 Oct", "31.13.2024", "0 Oct 2024", "5 Oct 0000", "soon"])
def test_what_is_no_day_is_refused_and_both_forms_are_said(text):
    with pytest.raises(Refused) as refused:
        parse_day(text)
    said = wording.sentences(refused.value.findings)
    assert f"“{text}”" in said and "Write it as 11 Mar 2025 or as 2025-03-11." in said
    assert parse_day("11 Mar 2025") == parse_day("2025-03-11")


@pytest.mark.parametrize("text", ["30 Feb 2025", "30.2.2025", "2025-02-30"])
def test_a_day_that_its_month_has_not_is_told_from_one_that_cannot_be_read(text):
    with pytest.raises(Refused) as refused:
        parse_day(text)
    assert wording.sentences(refused.value.findings) == f"There is no {text}: Feb 2025 has 28 days. Look at it again."


def test_re_test_falls_on_the_last_day_of_a_short_month():
    assert months_after(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert months_after(date(2024, 11, 30), 3) == date(2025, 2, 28)
    assert months_after(date(2024, 10, 5), 12) == date(2025, 10, 5)


def test_re_test_needs_a_day_of_opening_and_months():
    material = Material(name="Lemon oil", retest_months=12)
    opened = Bottle(code="B1", opened_on="2024-10-05")
    assert retest_on(material, opened) == date(2025, 10, 5)
    assert retest_on(material, Bottle(code="B1")) is None
    assert retest_on(Material(name="Lemon oil"), opened) is None
    written = Bottle(code="B1", opened_on="2024-10-05", retest_on="2025-01-01")
    assert retest_on(material, written) == date(2025, 1, 1)


def test_data_say_unit_source_and_basis():
    datum = Property("boiling_point_c", value=-78.2, source="a table", basis="measured")
    assert properties.shown(datum) == "\u221278.2\u2009°C"
    assert properties.provenance(datum) == "measured · a table"
    assert properties.provenance(Property("state", text="liquid")) == "source not known"
    assert properties.shown(Property("state", text="liquid")) == "liquid"
    assert properties.shown(Property("log_kow")) == "—"
    assert properties.kind_of("refractive index").label == "refractive index"
    own, note = Property("refractive index", value=1.4), Property("note class", text="top")
    assert properties.in_order((own, datum, note)) == (note, datum, own)


def test_long_chemical_names_may_break_and_short_ones_stay():
    assert breakable("Methyl dihydrojasmonate") == "Methyl dihydrojasmonate"
    long = "3a,6,6,9a-tetramethyldodecahydronaphtho[2,1-b]furan"
    assert breakable(long).replace("\u200b", "") == long
    assert max(map(len, breakable(long).split("\u200b"))) <= 19


# the offscreen platform has no windows to raise and no keyboard to grab; a popup asks for both
@pytest.mark.qt_log_ignore("This plugin does not support (raise|grabbing the keyboard)", extend=True)
def test_each_word_of_a_line_is_completed_by_itself(qtbot, qapp):
    theme = Theme(qapp, "light")
    entry = WordEntry(theme)
    qtbot.addWidget(entry)
    entry.offer(["peel", "bitter peel", "pine"])
    entry.show()
    qtbot.keyClicks(entry, "pi")
    assert entry.offers.completionCount() == 1
    assert not theme.dress(entry.offers.popup()), "the list has the look of the window"
    entry.offers.activated[str].emit("pine")
    assert entry.text() == "pine, "
    qtbot.keyClicks(entry, "peel")
    assert entry.offers.completionCount() == 2
    entry.offers.activated[str].emit("bitter peel")
    assert entry.words() == ("pine", "bitter peel")
    entry.setCursorPosition(1)
    entry.offers.activated[str].emit("peel")
    assert entry.words() == ("peel", "bitter peel")
    qtbot.keyClicks(entry, "zzz")
    assert not entry.offers.popup().isVisible()


def test_words_are_tidied_and_each_stands_once(qtbot, qapp):
    entry = WordEntry(Theme(qapp, "light"))
    qtbot.addWidget(entry)
    entry.setText(" pine ,wet   stone,, pine ,")
    assert entry.words() == ("pine", "wet stone")
