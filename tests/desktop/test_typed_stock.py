# SPDX-License-Identifier: MIT
"""A strength is read as it is shown, in the language of the window, and in English always."""

import gettext
import importlib
from collections.abc import Iterator

import pytest

from desktop import language
from desktop.models import stock_words

GERMAN = {"neat": "pur", "{strength} in {carrier}": "{strength} auf {carrier}"}


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    class Catalogue(gettext.NullTranslations):
        def gettext(self, message: str) -> str:
            return GERMAN.get(message, message)

    with monkeypatch.context() as patch:
        patch.setattr(language, "_catalogue", Catalogue)
        importlib.reload(stock_words)
        yield
    importlib.reload(stock_words)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("10 % auf DPG", (0.1, "DPG")), ("10\u2009% Auf DPG", (0.1, "DPG")), ("pur", (1.0, "")),
        ("10 % in DPG", (0.1, "DPG")), ("neat", (1.0, "")), ("10 dpg", (0.1, "dpg")),
    ],
)  # fmt: skip
def test_a_strength_is_read_in_both_languages(german: None, typed: str, read: tuple[float, str]) -> None:
    assert stock_words.read_stock(typed) == read


def test_a_name_keeps_its_words(german: None) -> None:
    assert stock_words.as_read("Rose auf Pur Blatt 20") == "Rose auf Pur Blatt 20"
    assert stock_words.as_read("amb 10 auf dpg 20") == "amb 10 in dpg 20"
    assert stock_words.as_read("amb pur 20") == "amb neat 20"


def test_a_language_without_a_word_between_reads_the_english(german: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(GERMAN, "{strength} in {carrier}", "{carrier} {strength}")
    importlib.reload(stock_words)
    assert stock_words.as_read("amb 10  20") == "amb 10  20"
    assert stock_words.read_stock("10 % in DPG") == (0.1, "DPG")


def test_english_is_left_alone() -> None:
    assert stock_words.as_read("amb 10 in dpg 20") == "amb 10 in dpg 20"
