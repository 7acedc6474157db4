# SPDX-License-Identifier: MIT
"""Versions side by side on the demo studio: what changed, what was weighed, what it did on strips, and how it is kept."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from db import Book, make_demo
from desktop import table_files
from desktop.models.side import Total, shown_rows, side_of
from desktop.pages.compare.page import ComparePage
from desktop.pages.compare.side_paper import CAUTION, document_of
from desktop.pages.compare.side_view import EMPTY, SideView
from desktop.pages.compare.smelled_side import NOTHING
from desktop.paper import NO_PRINTER, html_of
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Bottle, Decision, Line, Material, Planned, Project, Reading, Strip, Version


@dataclass
class Desk:
    book: Book
    session: Session
    page: ComparePage
    said: list[str] = field(default_factory=list)
    asked: list[object] = field(default_factory=list)

    @property
    def view(self) -> SideView:
        return self.page.view("side by side")

    def key(self, code: str) -> int:
        version = self.book.get(Version, code)
        assert version is not None and version.key is not None
        return version.key

    def compare(self, *codes: str) -> None:
        self.page.compare([self.key(code) for code in codes])
        QApplication.processEvents()

    def row(self, name: str) -> dict[str, str]:
        grid = self.view.grid
        place = next(at for at, row in enumerate(grid.table.rows) if row.name == name)
        return {column.key: grid.table.cell(place, at).strip(" \u2007\u2008") for at, column in enumerate(grid.table.columns)}

    @property
    def names(self) -> list[str]:
        return [row.name for row in self.view.grid.table.rows]

    def total(self, name: str) -> tuple[str, ...]:
        rows: list[Total] = list(self.view.totals.table.rows)
        return next(tuple(text.replace("\u2009", " ") for text in row.texts) for row in rows if row.name.startswith(name))


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("side") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Desk:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    project = next(book.all(Project), None)
    session.choose_project(None if project is None else project.key)
    page = ComparePage(session)
    made = Desk(book, session, page)
    session.said.connect(lambda text, tone: made.said.append(text))
    page.asked.connect(made.asked.append)
    page.resize(1216, 740)
    page.show()
    qtbot.waitExposed(page)
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    QApplication.processEvents()
    return made


@pytest.fixture
def desk(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Desk]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        yield made
        shiboken6.delete(made.page)


def test_it_begins_with_the_version_on_screen_beside_its_parent(desk: Desk) -> None:
    assert desk.view.title.text() == "SR-3 → SR-4"
    assert desk.page.picker.words == ("SR-3", "SR-4")
    moved = "30.00 parts of 1000 moved, carriers included; odorants alone 24.97 · 6 lines edited"
    assert desk.view.counted.text().startswith(moved)
    assert "12 materials changed · 2 carriers changed" in desk.view.counted.text()


def test_lines_that_changed_stand_alone_until_the_others_are_wanted(desk: Desk) -> None:
    assert sorted(desk.names) == sorted(
        ["Lemon oil", "Grapefruit oil", "Pine needle oil", "Wet slate accord", "Ambroxide", "Black pepper oil"]
    )
    grapefruit = {"name": "Grapefruit oil", "stock": "", "v0": "90", "v1": "110", "bar": "", "change": "+22.2"}
    assert desk.row("Grapefruit oil") == grapefruit
    assert desk.row("Black pepper oil")["v0"] == "—" and desk.row("Black pepper oil")["change"] == "new"
    assert desk.row("Ambroxide")["change"] == "−20.0"
    assert desk.row("Ambroxide")["stock"].replace("\u2009", " ") == "10 % in ethanol"
    assert desk.view.unchanged.text() == "what stayed too (15)"
    desk.view.unchanged.setChecked(True)
    assert len(desk.names) == 21


def test_materials_over_all_routes_intended_and_as_weighed(desk: Desk) -> None:
    view = desk.view
    view.by.buttons["materials"].click()
    assert desk.row("Ambroxide")["change"] == "−16.7"
    assert desk.row("Ambroxide")["v0"] == "3.900", "parts give way to parts per thousand"
    view.kind.buttons["as weighed"].click()
    assert [column.head for column in view.grid.table.columns][1:3] == ["SR-3 T-024", "SR-4 T-027"]
    assert desk.row("Vetiver oil")["v0"] == "23.562", "the over-pour of T-024"
    view.moved_first.setChecked(True)
    assert desk.names[0] == "Grapefruit oil"
    view.unit.buttons["%"].click()
    assert desk.row("Vetiver oil")["v0"] == "2.356"
    desk.compare("SR-4", "SR-5")
    assert view.lacking.text() == "Never weighed, so as intended: SR-5."
    assert view.grid.table.columns[2].head == "SR-5"


def test_a_trial_that_was_given_up_is_not_as_weighed(desk: Desk) -> None:
    version = desk.book.get(Version, "SR-4")
    line, bottle = version.lines[0], next(desk.book.all(Bottle, material=version.lines[0].material))
    vial, plan = Bottle("V90", "trial", version=version.key), [Planned(0.4, line.key, bottle.key)]
    begun = desk.book.weighings.begin("trial", vial, plan, code="T-090", version=version.key)
    desk.book.weighings.accept(begun.key, bottle.key, 0.4, line=line.key)
    desk.book.weighings.abandon(begun.key)
    assert side_of(desk.book, [version, desk.book.get(Version, "SR-3")]).trials[version.key].code == "T-027"


def test_the_totals_of_each(desk: Desk) -> None:
    assert desk.total("parts moved") == ("", "30.00")
    assert desk.total("odorants, ‰") == ("892.68", "902.73")
    assert desk.total("cost") == ("0.1154 €", "0.1178 €")
    assert desk.total("odorants at") == ("10.71 %", "10.83 %")


def test_up_to_six_and_no_fewer_than_two(desk: Desk) -> None:
    desk.compare("SR-1", "SR-2", "SR-2B", "SR-3", "SR-4", "SR-5")
    assert len(desk.page.picker.words) == 6 and not desk.page.picker.add.isEnabled()
    assert not desk.page.compared.add(desk.key("SR-3B"))
    assert [column.key for column in desk.view.grid.table.columns] == ["name", *(f"v{n}" for n in range(6)), "spread"]
    assert desk.total("parts moved") == ("", "55.00", "100.00", "115.00", "120.00", "255.00")
    desk.page.picker._buttons[desk.key("SR-1")].click()
    assert desk.page.picker.words == ("SR-2", "SR-2B", "SR-3", "SR-4", "SR-5")
    desk.compare("SR-3", "SR-4")
    assert all(not button.isEnabled() for button in desk.page.picker._buttons.values()), "two are the fewest"
    box = desk.page.picker.add
    box.setCurrentIndex(next(at for at in range(box.count()) if box.itemText(at) == "SR-1"))
    box.activated.emit(box.currentIndex())
    assert desk.page.picker.words == ("SR-3", "SR-4", "SR-1")


def test_the_strips_of_like_age_are_compared(desk: Desk) -> None:
    smelled = desk.view.smelled
    assert [card.code for card in smelled.cards] == ["P04", "P06"]
    assert [curve.label for curve in smelled.curves.curves] == ["P04 SR-3", "P06 SR-4"]
    assert smelled.told.text().splitlines()[0] == "No difference is beyond your own noise (0.69)."
    assert "bitter peel at 2\u2009min only in SR-4" in smelled.told.text()
    assert "27.9 · 28.0" in smelled.told.text() and "1\u2009d · 13.9\u2009h" in smelled.told.text()
    assert [row.differences is None for row in smelled.model.rows] == [True, True, False]
    column = smelled.model.columns[2]
    assert smelled.model.tone(smelled.model.row(2), column) == "quiet", "half a step may be chance"


def test_another_strip_can_be_chosen_and_its_age_is_said(desk: Desk) -> None:
    smelled = desk.view.smelled
    box = smelled.choices[desk.key("SR-3")]
    box.setCurrentIndex(next(at for at in range(box.count()) if box.itemText(at).startswith("P07")))
    box.activated.emit(box.currentIndex())
    assert [card.code for card in smelled.cards] == ["P07", "P06"]
    assert smelled.ages.text().startswith("The mixes differed in age when dipped: P07 21\u2009d, P06 8\u2009d")
    assert smelled.model.row(2).other_age and smelled.model.tone(smelled.model.row(2), smelled.model.columns[0]) == "amber"


def test_a_difference_beyond_noise_is_named(desk: Desk) -> None:
    desk.compare("SR-1", "SR-3")
    assert desk.view.smelled.told.text().startswith("Beyond your own noise (0.69): SR-3 +1 at 4\u2009h")


def test_the_reason_and_the_decision_stand_below(desk: Desk) -> None:
    why = desk.view.why.text()
    assert why.startswith("Why SR-4: SR-3 base with the peel and pepper of SR-2B")
    assert "SR-4 chosen: keeps the SR-3 base at 8 h" in why and "SR-3 rejected: lemon cut too far" in why


def test_what_was_decided_last_about_each_stands_in_words(desk: Desk) -> None:
    first, last = (desk.book.get(Version, code) for code in ("SR-1", "SR-5"))
    assert first is not None and last is not None and first.key is not None and last.key is not None
    decided = Decision(
        project=last.project, made_on=date(2025, 4, 9), chosen=(last.key,), code="DE-90", reason="richer",
        rejected={first.key: ""},
    )  # fmt: skip
    desk.book.put(decided)
    desk.compare("SR-1", "SR-3", "SR-5")
    told = desk.view.why.text().splitlines()
    assert told[-2] == "Decided 9 Apr 2025: SR-5 chosen: richer; SR-1 rejected."
    assert told[-1].startswith("Decided 24 Mar 2025: SR-3 rejected: lemon cut too far")


def test_an_edit_elsewhere_shows_at_once(desk: Desk) -> None:
    desk.compare("SR-4", "SR-5")
    draft = desk.book.get(Version, "SR-5")
    assert draft is not None
    lemon = next(line for line in draft.lines if line.material and desk.book.get(Material, line.material).short == "Lemon oil")
    lines = tuple(replace(line, parts=line.parts + 10) if line is lemon else line for line in draft.lines)
    desk.session.edit("lemon", replace(draft, lines=lines))
    QApplication.processEvents()
    assert desk.row("Lemon oil")["v1"] == "70"
    desk.session.undo()
    assert desk.row("Lemon oil")["v1"] == "60"


def test_a_reading_of_a_strip_shows_at_once(desk: Desk) -> None:
    strip = desk.book.get(Strip, "P06")
    assert strip is not None and strip.key is not None
    desk.book.put(Reading(strip.key, strip.dipped_at + timedelta(hours=72), due_s=72 * 3600.0, intensity=1.0))
    QApplication.processEvents()
    assert desk.view.smelled.curves.curves[1].series[-1][0] == pytest.approx(72.0)


def test_a_row_leads_to_its_material_and_the_buttons_further(desk: Desk) -> None:
    view, again = desk.view, list[int]()
    view.again_asked.connect(again.append)
    view.take_focus()
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert isinstance(desk.asked[-1], Material) and desk.asked[-1].short == "Lemon oil"
    view.open.click()
    assert isinstance(desk.asked[-1], Version) and desk.asked[-1].code == "SR-4"
    view.again.clicked.emit()
    assert again == [desk.key("SR-4")]


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".pdf"])
def test_it_is_kept_as_a_table_or_on_paper(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str) -> None:
    path = tmp_path / f"out{ending}"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    desk.view.save_action.trigger()
    assert desk.said == [f"Saved: {path}."]
    if ending == ".pdf":
        assert path.read_bytes()[:5] == b"%PDF-"
        return
    (table,) = table_files.read(path)
    assert table.rows[0] == ("line", "stock", "SR-3", "SR-4", "share ± %")
    grapefruit = next(row for row in table.rows if row[0] == "Grapefruit oil")
    assert [float(cell) for cell in grapefruit[2:4]] == [90.0, 110.0] and float(grapefruit[4]) == pytest.approx(22.2222, abs=1e-3)


def test_it_is_printed(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "printed.pdf"
    asked: list[QPrinter] = []

    def answer(dialog: QPrintDialog) -> int:
        asked.append(dialog.printer())
        dialog.printer().setOutputFileName(str(path))
        return QPrintDialog.DialogCode.Accepted

    monkeypatch.setattr(QPrintDialog, "exec", answer)
    desk.view.print_action.trigger()
    assert desk.said == ["Sent to the printer: Compare SR-3, SR-4."] and path.read_bytes()[:5] == b"%PDF-"
    assert asked[0].pageLayout().pageSize().name() == "A4"
    monkeypatch.setattr(QPrintDialog, "exec", lambda _: QPrintDialog.DialogCode.Rejected)
    desk.view.print_action.trigger()
    assert len(desk.said) == 1, "somebody who leaves the dialog is told nothing"


@pytest.mark.qt_log_ignore("QPainter::begin")
def test_a_printer_that_takes_nothing_is_said(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def answer(dialog: QPrintDialog) -> int:
        dialog.printer().setOutputFileName(str(tmp_path / "no such folder" / "printed.pdf"))
        return QPrintDialog.DialogCode.Accepted

    monkeypatch.setattr(QPrintDialog, "exec", answer)
    desk.view.print_action.trigger()
    assert desk.said == [NO_PRINTER]


def test_the_whole_table_is_copied(desk: Desk) -> None:
    desk.view.copy_action.trigger()
    lines = QApplication.clipboard().text().splitlines()
    assert lines[0].split("\t")[0] == "line" and len(lines) == 1 + desk.view.grid.table.rowCount() == 7
    assert next(line for line in lines if line.startswith("Grapefruit oil")).split("\t")[2:4] == ["90.0", "110.0"]
    assert desk.said == ["6 rows on the clipboard."]


def test_paper_holds_both_sides_and_the_caution(desk: Desk) -> None:
    told = html_of(document_of(desk.view.side, desk.view.grid, desk.view.smelled)).replace("\u2009", " ")
    wanted = ("Compare SR-3, SR-4", "Grapefruit oil", "+22.2", "892.68", "No difference is beyond your own noise", "P04 SR-3")
    for text in (*wanted, CAUTION):
        assert text in told, text


def test_models_hold_what_qt_asks_of_them(desk: Desk) -> None:
    for model in (desk.view.grid.table, desk.view.totals.table, desk.view.smelled.model):
        QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal, desk.page)


def test_versions_without_strips_say_what_to_do(desk: Desk) -> None:
    desk.compare("SR-5", "A-WS")
    assert desk.view.smelled.nothing.isVisible() and desk.view.smelled.nothing.text() == NOTHING
    assert not desk.view.smelled.parts.isVisible()


def test_a_book_with_one_version_says_what_belongs_here(tmp_path: Path, theme: Theme, clock, qtbot) -> None:
    with Book.create(tmp_path / "b.stillroom", "One", clock=clock) as book:
        lemon, = book.put(Material("Lemon oil"))
        project, = book.put(Project("ONE"))
        book.put(Version(project.key, "ONE-1", (Line(1.0, lemon.key),)))
        made = shown(book, theme, tmp_path, qtbot)
        assert made.view.empty.isVisible() and made.view.empty.text() == EMPTY
        assert not made.view.split.isVisible() and not made.view.save_action.isEnabled()
        shiboken6.delete(made.page)


def test_what_moved_most_stands_first_where_that_is_wanted(desk: Desk) -> None:
    side = side_of(desk.book, [desk.book.get(Version, code) for code in ("SR-3", "SR-4")])
    names = [row.name for row in shown_rows(side.materials, unchanged=False, moved_first=True)]
    assert names[:3] == ["Grapefruit oil", "Lemon oil", "OTNE (woody ketone)"]
