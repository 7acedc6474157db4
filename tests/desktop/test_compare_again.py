# SPDX-License-Identifier: MIT
"""Could I make it again today, on the demo studio: the headline, line by line, the proof, and on to the balance."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from db import make_demo
from desktop.app import App
from desktop.faults import Faults
from desktop.pages.compare.again_paper import CAUTION, document_of
from desktop.pages.compare.again_view import EMPTY, NO_REMAKE, AgainView
from desktop.paper import html_of
from desktop.settings import Settings
from perfumery import Bottle, Version


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("again") / "demo.stillroom"
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


def asked_of(app: App, code: str) -> AgainView:
    page = app.window.show_page("compare")
    page.again(app.book.get(Version, code).key)
    return page.views["again today"]


def plain(text: str) -> str:
    return text.replace("\u2009", " ")


def cells(view: AgainView, place: int) -> dict[str, str]:
    return {
        column.key: plain(view.model.cell(place, at)).strip(" \u2007\u2008") for at, column in enumerate(view.model.columns)
    }  # fmt: skip


def choose(view: AgainView, name: str) -> None:
    view.grid.setFocus()
    view.grid.go_to(view.model.index(next(at for at, row in enumerate(view.model.rows) if row.name == name), 0))


def test_what_differs_is_said_first(app: App) -> None:
    view = asked_of(app, "SR-3")
    assert view.title.text() == "SR-3: could I make it again today?" and view.amount.text() == "5"
    assert plain(view.headline.text()) == "19 of 20 lines identical; K19 is 5 % strong: weigh 0.119 g for 0.125 g."
    assert cells(view, 0) == {
        "name": "Ambroxide", "stock": "10 % in ethanol", "then": "K19", "today": "K19", "weigh": "0.119", "left": "12.95",
        "said": "K19 is 5 % strong: weigh 0.119 g for 0.125 g.",
    }  # fmt: skip
    assert plain(view.figures.text()) == (
        "Compared with T-024 of 26 Feb 2025. At most 52.571 g on hand, held back by Wet slate accord (A-WS). "
        "Concentrate 0.1165 €/g then, 0.1156 €/g today, at what these bottles cost."
    )
    QAbstractItemModelTester(view.model, QAbstractItemModelTester.FailureReportingMode.Fatal, view)


def test_lines_as_before_are_folded_until_they_are_wanted(app: App) -> None:
    view = asked_of(app, "SR-4")
    assert [row.name for row in view.model.rows] == ["Ambroxide", "20 lines as before"]
    choose(view, "20 lines as before")
    assert view.line_told.text() == ""
    QTest.keyClick(view.grid, Qt.Key.Key_Space)
    assert view.model.rowCount() == 22 and view.grid.currentIndex().row() == 1
    lemon = cells(view, 2)
    assert (lemon["name"], lemon["then"], lemon["today"]) == ("Lemon oil", "M01-2 · L2502-002 · 1 Mar 2025", "M01-2 · L2502-002")
    assert lemon["said"] == "as before"
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert view.model.rowCount() == 2
    view.fold_action.trigger()
    assert view.model.rowCount() == 22
    point = view.grid.visualRect(view.model.index(1, 0)).center()
    QTest.mouseClick(view.grid.viewport(), Qt.MouseButton.LeftButton, pos=point)
    assert view.model.rowCount() == 2


def test_the_chosen_line_is_told_in_full(app: App) -> None:
    view = asked_of(app, "SR-4")
    choose(view, "Ambroxide")
    assert plain(view.line_told.text()).splitlines() == [
        "Ambroxide: K19 is 5 % strong: weigh 0.095 g for 0.100 g.",
        "0.650 g are missing from it; if that was carrier, it holds 10.50 %. Topped up on the Shelf it is as written again; "
        "until then Weigh reckons with what the book says it holds.",
        "Then 0.100 g of K19; today 0.095 g of K19, 12.950 g left; cost 0.1208 €/g then, 0.1269 €/g today.",
    ]
    view.amount.setText("76.775")
    view.amount.textEdited.emit("76.775")
    told = {row.name: row for row in view.model.rows}
    assert told["Ambroxide (of Wet slate accord)"].then == "K19B"
    choose(view, "Ambroxide (of Wet slate accord)")
    said = plain(view.line_told.text())
    assert "Then in an accord of K19B" in said and "all its lines take 2.376 g" in said
    assert plain(view.headline.text()).startswith("26 of 28 lines identical; Wet slate accord is opened into its lines: A-WS ")


def test_another_amount_is_worked_out_at_once(app: App) -> None:
    view = asked_of(app, "SR-4")
    view.amount.setFocus()
    view.amount.selectAll()
    QTest.keyClicks(view.amount, "76.775")
    assert len(view.found.lines) == 28, "the accord is opened: its bottle holds too little"
    assert plain(view.weigh_all.text()) == "Weigh 76.775 g again"
    before = view.title.y(), view.headline.y()
    view.amount.selectAll()
    QTest.keyClicks(view.amount, "x")
    QApplication.processEvents()
    assert (view.title.y(), view.headline.y()) == before
    assert view.amount_field.is_wrong and not view.weigh.isEnabled() and not view.save_action.isEnabled()
    app.session.choose_version(app.book.get(Version, "SR-3").key)
    assert view.amount.text() == "5" and not view.amount_field.is_wrong and view.weigh.isEnabled()


def test_a_version_that_was_never_weighed_says_so(app: App) -> None:
    view = asked_of(app, "SR-5")
    assert plain(view.headline.text()) == (
        "SR-5 was never weighed, so there is nothing to compare with; 19 of 20 lines ready to be weighed; "
        "K19 is 5 % strong: weigh 0.286 g for 0.300 g."
    )
    folded = view.model.index(1, 0)
    assert view.grid.tip_of(folded) == "Space, Enter or a click", "nothing of it is cut"
    assert view.model.rows[1].name == "19 lines ready" and cells(view, 0)["then"] == "—"
    view.toggle_fold()
    assert cells(view, 2)["said"] == "ready"
    assert "No vial of it is kept" in view.proof.text() and plain(view.weigh.text()) == "Weigh 5.000 g"
    assert not view.weigh_all.isVisible() and not view.test.isEnabled()


def test_an_accord_is_held_against_the_bottle_it_filled(app: App) -> None:
    view = asked_of(app, "A-WS")
    assert plain(view.figures.text()).startswith("Compared with A-WS of 17 Feb 2025.")
    assert "against A-WS (7.360 g left)" in plain(view.proof.text())


def test_another_lot_that_was_never_smelled_and_a_stock_that_is_gone(app: App) -> None:
    for code in ("M01-1", "K19", "K19B"):
        app.book.bottles.discard(app.book.get(Bottle, code).key)
    view = asked_of(app, "SR-3")
    said = plain(view.headline.text())
    assert said == (
        "18 of 20 lines identical; Lemon oil is a new lot: M01-2 in place of M01-1; M01-2 was never smelled against M01-1; "
        "Ambroxide at 10 % is to be made first: M19-1 is a solid and takes its time to dissolve."
    )
    assert "Nothing can be made now, held back by Ambroxide." in view.figures.text()
    assert "0.1154 €/g today, at what these bottles cost." in plain(view.figures.text()), "what is to be made at today's prices"
    choose(view, "Lemon oil")
    assert "Dip a strip of each in one sitting" in view.line_told.text()
    choose(view, "Ambroxide")
    assert cells(view, view.grid.currentIndex().row())["today"] == "none" and "Make a dilution" in view.line_told.text()
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert view.isVisible(), "there is no bottle to go to"


def test_the_headline_names_no_more_than_can_be_read(app: App) -> None:
    for row in app.book.bottles.rows():
        if row.bottle.code.startswith(("M0", "K")):
            app.book.bottles.discard(row.key)
    view = asked_of(app, "SR-3")
    said = view.headline.text()
    assert said.count(";") == 4 and said.endswith(" more things.")


def test_a_vial_made_without_weighing_is_named_in_the_proof(app: App) -> None:
    made, vial = app.book.start_trial(app.book.get(Version, "SR-5").key, 5.0)
    said = plain(asked_of(app, "SR-5").proof.text())
    assert "No vial of it is kept" not in said and f"smell it against {vial.code} ({made.code}, not weighed)" in said


def test_the_proof_is_a_remake_against_the_kept_vial(app: App) -> None:
    view = asked_of(app, "SR-4")
    assert plain(view.proof.text()).splitlines() == [
        "The proof: remake 2 g and smell it against V027 (T-027, 4.005 g left) in a triangle test. Its smallest line, "
        "2,6-Nonadienal, is then 0.010 g.",
        "To notice a difference that every second answer can tell: 18 sets, 54 papers; 10 must be right. Such a difference is "
        "then noticed 89 times in 100.",
        "A remake of today is 30 d younger: until 9 Aug 2025 a difference may be one of age.",
    ]
    assert not view.test.isEnabled() and view.test.toolTip() == NO_REMAKE
    seen = list[tuple[int, float, dict[int, int]]]()
    view.weighing_asked.connect(lambda *what: seen.append(what))
    QTest.keyClick(view.grid, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    (version, amount, bottles), = seen
    assert version == app.book.get(Version, "SR-4").key and amount == 2.0 and len(bottles) == 21
    begin = app.window.page("weigh").begin
    assert begin.isVisible() and begin.amount.text() == "2.000" and begin.title.text() == "Weigh SR-4"
    lots = {row.row.name: row.row.bottle.bottle.code for row in begin.model.rows}
    assert (lots["Lemon oil"], lots["Cedarwood oil, Virginia"]) == ("M01-2", "M16-2"), "the lots of then, not those opened first"


def test_a_remake_leads_to_the_triangle_test(app: App) -> None:
    view = asked_of(app, "SR-2")
    said = plain(view.proof.text())
    assert said.startswith("The proof: smell V028 (T-028, 3.993 g left) against V022 (T-022, 4.002 g left) in a triangle test.")
    assert said.endswith("V028 is 21 d younger: until 9 Jun 2025 a difference may be one of age.")
    assert view.test.text() == "Plan a triangle test against V022" and view.test.isEnabled()
    assert plain(view.weigh.text()) == "Weigh 5.000 g again" and not view.weigh_all.isVisible()
    QTest.keyClick(view.grid, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    sheet = app.window.page("smell").views["blind tests"].plan_sheet
    assert sheet.isVisible() and sheet.method.currentText() == "triangle"
    assert sheet.named.text() == "A SR-2 V022, B SR-2 V028" and sheet.plan.hasFocus()


def test_mixes_of_one_age_match(app: App, clock) -> None:
    clock.tick(days=120)
    assert asked_of(app, "SR-2").proof.text().endswith("Their ages match.")


def test_a_line_leads_to_its_bottle_and_a_button_to_the_whole_amount(app: App) -> None:
    view = asked_of(app, "SR-3")
    seen = list[object]()
    view.asked.connect(seen.append)
    view.take_focus()
    view.grid.go_to(view.model.index(0, 0))
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert isinstance(seen[0], Bottle) and seen[0].code == "K19"
    view = asked_of(app, "SR-3")
    view.weigh_all.click()
    assert app.session.version.code == "SR-3"
    assert app.window.pages.currentWidget() is app.window.page("weigh")
    assert app.window.page("weigh").begin.amount.text() == "5.000"


def test_the_answer_is_copied_and_kept(app: App, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    view = asked_of(app, "SR-3")
    said = list[str]()
    app.session.said.connect(lambda text, tone: said.append(text))
    choose(view, "Ambroxide")
    view.grid.copy()
    copied = plain(QApplication.clipboard().text()).splitlines()
    assert copied[1].startswith("Ambroxide\t10 % in ethanol\tK19\tK19\t0.119\tK19 is")
    next(action for action in view.actions() if action.text() == "Copy the answer").trigger()
    lines = plain(QApplication.clipboard().text()).splitlines()
    assert lines[0] == "SR-3, 5.000 g, made again on 10 Apr 2025" and lines[1] == plain(view.headline.text())
    assert sum("\tas before" in line for line in lines) == 19 and said == ["20 lines on the clipboard."]
    path = tmp_path / "Again SR-3"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), "PDF (*.pdf)"))
    view.save_action.trigger()
    assert path.with_suffix(".pdf").read_bytes()[:5] == b"%PDF-" and said[-1].startswith("Saved: ")
    told = plain(html_of(document_of(*view._told())))
    for text in ("SR-3, 5.000 g, made again on 10 Apr 2025", "Vetiver oil", "L2406-020", "as before", "V024", CAUTION):
        assert text in told, text
    printed = tmp_path / "printed.pdf"

    def answer(dialog: QPrintDialog) -> int:
        dialog.printer().setOutputFileName(str(printed))
        return QPrintDialog.DialogCode.Accepted

    monkeypatch.setattr(QPrintDialog, "exec", answer)
    view.print_out()
    assert printed.read_bytes()[:5] == b"%PDF-"


def test_what_changes_meanwhile_is_told_when_it_is_seen_again(app: App) -> None:
    view = asked_of(app, "SR-4")
    app.window.show_page("shelf")
    app.book.bottles.reweigh(app.book.get(Bottle, "K19").key, 0.05)
    assert plain(view.model.cell(0, view.model.place_of("left"))).strip() == "12.95"
    app.window.show_page("compare")
    assert plain(view.model.cell(0, view.model.place_of("left"))).strip() == "0.05"


def test_side_by_side_asks_it_of_its_last_version(app: App) -> None:
    page = app.window.show_page("compare")
    page.compare([app.book.get(Version, code).key for code in ("SR-2", "SR-3")])
    page.views["side by side"].again.click()
    assert page.views["again today"].title.text().startswith("SR-3")


def test_without_a_version_it_says_what_to_do(app: App) -> None:
    view = app.window.show_page("compare").show_view("again today")
    app.session.choose_version(None)
    assert view.title.text() == EMPTY and not view.weigh.isVisible()


def test_one_key_asks_it_of_the_chosen_version_from_any_page(app: App) -> None:
    for page, code in (("bench", "SR-3"), ("shelf", "SR-4"), ("smell", "SR-2")):
        app.session.choose_version(app.book.get(Version, code).key)
        app.window.show_page(page)
        QTest.keyClick(app.window, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
        view = app.window.page("compare").views["again today"]
        assert view.isVisible() and view.title.text() == f"{code}: could I make it again today?"


def test_a_bottle_that_was_labelled_anew_is_named(app: App) -> None:
    bottles = app.book.bottles
    bottles.discard(app.book.get(Bottle, "K19B").key)
    bottles.relabel(app.book.get(Bottle, "K19").key)
    view = asked_of(app, "SR-3")
    choose(view, "Ambroxide")
    told = "No bottle holds Ambroxide at 10 % any more: K19, which it was weighed from, is labelled 10.50 % now."
    assert told in plain(view.line_told.text()) and "Exchange the stock on the Bench" in view.line_told.text()
    assert told.removesuffix(".") in plain(view.headline.text())
