# SPDX-License-Identifier: MIT
"""All strips in figures, as worked out beside the invented studio; beside a strip, beside another sitting; own noise greyed."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from math import isnan
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.models.strip_figures import Ages, FigureRow, relative_series
from desktop.pages.smell.figures_view import FiguresView
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Project, Reading, Sitting, Strip

H8 = 8 * 3600.0
# strip: (peak, area 2 min-8 h, below 2.5, last noticed)
FIGURES = {
    "P01": ("5", "21.8", "4 h", "> 2 d"), "P02": ("5", "24.5", "5.66 h", "> 2 d"), "P03": ("5.5", "23.0", "4 h", "> 2 d"),
    "P04": ("4.5", "27.9", "1 d", "> 2 d"), "P05": ("4.5", "—", "1 h–1 d", "> 1 d"), "P06": ("5", "28.0", "13.9 h", "> 2 d"),
    "P09": ("4.5", "—", "> 1 d", "> 1 d"),
}  # fmt: skip


@dataclass
class Bench:
    book: Book
    session: Session
    view: FiguresView
    said: list[str] = field(default_factory=list)

    def row(self, code: str) -> FigureRow:
        return next(row for row in self.view.model.rows if row.card.code == code)

    def cell(self, code: str, column: str) -> str:
        model = self.view.model
        place = next(at for at, row in enumerate(model.rows) if row.card.code == code)
        return model.cell(place, model.place_of(column)).replace("\u2009", " ").strip("\u2007\u2008")

    def beside(self, text: str) -> None:
        box = self.view.reference
        box.setCurrentIndex(next(at for at in range(box.count()) if box.itemText(at) == text))


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("figures") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Bench:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    project = next(book.all(Project), None)
    session.choose_project(None if project is None else project.key)
    view = FiguresView(session)
    view.resize(1216, 720)
    view.show()
    qtbot.waitExposed(view)
    view.activateWindow()
    qtbot.waitUntil(view.isActiveWindow)
    made = Bench(book, session, view)
    session.said.connect(lambda sentence, tone: made.said.append(sentence))
    return made


@pytest.fixture
def bench(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Bench]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T10:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        QAbstractItemModelTester(made.view.model, QAbstractItemModelTester.FailureReportingMode.Fatal)
        yield made
        shiboken6.delete(made.view)


def test_all_strips_at_one_time_and_each_as_a_whole(bench: Bench) -> None:
    assert {code: bench.row(code).at[H8] for code in ("P01", "P02", "P03", "P04")} == {"P01": 2, "P02": 2, "P03": 2, "P04": 3}
    for code, wanted in FIGURES.items():
        assert tuple(bench.cell(code, key) for key in ("peak", "area", "below", "last")) == wanted, code
    assert bench.cell("P04", "ages") == "6 d · 18 h" and bench.cell("P12", f"at {H8:g}") == ""
    assert bench.view.told.text() == "Own noise 0.25 from 3 repeat pairs: differences up to 0.69 are grey, they may be chance."


def test_one_time_is_an_order_of_the_strips(bench: Bench) -> None:
    view = bench.view
    view.order.setCurrentIndex(next(at for at in range(view.order.count()) if view.order.itemData(at) == H8))
    known = [row.at.get(H8) for row in view.model.rows]
    read = [value for value in known if value is not None]
    assert read == sorted(read, reverse=True) and known[len(read) :] == [None] * (len(known) - len(read))
    view.order.setCurrentIndex(view.order.findData("area"))
    assert view.model.row(0).card.code == "P15"


def test_differences_that_may_be_chance_are_quiet(bench: Bench) -> None:
    view = bench.view
    bench.beside("P01 SR-1")
    model = view.model
    column = model.columns[model.place_of(f"at {H8:g}")]
    assert bench.cell("P04", f"at {H8:g}") == "+1" and model.tone(bench.row("P04"), column) == "ink"
    early = model.columns[model.place_of("at 120")]
    assert bench.cell("P04", "at 120") == "−0.5" and model.tone(bench.row("P04"), early) == "quiet"
    assert "may be chance" in model.tip(bench.row("P04"), early) and model.tip(bench.row("P04"), column) == "read 3"
    ages = model.columns[model.place_of("ages")]
    assert model.tone(bench.row("P04"), ages) == "amber" and "20 %" in model.tip(bench.row("P04"), ages)
    assert bench.row("P01").is_reference and bench.cell("P01", f"at {H8:g}") == "2"


def test_two_sittings_are_compared_through_what_they_share(bench: Bench) -> None:
    view = bench.view
    view.sitting.setCurrentIndex(view.sitting.findText("S5"))
    bench.beside("sitting S1")
    assert {row.card.code for row in view.model.rows} == {"P11", "P12"}
    # the benchmark hangs in both, the trial of SR-2 is another vial
    assert bench.row("P12").differences and not bench.row("P11").differences
    assert "No vial" not in view.told.text()
    view.sitting.setCurrentIndex(view.sitting.findText("S7"))
    assert "No vial was smelled in both" in view.told.text()


def test_curves_are_ticked_and_held_against_the_reference(bench: Bench) -> None:
    view = bench.view
    before = view.ticked
    assert 0 < len(before) <= 8 and [curve.key for curve in view.curves.curves] == list(before)
    view.grid.setFocus()
    view.grid.selectRow(0)
    QTest.keyClick(view.grid, Qt.Key.Key_Space)
    assert view.model.row(0).card.key not in view.ticked and len(view.curves.curves) == len(before) - 1
    for place in range(view.model.rowCount()):
        if not view.model.row(place).shown:
            view.toggle(place)
    assert len(view.ticked) == 8 and any("8 curves are shown" in sentence for sentence in bench.said)
    bench.beside("P01 SR-1")
    view.relative.setChecked(True)
    flat = [curve for curve in view.curves.curves if curve.key == bench.row("P01").card.key]
    assert all(value == 0 for curve in flat for _, value in curve.series)
    view.curves.load()
    assert not view.curves.picture().isNull()
    gap = relative_series(bench.row("P04").card, bench.row("P05").card)
    assert any(isnan(value) for _, value in gap) and not isnan(gap[0][1]) and not isnan(gap[-1][1])


def test_a_sealed_strip_stands_under_its_code_only(bench: Bench, clock) -> None:
    book = bench.book
    sitting = book.sittings.begin(blind=True)
    bottle = book.get(Strip, "P06").bottle
    (strip,) = book.put(Strip(book.next_code(Strip, "P"), bottle, clock(), sitting=sitting.key))
    (code,) = book.sittings.seal(sitting.key, shuffled=False)
    clock.tick(minutes=2)
    book.put(Reading(strip.key, clock(), intensity=4))
    row = bench.row(code)
    assert (row.card.subject, row.card.source, row.ages) == ("", "", Ages())
    bench.view.find.setText("SR-4")
    assert code not in {one.card.code for one in bench.view.model.rows} and bench.view.model.rowCount() > 0
    bench.view.find.setText(code)
    assert [one.card.code for one in bench.view.model.rows] == [code]
    assert book.get(Sitting, sitting.key).is_sealed


def test_an_empty_book_says_what_comes_first(theme: Theme, tmp_path: Path, clock, qtbot) -> None:
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        assert "Dip one in a sitting" in made.view.told.text() and made.view.split.isHidden()
        shiboken6.delete(made.view)
