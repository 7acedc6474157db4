# SPDX-License-Identifier: MIT
"""A trial weighed line by line by keyboard: the invented studio's T-024 once more, with its over-pour, cut off and taken up."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.models.plan_rows import PlanModel, views
from desktop.models.weigh import plan_of, taken_up
from desktop.pages.weigh.page import WeighPage
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Bottle, Making, Move, Version
from perfumery.picking import choices_for

Key = Qt.Key
ALT = Qt.KeyboardModifier.AltModifier


@dataclass
class Scale:
    book: Book
    session: Session
    page: WeighPage
    said: list[tuple[str, str]] = field(default_factory=list)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.page, key, modifier)
        QApplication.processEvents()

    def weigh(self, figure: str) -> None:
        if self.page.scale.asks_code:
            QTest.keyClicks(QApplication.focusWidget(), self.page.scale.row.bottle.bottle.code)
            self.press(Key.Key_Return)
        QTest.keyClicks(QApplication.focusWidget(), figure)
        self.press(Key.Key_Return)

    def told(self) -> str:
        return f"{self.page.scale.said.text()}\n{self.page.scale.answers.text}".replace("\u2009", " ")


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("weigh") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Scale:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    session.settings.keep(f"balance/{book.uid}", str(next(b for b in book.all(Balance) if b.name.startswith("B1")).key))
    version = book.get(Version, "SR-3")
    session.choose_version(version.key)
    page = WeighPage(session)
    page.resize(1216, 740)
    page.show()
    qtbot.waitExposed(page)
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    page.begin.balance.setCurrentIndex(page.begin.balance.findText("B1 generic 0.001 g balance"))
    page.take_focus()
    scale = Scale(book, session, page)
    session.said.connect(lambda sentence, tone: scale.said.append((sentence, tone)))
    return scale


@pytest.fixture
def scale(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Scale]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        yield made
        shiboken6.delete(made.page)


def figures_of(book: Book, code: str) -> list[str]:
    making = book.get(Making, code)
    return [f"{move.read_g:.3f}" for move in book.weighings.poured(making.key)]


# before the first drop ---------------------------------------------------------------------------------------------------


def test_the_plan_says_what_from_where_in_the_order_of_last_time(scale: Scale) -> None:
    page = scale.page.begin
    assert page.title.text() == "Weigh SR-3" and page.orders.name == "as last time"
    first = page.model.row(0).row
    assert (first.name, first.bottle.bottle.code, first.bottle.bottle.place, first.planned.target_g) == (
        "Vetiver oil", "M17-1", "C-5", 0.05,
    )  # fmt: skip
    assert page.model.rowCount() == 20
    assert [row.row.name for row in page.model.rows if row.error > 0.05] == ["2,6-Nonadienal"]


def test_a_stock_off_its_strength_gives_the_same_neat_amount_or_the_same_mass(scale: Scale) -> None:
    version = scale.book.get(Version, "SR-3")
    plan = {row.name: row for row in plan_of(scale.book, version, 5.0).rows}
    assert plan["Labdanum absolute"].planned.target_g == pytest.approx(0.05 * 0.2 / 0.20025994801, abs=1e-9)
    same = {row.name: row for row in plan_of(scale.book, version, 5.0, same_mass=True).rows}
    assert same["Labdanum absolute"].planned.target_g == pytest.approx(0.05)


def test_an_accord_whose_bottle_is_short_is_opened_into_its_lines(scale: Scale) -> None:
    version = scale.book.get(Version, "SR-4")
    small, large = plan_of(scale.book, version, 5.0), plan_of(scale.book, version, 76.775)
    assert [row.name for row in small.rows if row.version] == ["Wet slate accord"]
    assert not [row for row in large.rows if row.version] and len(large.rows) == 28
    assert {row.inside for row in large.rows if row.inside} == {"Wet slate accord"}
    opened = next(line for line in version.lines if line.accord)
    assert len(plan_of(scale.book, version, 5.0, opened=[opened.key]).rows) == 28


def test_what_a_bottle_lacks_is_told_with_the_largest_amount(scale: Scale) -> None:
    key = scale.book.get(Bottle, "K19").key
    scale.book.bottles.discard(key)
    plan = plan_of(scale.book, scale.book.get(Version, "SR-3"), 5.0)
    (short,) = plan.findings
    assert short.code == "too-little" and short.data["code"] == "K19B"
    assert short.data["most_g"] == pytest.approx(3.60, abs=0.01)


def test_nothing_can_begin_without_a_bottle_or_an_amount(scale: Scale) -> None:
    page = scale.page.begin
    page.amount.setText("much")
    page._show_plan()
    assert "not a number" in page.amount_field.remark.text() and not page.begin.isEnabled()
    page.amount.setText("5")
    for code in ("K19", "K19B"):
        scale.book.bottles.discard(scale.book.get(Bottle, code).key)
    assert "No bottle holds Ambroxide" in page.beside.noticed.stock.text() and not page.begin.isEnabled()
    page.amount.setText("300")
    page._show_plan()
    assert "more than this balance carries" in page.beside.noticed.stock.text()


# at the balance ----------------------------------------------------------------------------------------------------------


def test_t024_once_more_cut_off_at_line_eleven_and_taken_up(scale: Scale, theme: Theme, tmp_path: Path, qtbot) -> None:
    masses = figures_of(scale.book, "T-024")
    assert masses[0] == "0.062" and len(masses) == 20
    before = scale.book.left(*(row.key for row in scale.book.bottles.rows()))
    scale.press(Key.Key_Return)
    view = scale.page.scale
    assert view.target.text() == "0.050" and view.name.text() == "Vetiver oil" and "C-5" in view.where.text()
    assert view.target.font().pixelSize() == 96
    scale.weigh(masses[0])
    assert "0.062 g is 0.012 g more than its target (24 %)" in scale.told()
    assert "1  Leave it so  5.012  0  0 €  0  12.37" in scale.told()
    assert "2  Scale all the others × 1.24  6.200  +1.188" in scale.told()
    for mass in masses[1:10]:
        scale.weigh(mass)
    assert len(scale.book.weighings.poured(view.making.key)) == 10
    assert scale.book.get(Version, "SR-3").is_frozen

    # the program is killed here: what is on disk is taken up by a page that knows nothing
    shiboken6.delete(scale.page)
    again = shown(scale.book, theme, tmp_path, qtbot)
    scale.page = again.page
    (making,) = scale.book.weighings.unfinished()
    button = again.page.begin.open_ones.itemAt(0).widget()
    assert button.text().endswith("was cut off at line 11 of 20: go on")
    button.click()
    assert "line 11 of 20" in again.page.scale.head.text()
    for mass in masses[10:]:
        again.weigh(mass)
    assert again.page.scale.row is None and again.page.scale.finish.hasFocus()
    again.press(Key.Key_Space)
    assert again.page.stack.currentWidget() is again.page.done
    known, now = scale.book.as_weighed("T-024"), scale.book.as_weighed(making.key)
    assert now == pytest.approx(known, rel=1e-9)
    cell = {row.name: row for row in again.page.done.model.rows}
    assert cell["Vetiver oil"].change == pytest.approx(0.1114, abs=1e-4)
    # what left the bottles is what is in the vial
    after = scale.book.left(*before)
    drawn = sum(before[key] - after[key] for key in before)
    assert drawn == pytest.approx(scale.book.book_mass(making.into_bottle)) == pytest.approx(5.014)
    asked: list[int] = []
    again.page.smelling_asked.connect(asked.append)
    again.page.done.smell.click()
    assert asked == [making.into_bottle]


def test_scaling_to_a_figure_that_went_over_keeps_the_formula(scale: Scale) -> None:
    scale.press(Key.Key_Return)
    view = scale.page.scale
    scale.weigh("0.062")
    scale.press(Key.Key_2, ALT)
    assert view.plan.total_g == pytest.approx(4.99964 * 1.24, rel=1e-4)
    while view.row is not None:
        scale.weigh(f"{view.row.planned.target_g:.9f}")
    weighed = scale.book.as_weighed(view.making.key)
    key = next(row.key for row in scale.book.material_rows() if row.short == "Vetiver oil")
    known = plan_of(scale.book, scale.book.get(Version, "SR-3"), 5.0)
    accord = scale.book.contents(scale.book.get(Bottle, "A-WS").key)[key]
    meant = (0.05 + accord * 0.7) / known.total_g * 1000
    assert weighed[key] == pytest.approx(meant, rel=1e-6)


def test_a_late_figure_over_is_mended_by_few_additions(scale: Scale) -> None:
    """0.700 for 0.650 g with everything else on target: two additions bring every share within 5 %."""
    scale.press(Key.Key_Return)
    view = scale.page.scale
    while view.row is not None and view.row.name != "Methyl dihydrojasmonate":
        scale.weigh(f"{view.row.planned.target_g:.6f}")
    late = view.making.plan[view.at]
    rest = [planned for planned in view.making.plan if planned is not late]
    scale.book.weighings.replan(view.making.key, [*rest, late])
    view.start(view.making.key)
    while view.row is not None and view.row.name != "Methyl dihydrojasmonate":
        scale.weigh(f"{view.row.planned.target_g:.6f}")
    scale.weigh("0.700")
    assert "19, 15 too small" in scale.told() and "worse than the fault" in scale.told()
    if "every share is then within" not in scale.told():
        scale.press(Key.Key_3, ALT)  # worked out at the first asking of a session
    assert "every share is then within 5 %" in scale.told()
    scale.press(Key.Key_3, ALT)
    assert len(view.plan.rows) == 22 and view.row is not None
    while view.row is not None:
        scale.weigh(f"{view.row.planned.target_g:.6f}")
    assert len(scale.book.weighings.poured(view.making.key)) == 22
    weighed = {}
    for row in view.plan.rows:
        weighed[row.planned.line] = weighed.get(row.planned.line, 0.0) + row.read_g
    meant = {row.planned.line: row.planned.target_g for row in plan_of(scale.book, scale.book.get(Version, "SR-3"), 5.0).rows}
    total, whole = sum(weighed.values()), sum(meant.values())
    assert all(abs(weighed[line] / total / (meant[line] / whole) - 1) <= 0.05 + 1e-6 for line in meant)


def test_too_little_is_added_to(scale: Scale) -> None:
    scale.press(Key.Key_Return)
    view = scale.page.scale
    scale.weigh("0.030")
    assert "2  Add what is missing" in scale.told()
    scale.press(Key.Key_2, ALT)
    assert view.target.text() == "0.020"
    scale.weigh("0.020")
    assert view.plan.rows[0].read_g == pytest.approx(0.05) and view.row.name == "Wet slate accord"


def test_a_balance_that_was_not_tared_is_noticed(scale: Scale) -> None:
    scale.press(Key.Key_Return)
    view = scale.page.scale
    scale.weigh("0.050")
    scale.weigh("0.750")  # 0.700 of the accord on top of 0.050
    assert "Not tared? Then it is 0.700 g" in scale.told() and len(scale.book.weighings.poured(view.making.key)) == 1
    view._on_link_activated("take:0.7")
    assert scale.book.weighings.poured(view.making.key)[-1].mass_g == 0.7


def test_what_is_typed_twice_is_kept_as_it_was_typed(scale: Scale) -> None:
    scale.press(Key.Key_Return)
    view = scale.page.scale
    scale.weigh("0.050")
    scale.weigh("0.750")
    scale.press(Key.Key_Return)
    assert scale.book.weighings.poured(view.making.key)[-1].mass_g == 0.75
    assert "Leave it so" in scale.told()


def test_stop_at_figures_when_the_balance_runs_on(scale: Scale) -> None:
    scale.page.begin.modes.choose("running total")
    scale.press(Key.Key_Return)
    view = scale.page.scale
    assert view.target.text() == "0.050" and "stop at" in view.caption.text()
    scale.weigh("0.052")
    assert view.target.text() == "0.752"
    scale.weigh("0.051")
    assert "cannot be less" in scale.told()
    view.figure.clear()
    scale.weigh("0.753")
    assert [move.mass_g for move in scale.book.weighings.poured(view.making.key)] == pytest.approx([0.052, 0.701])


def test_by_difference_before_less_after(scale: Scale) -> None:
    scale.page.begin.modes.choose("by difference")
    scale.press(Key.Key_Return)
    view = scale.page.scale
    assert "before − after" in view.caption.text()
    scale.weigh("12.345-12.295")
    scale.weigh("12.0-12.5")
    assert "is not more than after" in scale.told()
    view.figure.clear()
    scale.weigh("0.7")  # the difference itself
    assert [move.mass_g for move in scale.book.weighings.poured(view.making.key)] == pytest.approx([0.05, 0.7])


def test_every_line_says_why_it_stands_there_and_what_to_lay_ready(scale: Scale) -> None:
    page = scale.page.begin
    page.orders.choose("suggested")
    page._show_plan()
    column = page.model.columns[page.model.place_of("name")]
    told = {row.row.name: page.model.tip(row, column) for row in page.model.rows}
    assert "An accord" in told["Wet slate accord"] and "The bulk" in told["Linalool"]
    assert "11 pipettes, 0 boats to lay ready" in page.total.text()


def test_bad_figures_stay_in_the_field_and_say_why(scale: Scale) -> None:
    scale.press(Key.Key_Return)
    view = scale.page.scale
    for text in ("", "-1", "0", "heavy", "1.000,5"):
        view.figure.setText(text)
        view.confirm()
        assert scale.told() and view.figure.text() == text
    assert not scale.book.weighings.poured(view.making.key)


def test_more_than_the_book_says_is_booked_by_name(scale: Scale) -> None:
    scale.book.bottles.discard(scale.book.get(Bottle, "K19").key)
    scale.page.begin.orders.choose("as written")
    scale.page.begin.amount.setText("3")
    scale.page.begin._show_plan()
    scale.page.begin.confirm()
    view = scale.page.scale
    place = next(at for at, row in enumerate(view.plan.rows) if row.name == "Ambroxide")
    view._go_to_row(place)
    scale.weigh("0.095")  # 0.090 left by the book
    assert "There was more" in scale.told()
    view._on_link_activated("more:0.095")
    moves = scale.book.bottles.moves(scale.book.get(Bottle, "K19B").key)
    assert [move.kind for move in moves[-2:]] == ["correction", "pour"] and moves[-1].mass_g == 0.095


def test_a_line_later_put_by_and_given_up(scale: Scale) -> None:
    scale.press(Key.Key_Return)
    view = scale.page.scale
    first = view.row.name
    scale.press(Key.Key_F9)
    assert view.row.name != first and view.plan.rows[-1].name == first
    scale.weigh(f"{view.row.planned.target_g:.3f}")
    scale.press(Key.Key_Escape)
    assert scale.page.stack.currentWidget() is scale.page.begin
    (making,) = scale.book.weighings.unfinished()
    scale.page.weigh(making.key)
    view.give_up.click()
    assert "would go to waste" in scale.told()
    view._on_link_activated("give up:")
    assert not scale.book.weighings.unfinished()
    vial = scale.book.get(Bottle, making.into_bottle)
    assert vial.gone_on is not None and [m.kind for m in scale.book.all(Move, from_bottle=vial.key)] == ["discard"]


def test_models_keep_their_promises(scale: Scale) -> None:
    model = PlanModel(lambda: 0.001)
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    plan = plan_of(scale.book, scale.book.get(Version, "SR-3"), 5.0)
    for rows in (plan.rows, plan.rows[3:], (), tuple(replace(row, bottle=None) for row in plan.rows)):
        model.show_rows(views(rows, None, 0, 0.05))
        assert model.rowCount() == len(rows)
    assert tester.model() is model
    line = scale.book.get(Version, "SR-3").lines[0]
    assert choices_for(scale.book.bottles.rows(), line)[0].bottle.code
    making = scale.book.get(Making, "T-024")
    assert taken_up(scale.book, making).rows == ()  # weighed before plans were kept
