# SPDX-License-Identifier: MIT
"""The help as a page, by keys alone: opened, read, searched, followed, left; and why a figure is what it is."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QApplication

from desktop.figures import THIN

Key = Qt.Key
CTRL, SHIFT, ALT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.AltModifier


@pytest.fixture
def demo(hand, tmp_path: Path):
    assert hand.app.new_demo(tmp_path / "Demo.stillroom")
    return hand


def listed(page) -> list[str]:
    return [page.list.item(at).text() for at in range(page.list.count())]


def at_top(page) -> str:
    return page.text.textCursor().block().text()


def to_cell(hand, name: str, key: str) -> None:
    hand.app.window.bench.formula.grid.setFocus()
    hand.to_cell(name, key)


# the page ----------------------------------------------------------------------------------------------------------------


def test_help_before_there_is_a_book(hand) -> None:
    hand.press(Key.Key_F1)
    page = hand.app.window.help
    assert hand.app.window.pages.currentWidget() is page and page.text.hasFocus()
    assert page.text.toPlainText().startswith("From an idea to a formula that is kept")
    hand.press(Key.Key_Escape)
    assert hand.app.window.pages.currentWidget() is hand.app.window.first


def test_chapters_are_walked_by_keys(demo) -> None:
    window = demo.app.window
    window.show_page("shelf")
    demo.press(Key.Key_F1)
    page = window.help
    page.list.setFocus()
    for _ in range(3):
        demo.press(Key.Key_Down)
    assert page.text.toPlainText().startswith("Keys and commands")
    demo.press(Key.Key_Return)
    assert page.text.hasFocus()
    demo.press(Key.Key_Escape)
    assert window.pages.currentWidget() is window.page("shelf")
    demo.press(Key.Key_F1)
    assert page.text.toPlainText().startswith("Keys and commands")  # where it was left


def test_keys_and_about_have_ways_of_their_own(demo) -> None:
    window = demo.app.window
    demo.press(Key.Key_F1, CTRL)
    assert "Ctrl+Shift+M" in window.help.text.toPlainText() and "Smelled, still good" in window.help.text.toPlainText()
    assert set(window._made) == {"bench"}  # no page was opened to know its keys
    window.help.open("cautions")
    window.commands["about"].trigger()
    told = window.help.text.toPlainText()
    assert "No safety assessment" in told and "Version:" in told and "MIT licence" in told


def test_finding_looks_in_all_chapters(demo) -> None:
    demo.press(Key.Key_F1)
    page = demo.app.window.help
    demo.press(Key.Key_F, CTRL)
    demo.type("drift bottle")
    assert listed(page)[0] == "Drift of a bottle\nEvery sum" and len(listed(page)) > 1
    demo.press(Key.Key_Down)
    assert page.list.hasFocus() and at_top(page) == "Drift of a bottle"
    assert page.text.extraSelections()
    demo.press(Key.Key_F, CTRL)
    demo.press(Key.Key_End)
    demo.type(" nosuchword")
    assert listed(page) == [] and page.none.isVisible()
    demo.press(Key.Key_Escape)
    assert listed(page)[0] == "From idea to formula" and not page.none.isVisible() and page.find.text() == ""
    demo.type("usp")
    demo.press(Key.Key_Return)
    assert page.text.hasFocus() and at_top(page) in ("Uncertainty of a mass", "Least weight")
    demo.press(Key.Key_F1)
    assert page.find.text() == ""


def test_links_are_followed_inside_and_nowhere_else(demo) -> None:
    demo.press(Key.Key_F1)
    page = demo.app.window.help
    page.open("job")
    demo.press(Key.Key_Tab)  # the first link
    demo.press(Key.Key_Return)
    assert at_top(page) == "Drift of a bottle"
    page.text.anchorClicked.emit(QUrl("https://example.org/sums.md"))
    page.text.anchorClicked.emit(QUrl("elsewhere.md"))
    assert at_top(page) == "Drift of a bottle"
    demo.press(Key.Key_Left, ALT)
    assert page.text.toPlainText().startswith("From an idea")
    assert page.text.loadResource(2, QUrl("file:///etc/hostname")) is None


def test_text_size_and_theme_follow(demo) -> None:
    demo.press(Key.Key_F1)
    page = demo.app.window.help
    page.open("sums", "least-weight")
    before = page.text.document().defaultFont().pixelSize()
    demo.app.window.commands["text_larger"].trigger()
    demo.app.window.commands["theme_dark"].trigger()
    larger = page.text.document().defaultFont().pixelSize()
    assert larger > before and at_top(page) == "Least weight"
    demo.press(Key.Key_Escape)
    demo.app.window.commands["text_larger"].trigger()
    demo.press(Key.Key_F1)
    assert page.text.document().defaultFont().pixelSize() > larger and page.text.toPlainText().startswith("Every sum")


# why ---------------------------------------------------------------------------------------------------------------------


def test_why_a_share_is_what_it_is(demo) -> None:
    window = demo.app.window
    row = next(row for row in window.bench.formula.model.rows if row.parts == 35)
    to_cell(demo, row.name, "share")
    demo.press(Key.Key_F1, SHIFT)
    card = window.why
    assert card.isVisible() and card.more.hasFocus()
    assert card.own.text().replace(THIN, " ") == f"35 ÷ 1000 parts = {100 * row.share:.3f} %"
    assert card.formula.text().startswith("parts ÷ total") and card.source.text() == "Source: arithmetic"
    assert window.rect().contains(card.geometry())
    demo.press(Key.Key_Escape)
    assert not card.isVisible() and window.bench.formula.grid.hasFocus()
    demo.press(Key.Key_F1, SHIFT)
    demo.press(Key.Key_Return)
    assert not card.isVisible() and window.pages.currentWidget() is window.help and at_top(window.help) == "Share"
    demo.press(Key.Key_Escape)
    assert window.pages.currentWidget() is window.bench


@pytest.mark.parametrize(
    ("key", "said"), [("neat", "neat parts"), ("grams", "of 5 g ="), ("thousand", "÷ 1000 parts"), ("error", "(k = 2)"),
                       ("cost", "/g = "), ("cost_share", "÷")]
)
def test_why_says_the_figures_of_the_row(demo, key: str, said: str) -> None:
    grid = demo.app.window.bench.formula.grid
    column = grid.table.columns[grid.table.place_of(key)]
    told = [column.why(row).replace(THIN, " ") for row in grid.table.rows if not row.is_entry]
    assert any(said in one for one in told)
    assert column.why(next(row for row in grid.table.rows if row.is_entry)) == ""


def test_why_where_nothing_is_worked_out(demo) -> None:
    window = demo.app.window
    row = window.bench.formula.model.rows[0]
    to_cell(demo, row.name, "material")
    demo.press(Key.Key_F1, SHIFT)
    assert not window.why.isVisible() and "Nothing is worked out here" in window.notice.text


def test_why_of_a_fact_and_leaving_by_tab(demo) -> None:
    window = demo.app.window
    fact = window.bench.formula.facts.odorant
    fact.field.setFocus()
    demo.press(Key.Key_F1, SHIFT)
    assert window.why.isVisible() and window.why.title.text() == "Odorant strength" and "odorant:" in window.why.own.text()
    window.bench.formula.grid.setFocus()
    assert not window.why.isVisible()
    assert "finished strength × neat share" in fact.field.toolTip()


def test_why_stands_in_the_menu_of_a_cell_and_its_formula_over_the_column(demo) -> None:
    window = demo.app.window
    grid = window.bench.formula.grid
    at = grid.table.place_of("share")
    head = grid.table.headerData(at, Qt.Orientation.Horizontal, Qt.ItemDataRole.ToolTipRole)
    assert "parts ÷ total" in head and "Source: arithmetic" in head
    asking = window.findChild(QAction, "why")
    for key, is_there in (("share", True), ("material", False)):
        to_cell(demo, grid.table.rows[0].name, key)
        shown = grid.context_actions()
        assert (asking in shown) is is_there


def test_why_on_the_other_pages(demo) -> None:
    window = demo.app.window
    grid = window.show_page("shelf").list.grid
    bottles = [row.bottle for row in grid.table.rows]
    weighed = next(at for at, one in enumerate(bottles) if one is not None and one.found_g and one.missing_g)
    column = grid.table.columns[grid.table.place_of("missing")]
    assert "by the book −" in column.why(grid.table.rows[weighed])
    grid.setFocus()
    grid.setCurrentIndex(grid.table.index(weighed, grid.table.place_of("left")))
    demo.press(Key.Key_F1, SHIFT)
    assert window.why.title.text() == "What is left"
    demo.press(Key.Key_Escape)
    compare = window.show_page("compare")
    side = compare.show_view("side by side")
    QApplication.processEvents()
    rows = side.totals.table.rows
    moved = next(at for at, row in enumerate(rows) if row.name.startswith("parts moved"))
    side.totals.setFocus()
    side.totals.setCurrentIndex(side.totals.table.index(moved, side.totals.table.place_of("v1")))
    demo.press(Key.Key_F1, SHIFT)
    assert window.why.title.text() == "Parts moved"
    change = side.grid.table.columns[side.grid.table.place_of("change")]
    assert any(change.why(row).startswith(("1", "2", "3", "4", "5", "6", "7", "8", "9")) for row in side.grid.table.rows)
