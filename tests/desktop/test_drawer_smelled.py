# SPDX-License-Identifier: MIT
"""How a raw material smelled on its own strips: a line each on its card, their curves when asked for."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from db import Book, make_demo
from desktop.pages.bench.smelled import Smelled
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Bottle, Material, Reading, Strip


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("smelled") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture
def smelled(studio_bytes: bytes, tmp_path: Path, qapp, qtbot, clock):
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    with Book.open(path, clock) as book:
        part = Smelled(Session(book, Theme(qapp, "light"), Settings(tmp_path / "settings.ini")))
        qtbot.addWidget(part)
        part.resize(300, 400)
        yield part, book


def key(book: Book, name: str) -> int:
    return next(material.key for material in book.all(Material) if material.name.startswith(name))


def test_a_line_for_each_strip_and_the_curve_on_a_click(smelled) -> None:
    part, book = smelled
    part.show_for(key(book, "Vetiver"))
    told = part.told.text().replace("\u2009", " ")
    assert told == "<b>P16</b> M17-1: peak 5.5 at 2 min, noticed > 3 d · vetiver-like, dry, soil"
    assert part.button.text() == "Show the curve" and part.canvas is None
    QTest.keyClick(part.button, Qt.Key.Key_Space)
    assert part.button.text() == "Hide the curve"
    assert [curve.short for curve in part.canvas.curves] == ["P16"] and len(part.canvas.curves[0].series) == 10
    # another material begins without a picture, and one that was never smelled with nothing
    part.show_for(key(book, "Lemon"))
    assert not part.button.isChecked() and part.told.text().startswith("<b>P17</b>")
    part.show_for(key(book, "Linalool"))
    assert part.isHidden()


def test_what_is_smelled_now_comes_in(smelled, clock) -> None:
    part, book = smelled
    material = key(book, "Linalool")
    part.show_for(material)
    bottle = next(book.all(Bottle, material=material))
    for place in range(6):
        (strip,) = book.put(Strip(f"P9{place}", bottle.key, clock()))
        clock.tick(minutes=2)
        book.put(Reading(strip.key, clock(), intensity=4, words={"floral <b>": 2}))
    told = part.told.text()
    assert not part.isHidden() and told.count("<br>") == 4 and told.endswith("and 2 earlier strips")
    assert "floral &lt;b&gt;" in told and part.button.text() == "Show the curves"
