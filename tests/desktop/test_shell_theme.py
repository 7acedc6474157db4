# SPDX-License-Identifier: MIT
"""The colours can be read on every ground they stand on, and the theme changes while the program runs."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from desktop import theme as tokens
from desktop.theme import Theme

GROUNDS = ("ground", "sheet", "chosen", "rail")
# no text, but what tells where the focus is, what is checked, what is drawn: WCAG 2.2, 1.4.11
SIGNS = ("juniper", "quiet")
TEXTS = ("ink", "quiet", "juniper", "amber", "brick", "moss")
PALETTES = {"light": (tokens.LIGHT, tokens.CURVES_LIGHT), "dark": (tokens.DARK, tokens.CURVES_DARK)}


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("name", PALETTES)
def test_text_can_be_read_on_its_grounds(name: str) -> None:
    colours, _ = PALETTES[name]
    weak = {(t, g): contrast(colours[t], colours[g]) for t in TEXTS for g in GROUNDS}
    weak["on_juniper", "juniper"] = contrast(colours["on_juniper"], colours["juniper"])
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("name", PALETTES)
def test_what_tells_without_words_stands_out(name: str) -> None:
    colours, _ = PALETTES[name]
    weak = {(sign, ground): contrast(colours[sign], colours[ground]) for sign in SIGNS for ground in (*GROUNDS, "paper")}
    # the ring of the one primary button, and the tick in its box
    weak["ink", "sheet"] = contrast(colours["ink"], colours["sheet"])
    weak["on_juniper", "juniper"] = contrast(colours["on_juniper"], colours["juniper"])
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 3} == {}


@pytest.mark.parametrize("name", PALETTES)
def test_curves_stand_out_from_the_sheet(name: str) -> None:
    colours, curves = PALETTES[name]
    assert [c for c in curves if contrast(c, colours["sheet"]) < 3] == []
    assert len(set(curves)) == len(curves) == len(tokens.MARKERS)


def test_both_palettes_hold_the_same_tokens() -> None:
    assert tokens.LIGHT.keys() == tokens.DARK.keys()


@pytest.fixture
def theme(qapp: QApplication) -> Iterator[Theme]:
    made = Theme(qapp, "light")
    yield made
    made.choose("light")
    made.resize_text(1.0)
    made.deleteLater()


def test_theme_changes_at_once_and_says_so(theme: Theme, qapp: QApplication, qtbot) -> None:
    with qtbot.waitSignal(theme.changed):
        theme.choose("dark")
    assert theme.name == "dark"
    assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == tokens.DARK["ground"]
    theme.choose("light")
    assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == tokens.LIGHT["ground"]
    part = QWidget()
    qtbot.addWidget(part)
    assert theme.dress(part) and not theme.dress(part), "once is enough"
    assert tokens.LIGHT["sheet"] in part.styleSheet() and tokens.DARK["sheet"] not in part.styleSheet()
    theme.choose("dark")
    assert theme.dress(part) and tokens.DARK["sheet"] in part.styleSheet()


def test_theme_follows_the_system_only_when_asked_to(theme: Theme, monkeypatch: pytest.MonkeyPatch) -> None:
    changed = QGuiApplication.styleHints().colorSchemeChanged
    heard: list[str] = []
    theme.changed.connect(lambda: heard.append(theme.name))
    monkeypatch.setattr(tokens, "system_is_dark", lambda: True)  # a computer without a screen has no such setting
    changed.emit(Qt.ColorScheme.Dark)
    assert theme.name == "light" and heard == []
    theme.choose("system")
    assert heard == ["dark"]
    monkeypatch.setattr(tokens, "system_is_dark", lambda: False)
    changed.emit(Qt.ColorScheme.Light)
    assert theme.name == "light" and heard == ["dark", "light"]


def test_text_size_stays_within_reason(theme: Theme, qapp: QApplication) -> None:
    theme.resize_text(1.3)
    assert qapp.font().pixelSize() == round(13 * 1.3)
    theme.resize_text(9)
    assert theme.scale == 2.0
    theme.resize_text(0.1)
    assert theme.scale == 0.8


def test_dialogs_belong_to_the_window_and_not_to_a_page_whose_sheet_they_would_wear() -> None:
    asked = re.compile(r"(?:QFileDialog\.get\w+|QPrintDialog)\((?:printer, )?([\w.]+)")
    parents = {
        (path.name, parent)
        for path in Path(tokens.__file__).parent.rglob("*.py") for parent in asked.findall(path.read_text(encoding="utf-8"))
    }  # fmt: skip
    assert len(parents) >= 5 and {parent for _, parent in parents} <= {"window", "self.window", "parent.window"}, parents
