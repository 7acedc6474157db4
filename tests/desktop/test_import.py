# SPDX-License-Identifier: MIT
"""Materials and formulas out of tables and back: mapped, shown, taken as one step; what is exported reads back the same."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from db import Book, make_demo
from desktop import table_files
from desktop.app import App
from desktop.faults import Faults
from desktop.pages.import_page import NO_NAME, ImportPage
from desktop.settings import Settings
from perfumery import Line, Material, Version
from perfumery.materials_table import FIELDS, read_rows


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("import") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture
def app(studio_bytes: bytes, tmp_path: Path, clock, qapp: QApplication, qtbot) -> Iterator[App]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    app = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path), clock=clock)
    app.window.resize(1280, 800)
    app.window.show()
    qtbot.waitExposed(app.window)
    app.window.activateWindow()
    qtbot.waitUntil(app.window.isActiveWindow)
    app.open_book(path)
    yield app
    app.leave()


class Desk:
    """Chooses files as somebody would."""

    def __init__(self, app: App, qtbot, monkeypatch: pytest.MonkeyPatch) -> None:
        self.app, self.qtbot, self.patch = app, qtbot, monkeypatch

    def open(self, path: Path, command: str) -> None:
        self.patch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
        self.app.window.commands[command].trigger()
        # a paste is looked up in slices
        self.qtbot.waitUntil(lambda: "Reading" not in self.app.window.notice.text and self.app.work.is_idle)

    def keep(self, path: Path, command: str) -> None:
        self.patch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
        self.app.window.commands[command].trigger()
        self.qtbot.waitUntil(lambda: self.app.work.is_idle)

    def materials(self, path: Path) -> ImportPage:
        self.open(path, "import_materials")
        page = self.app.window.page("import")
        QAbstractItemModelTester(page.model, QAbstractItemModelTester.FailureReportingMode.Fatal, page)
        return page


@pytest.fixture
def desk(app: App, qtbot, monkeypatch: pytest.MonkeyPatch) -> Desk:
    return Desk(app, qtbot, monkeypatch)


def outcomes(page: ImportPage) -> dict[str, str]:
    at = page.model.place_of("outcome")
    return {row.cells[0]: page.model.cell(place, at) for place, row in enumerate(page.model.rows)}


SUPPLIER = "Bezeichnung;CAS-Nr.;Geruch;Preis\nVetiveröl, Haiti;8016-96-4;woody, damp;0,30\nLinalool;78-70-6;floral;0,08\n" \
           "Falsch;78-70-7;;\nVetiveröl, Haiti;;;\nNeroli oil;;orange blossom;9,5\n"


def test_a_supplier_s_list_is_mapped_shown_and_taken_in_one_step(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(SUPPLIER.encode("cp1252"))
    page = desk.materials(path)
    assert desk.app.window.pages.currentWidget() is page
    assert page.title.text() == "Materials from list.csv" and "Windows-1252" in page.remark.text()
    assert [box.currentText() for box in page.fields] == ["name", "CAS", "smell words", "left out"]
    assert page.fields[3].hasFocus(), "the one that is not known"
    said = outcomes(page)
    assert said["Neroli oil"] == "new" and said["Falsch"].startswith("78-70-7 cannot be a CAS number")
    assert said["Linalool"] in ("fills smell words", "in the book already, nothing to add")
    vetiver = next(page.model.cell(row, page.model.place_of("outcome")) for row in range(1))
    assert vetiver == "new, with the CAS number of Vetiver oil"
    assert page.counted.text() == "5 rows: 2 new, 1 row left out, as said beside it."
    assert page.take_button.text() == "Take 2 new materials"
    before = len(list(desk.app.book.all(Material)))
    QTest.keyClick(page.grid, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert len(list(desk.app.book.all(Material))) == before + 2
    neroli = desk.app.book.get(Material, "Neroli oil")
    assert neroli is not None and neroli.words == ("orange blossom",)
    assert desk.app.window.pages.currentWidget() is desk.app.window.bench
    assert desk.app.book.undo().startswith("import of ") and desk.app.book.get(Material, "Neroli oil") is None


def test_a_column_without_a_known_heading_is_chosen_by_hand(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("what,number\nMyrrh resinoid,9000-45-7\n")
    page = desk.materials(path)
    assert page.wrong.text() == NO_NAME and not page.take_button.isEnabled()
    page.fields[0].setCurrentIndex(page.fields[0].findData("name"))
    assert outcomes(page) == {"Myrrh resinoid": "new"}
    page.fields[1].setCurrentIndex(page.fields[1].findData("name"))
    assert page.wrong.text() == "Two columns are name. Leave one of them out." and not page.take_button.isEnabled()
    page.fields[1].setCurrentIndex(page.fields[1].findData("cas"))
    page.take_button.click()
    assert desk.app.book.get(Material, "Myrrh resinoid").cas == "9000-45-7"


def test_a_column_called_data_is_taken_for_ours_only_where_it_is(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,data\nMyrrh resinoid,see the sheet\n")
    page = desk.materials(path)
    assert page.fields[1].currentText() == "left out" and outcomes(page) == {"Myrrh resinoid": "new"}
    page.fields[1].setCurrentIndex(page.fields[1].findData("properties"))
    said = outcomes(page)["Myrrh resinoid"]
    assert said.startswith("“see the sheet” is no datum") and "say “left out” beside its name" in said
    assert page.wrong.text() == said
    page.leave_button.click()
    path.write_text("name,data\nMyrrh resinoid,flash_point_c=93\n")
    assert desk.materials(path).fields[1].currentText() == "data"


def test_what_is_in_the_book_is_left_alone_where_that_is_wanted(desk: Desk, tmp_path: Path) -> None:
    ethanol = next(one for one in desk.app.book.all(Material) if one.short.startswith("Ethanol"))
    path = tmp_path / "list.csv"
    path.write_text(f"name;INCI\n{ethanol.name};ALCOHOL\n")
    page = desk.materials(path)
    assert outcomes(page) == {ethanol.name: "fills INCI"} and page.take_button.text() == "Fill 1 material"
    page.fill.setChecked(False)
    assert page.take_button.text() == "Nothing to take" and not page.take_button.isEnabled()
    page.fill.setChecked(True)
    page.take()
    assert desk.app.book.get(Material, ethanol.name) == replace(ethanol, inci="ALCOHOL")


def test_another_name_of_what_is_in_the_book_is_kept_as_a_synonym(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name;CAS;botanical\nLinalol, reine;78-70-6;\nLicareol;78-70-6;Ocimum\nFalsch;78-70-7;\n")
    page = desk.materials(path)
    assert desk.app.window.notice.text == "list.csv: 3 rows read."
    said = outcomes(page)
    assert said["Linalol, reine"] == "keeps “Linalol, reine” as a synonym"
    assert said["Licareol"] == "keeps “Licareol” as a synonym, fills botanical name"
    name, outcome = (page.model.place_of(key) for key in ("name", "outcome"))
    assert page.model.cell(2, name) == "Falsch", "a refused row says which one it is"
    page.grid.setColumnWidth(outcome, 60)
    told = page.grid.tip_of(page.model.index(2, outcome)).split("\n")
    assert told == [said["Falsch"], "Falsch · 78-70-7"], "each sentence once"
    assert page.take_button.text() == "Fill 1 material"
    page.fill.setChecked(False)
    assert page.take_button.text() == "Nothing to take"
    page.fill.setChecked(True)
    page.take()
    linalool = next(one for one in desk.app.book.all(Material) if one.short == "Linalool")
    assert {"Linalol, reine", "Licareol"} <= set(linalool.synonyms) and linalool.botanical == "Ocimum"
    assert linalool in desk.app.book.search("licareol")


def test_escape_leaves_and_nothing_is_kept(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name\nMyrrh resinoid\n")
    page = desk.materials(path)
    QTest.keyClick(page, Qt.Key.Key_Escape)
    assert desk.app.window.pages.currentWidget() is desk.app.window.bench
    assert desk.app.book.get(Material, "Myrrh resinoid") is None


def test_a_spreadsheet_of_several_sheets_asks_which(desk: Desk, tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "prices"
    book.active.append(("what", "price"))
    book.active.append(("x", 1))
    sheet = book.create_sheet("materials")
    sheet.append(("name", "carrier"))
    sheet.append(("Myrrh resinoid", None))
    book.save(tmp_path / "list.xlsx")
    page = desk.materials(tmp_path / "list.xlsx")
    assert page.sheet_field.isVisible() and page.wrong.text() == NO_NAME
    page.sheet.setCurrentIndex(1)
    assert outcomes(page) == {"Myrrh resinoid": "new"}


def test_what_is_no_table_is_said(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "picture.png"
    path.write_bytes(b"\x89PNG\r\n\0\0\0")
    desk.open(path, "import_materials")
    assert "is not a table of text" in desk.app.window.notice.text
    desk.open(tmp_path / "gone.csv", "import_materials")
    assert desk.app.window.notice.text and "import" not in desk.app.window._made


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_exported_materials_read_back_the_same(desk: Desk, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"materials{ending}"
    desk.keep(path, "export_materials")
    (table,) = table_files.read(path)
    own = list(desk.app.book.all(Material))
    read = read_rows(table.rows[1:], FIELDS)
    assert [row.material for row in read] == [replace(one, key=None) for one in own]
    with Book.create(tmp_path / "other.stillroom", "Other") as other:
        other.put(*(row.material for row in read))
        assert [replace(one, key=None) for one in other.all(Material)] == [replace(one, key=None) for one in own]


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_an_exported_formula_reads_back_as_the_same_lines(desk: Desk, tmp_path: Path, ending: str) -> None:
    book, session = desk.app.book, desk.app.session
    version = book.get(Version, "SR-4")
    ethanol = next(one for one in book.all(Material) if one.short.startswith("Ethanol"))
    lines = (*(replace(line, key=None) for line in version.lines[:-1]), Line(0.0, ethanol.key, fill_up=True))
    (whole,) = book.put(Version(version.project, "SR-90", lines))
    session.choose_version(whole.key)
    path = tmp_path / f"formula{ending}"
    desk.keep(path, "export_formula")
    (empty,) = book.put(Version(version.project, "SR-91"))
    session.choose_version(empty.key)
    desk.open(path, "import_formula")
    formula = desk.app.window.bench.formula
    assert all(row.is_ready for row in formula.paste.model.rows), [row.asks for row in formula.paste.model.rows]
    formula.paste.take()
    back = book.get(Version, "SR-91")

    def plain(one: Version) -> list[tuple[object, ...]]:
        return [(x.parts, x.material, x.accord, x.strength, x.carrier, x.fill_up, x.remark) for x in one.lines]

    assert plain(back) == plain(whole)
