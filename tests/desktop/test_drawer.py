# SPDX-License-Identifier: MIT
"""The drawer of materials by keyboard and mouse: search, add to the formula, card, notes, retiring, folding."""

from dataclasses import dataclass, field

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QApplication

from db import Book
from desktop import led
from desktop.long_work import LongWork
from desktop.models.materials import CaptionRole
from desktop.pages.bench.card import USES_MOST
from desktop.pages.bench.drawer import RETIRED, STARTER_TEXTS, MaterialsDrawer
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Bottle, Line, Material, Move, Note, Project, Property, Version, Word


@dataclass
class Bench:
    book: Book
    session: Session
    drawer: MaterialsDrawer
    keys: dict[str, int]
    picked: list[int] = field(default_factory=list)
    said: list[tuple[str, str]] = field(default_factory=list)

    def shown(self) -> list[str]:
        model = self.drawer.model
        return [model.index(place).data() for place in range(model.rowCount())]


def _fill(book: Book) -> dict[str, int]:
    keys = {name: book.new_key() for name in ("pine", "fir", "juniper", "lemon", "dhm", "dpg", "project", "v1", "v2")}
    book.put(
        *(Word(text=text, group=group) for text, group in
          (("pine", "conifer"), ("fir", "conifer"), ("resin", "conifer"), ("peel", "citrus"), ("sharp", ""))),
        Material(key=keys["pine"], name="Scots pine needle oil", bench_name="Pine needle oil", cas="8023-99-2",
                 form="essential oil", botanical="Pinus sylvestris", words=("pine", "sharp"), retest_months=6,
                 properties=(Property("boiling_point_c", value=170.0, basis="from memory"),
                             Property("vapour_pressure_pa", value=300.0, source="a table", basis="estimated"))),
        Material(key=keys["fir"], name="Isobornyl acetate", cas="125-12-2", words=("fir",)),
        Material(key=keys["juniper"], name="Juniper berry oil", form="essential oil", words=("resin",)),
        Material(key=keys["lemon"], name="Lemon oil", cas="8008-56-8", form="essential oil", words=("peel",)),
        Material(key=keys["dhm"], name="Dihydromyrcenol", synonyms=("2,6-dimethyloct-7-en-2-ol",)),
        Material(key=keys["dpg"], name="Dipropylene glycol", form="solvent", is_carrier=True),
        what="materials",
    )  # fmt: skip
    bottle = book.new_key()
    book.put(Bottle(key=bottle, code="M05-1", material=keys["pine"], opened_on="2024-10-05", place="F-4",
                    price_per_g=0.18))  # fmt: skip
    book.put(Move(at=book.now(), kind="received", mass_g=7.75, to_bottle=bottle))
    rest = Line(parts=955, material=keys["dhm"])
    book.put(
        Project(key=keys["project"], code="SR"),
        Version(key=keys["v1"], project=keys["project"], code="SR-1",
                lines=(Line(parts=45, material=keys["pine"]), rest)),
        Version(key=keys["v2"], project=keys["project"], code="SR-2", parent=keys["v1"],
                lines=(Line(parts=45, material=keys["pine"], strength=0.1, carrier=keys["dpg"]), rest)),
        what="versions",
    )  # fmt: skip
    return keys


@pytest.fixture(scope="module")
def theme(qapp):
    return Theme(qapp, "light")


@pytest.fixture
def empty(qtbot, theme, tmp_path, clock):
    book = Book.create(tmp_path / "drawer.stillroom", name="Drawer", clock=clock)
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    drawer = MaterialsDrawer(session)
    tester = QAbstractItemModelTester(drawer.model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    made = Bench(book, session, drawer, {})
    drawer.material_picked.connect(made.picked.append)
    session.said.connect(lambda text, tone: made.said.append((text, tone)))
    drawer.resize(212, 760)
    yield made
    del tester
    # not left to qtbot: a drawer that lives on would be styled again and again, and would ask a closed book
    drawer.close()
    shiboken6.delete(drawer)
    book.close()


@pytest.fixture
def bench(qtbot, empty):
    empty.keys = _fill(empty.book)
    empty.drawer.show()
    qtbot.waitExposed(empty.drawer)
    return empty


@pytest.mark.parametrize(
    "text, names, count",
    [
        ("conifer", ["Isobornyl acetate", "Juniper berry oil", "Pine needle oil"], "3 of 6 · smell word"),
        ("myrcenol", ["Dihydromyrcenol"], "1 of 6 · name"),
        ("oct-7-en", ["Dihydromyrcenol"], "1 of 6 · synonym"),
        ("125-12", ["Isobornyl acetate"], "1 of 6 · CAS number"),
        ("solvent", ["Dipropylene glycol"], "1 of 6 · form"),
        ("peel", ["Lemon oil"], "1 of 6 · smell word"),
        ("oil conifer", ["Juniper berry oil", "Pine needle oil"], "2 of 6 · name, smell word"),
        ("sylvestris", ["Pine needle oil"], "1 of 6 · synonym"),
        ("", ["Dihydromyrcenol", "Dipropylene glycol", "Isobornyl acetate", "Juniper berry oil", "Lemon oil",
              "Pine needle oil"], "6 materials"),
    ],
)  # fmt: skip
def test_search_finds_and_says_where(bench, text, names, count):
    bench.drawer.search.setText(text)
    assert bench.shown() == names
    assert bench.drawer.count.text() == count


def test_a_search_without_finds_says_so_and_gives_its_name_to_a_new_one(bench):
    bench.drawer.search.setText("geosmin")
    assert "“geosmin”" in bench.drawer.nothing_text.text() and bench.drawer.nothing_text.isVisible()
    assert not bench.drawer.list.isVisible()
    bench.drawer.new_button.click()
    assert bench.drawer.form.isVisible()
    assert bench.drawer.form.unfinished == "geosmin"


def test_from_typing_to_the_formula_by_keys_alone(qtbot, bench):
    search, rows = bench.drawer.search, bench.drawer.list
    search.setFocus()
    qtbot.keyClicks(search, "conifer")
    qtbot.keyClick(search, Qt.Key.Key_Return)
    assert bench.picked == [bench.keys["fir"]]
    qtbot.keyClick(search, Qt.Key.Key_Down)
    assert QApplication.focusWidget() is rows
    qtbot.keyClick(rows, Qt.Key.Key_Down)
    qtbot.keyClick(rows, Qt.Key.Key_Return)
    assert bench.picked[1:] == [bench.keys["juniper"]]
    qtbot.keyClick(rows, Qt.Key.Key_Up)
    qtbot.keyClick(rows, Qt.Key.Key_Up)
    assert QApplication.focusWidget() is search


def test_typing_in_the_list_goes_to_the_search(qtbot, bench):
    search, rows = bench.drawer.search, bench.drawer.list
    search.setFocus()
    qtbot.keyClick(search, Qt.Key.Key_Down)
    qtbot.keyClick(rows, "p")
    assert search.text() == "p" and QApplication.focusWidget() is search
    qtbot.keyClicks(search, "in")
    qtbot.keyClick(search, Qt.Key.Key_Down)
    qtbot.keyClick(rows, Qt.Key.Key_Backspace)
    assert search.text() == "pi"
    qtbot.keyClick(search, Qt.Key.Key_Down)
    qtbot.keyClick(rows, "x", Qt.KeyboardModifier.ControlModifier)
    assert search.text() == "pi"
    qtbot.keyClick(rows, Qt.Key.Key_Escape)
    assert search.text() == "" and QApplication.focusWidget() is search
    qtbot.keyClicks(search, "lem")
    qtbot.keyClick(search, Qt.Key.Key_Escape)
    assert search.text() == ""


def test_ctrl_enter_opens_the_form_of_the_chosen_one(qtbot, bench):
    bench.drawer.choose(bench.keys["lemon"])
    bench.drawer.list.setFocus()
    qtbot.keyClick(bench.drawer.list, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert bench.drawer.form.isVisible() and bench.drawer.form.unfinished == "Lemon oil"
    assert bench.picked == []


def test_caption_says_place_what_is_left_and_words(bench):
    bench.drawer.search.setText("pine")
    assert bench.drawer.model.index(0).data(CaptionRole) == "F-4 · 7.75\u2009g · pine, sharp"
    bench.drawer.search.setText("dihydro")
    assert bench.drawer.model.index(0).data(CaptionRole) == "liquid"


def test_caption_follows_the_ledger(bench):
    bottle = bench.book.get(Bottle, "M05-1")
    bench.drawer.search.setText("pine")
    bench.book.put(Move(at=bench.book.now(), kind="spill", mass_g=0.75, from_bottle=bottle.key))
    assert "7.00\u2009g" in bench.drawer.model.index(0).data(CaptionRole)
    assert "7.00\u2009g left" in bench.drawer.card.bottles.text()


def test_card_shows_the_material_its_bottles_and_its_uses(bench):
    bench.drawer.choose(bench.keys["pine"])
    card = bench.drawer.card
    assert "Scots pine needle oil" in card.name.text()
    assert "Pinus sylvestris · 8023-99-2" in card.identity.text() and "pine, sharp" in card.identity.text()
    bottles = card.bottles.text()
    assert "M05-1" in bottles and "opened 5&nbsp;Oct&nbsp;2024" in bottles and "0.1800\u2009€/g" in bottles
    # six months after opening is past on 10 April 2025
    assert "re-test due since 5&nbsp;Apr" in bottles
    uses = card.uses.text()
    assert uses.index("SR-2") < uses.index("SR-1")
    assert "SR-1</a>&nbsp;45.00" in uses and "SR-2</a>&nbsp;4.500" in uses
    assert "170" not in card.data.text() and "physical data (2)" in card.data.text()
    card.data.linkActivated.emit("data:fold")
    assert "170\u2009°C" in card.data.text() and "from memory" in card.data.text()
    assert "estimated · a table" in card.data.text()


def test_a_use_leads_to_its_version(bench):
    bench.drawer.choose(bench.keys["pine"])
    bench.drawer.card.uses.linkActivated.emit(f"version:{bench.keys['v1']}")
    assert bench.session.version_key == bench.keys["v1"]
    assert bench.session.project_key == bench.keys["project"]


def test_a_carrier_is_not_said_to_be_unused(bench):
    """A line of SR-2 is diluted in it."""
    bench.drawer.choose(bench.keys["dpg"])
    assert "SR-2" in bench.drawer.card.uses.text()
    bench.drawer.card.retire_button.click()
    assert "used in SR-2" in bench.drawer.retire_text.text()
    bench.drawer.choose(bench.keys["fir"])
    assert "in no formula yet" in bench.drawer.card.uses.text()


def test_a_long_list_of_versions_is_cut_and_opens(bench):
    more = tuple(
        Version(project=bench.keys["project"], code=f"SR-{n}", lines=(Line(parts=1, material=bench.keys["lemon"]),))
        for n in range(3, 15)
    )
    bench.book.put(*more)
    bench.drawer.choose(bench.keys["lemon"])
    card = bench.drawer.card
    assert "and 4 earlier" in card.uses.text() and "SR-3<" not in card.uses.text()
    card.uses.linkActivated.emit("uses:all")
    assert "SR-3<" in card.uses.text()


def test_of_very_many_versions_the_newest_are_shown_and_the_retiring_counts_all(bench):
    more = tuple(
        Version(project=bench.keys["project"], code=f"X-{n}", lines=(Line(parts=1, material=bench.keys["lemon"]),))
        for n in range(1, USES_MOST + 3)
    )
    bench.book.put(*more)
    bench.drawer.choose(bench.keys["lemon"])
    card = bench.drawer.card
    card.uses.linkActivated.emit("uses:all")
    assert "X-3<" in card.uses.text() and "X-2<" not in card.uses.text()
    assert "and 2 earlier: Compare › where used has all of them" in card.uses.text()
    card.retire_button.click()
    said = bench.drawer.retire_text.text()
    assert "is used in X-102, X-101, X-100 and 99 others, which keep it." in said and said.endswith("still finds it.")


def test_uses_that_are_long_to_read_come_when_they_are_there(bench, qtbot, monkeypatch):
    work = LongWork()
    monkeypatch.setattr(bench.session, "work", work)
    monkeypatch.setattr(led, "AT_ONCE_S", -1.0)
    bench.drawer.choose(bench.keys["pine"])
    assert "still being read" in bench.drawer.card.uses.text()
    bench.drawer.card.retire_button.click()
    assert bench.drawer.retire_text.text() == RETIRED
    qtbot.waitUntil(lambda: work.is_idle)
    assert "SR-1</a>" in bench.drawer.card.uses.text()
    assert "is used in SR-2 and SR-1" in bench.drawer.retire_text.text()


def test_a_note_is_added_and_corrected_and_the_earlier_wording_stays(qtbot, bench, clock):
    bench.drawer.choose(bench.keys["pine"])
    notes = bench.drawer.card.notes
    notes.label.linkActivated.emit("add:fresh")
    assert notes.text.hasFocus()
    qtbot.keyClicks(notes.text, "Sharp resin.")
    qtbot.keyClick(notes.text, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    (first,) = bench.book.all(Note, material=bench.keys["pine"])
    assert (first.text, first.stage, first.at) == ("Sharp resin.", "fresh", clock())
    assert not notes.text.isVisible() and not bench.drawer.form.isVisible()
    assert "<b>fresh:</b> Sharp resin." in notes.label.text() and "10&nbsp;Apr" in notes.label.text()
    assert "earlier wording" not in notes.label.text()
    clock.tick(days=1)
    notes.label.linkActivated.emit(f"correct:{first.key}")
    assert notes.text.toPlainText() == "Sharp resin."
    notes.text.setPlainText("Sharp resin, a little lime.")
    notes.keep_button.click()
    (second,) = bench.book.all(Note, material=bench.keys["pine"])
    assert second.text == "Sharp resin, a little lime." and second.replaces == first.key
    assert "Sharp resin.<" not in notes.label.text()
    notes.label.linkActivated.emit(f"earlier:{second.key}")
    assert "Sharp resin.<" in notes.label.text()
    assert bench.book.history(second.key) == (first,)


def test_notes_stand_in_the_order_of_their_stages(bench):
    for stage in ("next day", "", "1 h", "fresh"):
        bench.book.put(Note(text=f"text {stage or 'any'}", material=bench.keys["fir"], stage=stage))
    bench.drawer.choose(bench.keys["fir"])
    shown = bench.drawer.card.notes.label.text()
    places = [shown.index(f"text {stage}") for stage in ("fresh", "1 h", "next day", "any")]
    assert places == sorted(places)


def test_a_started_note_waits_with_its_material(qtbot, bench):
    notes = bench.drawer.card.notes
    bench.drawer.choose(bench.keys["pine"])
    notes.write("1 h")
    qtbot.keyClicks(notes.text, "softer")
    bench.drawer.choose(bench.keys["fir"])
    assert not notes.text.isVisible()
    bench.drawer.choose(bench.keys["pine"])
    assert notes.text.isVisible() and notes.text.toPlainText() == "softer"
    qtbot.keyClick(notes.text, Qt.Key.Key_Escape)
    assert not notes.text.isVisible()
    bench.drawer.choose(bench.keys["fir"])
    bench.drawer.choose(bench.keys["pine"])
    assert not notes.text.isVisible()
    assert list(bench.book.all(Note, material=bench.keys["pine"])) == []


def test_an_edit_elsewhere_leaves_a_started_note_alone(qtbot, bench):
    bench.drawer.choose(bench.keys["pine"])
    notes = bench.drawer.card.notes
    notes.write("1 h")
    qtbot.keyClicks(notes.text, "softer")
    bench.book.put(Material(name="Geosmin"))
    assert notes.text.isVisible() and notes.text.toPlainText() == "softer"


def test_retiring_says_where_it_is_used_and_can_be_left(bench):
    bench.drawer.choose(bench.keys["pine"])
    bench.drawer.card.retire_button.click()
    said = bench.drawer.retire_text.text()
    assert "Pine needle oil is used in SR-2 and SR-1" in said and bench.drawer.retire_text.isVisible()
    bench.drawer.spare_button.click()
    assert not bench.drawer.retire_text.isVisible()
    assert bench.book.get(Material, bench.keys["pine"]).retired_on is None


def test_a_retired_one_is_found_greyed_and_comes_back(bench, clock, qtbot):
    drawer = bench.drawer
    drawer.choose(bench.keys["pine"])
    drawer.card.retire_button.click()
    drawer.retire_button.click()
    assert bench.book.get(Material, bench.keys["pine"]).retired_on == clock().date()
    assert "Pine needle oil" not in bench.shown() and drawer.count.text() == "5 materials"
    drawer.search.setText("scots pine")
    assert bench.shown() == ["Pine needle oil"]
    assert drawer.model.index(0).data(CaptionRole).startswith("retired · ")
    drawer.list.taken.emit()
    assert bench.picked == []
    qtbot.waitUntil(lambda: "retired 10 Apr" in drawer.card.identity.text())  # the card waits for a pause in typing
    assert not drawer.card.add_button.isVisible()
    drawer.card.retire_button.click()
    assert bench.book.get(Material, bench.keys["pine"]).retired_on is None
    assert drawer.card.add_button.isVisible()


def test_going_to_another_row_takes_the_question_back(bench):
    bench.drawer.choose(bench.keys["lemon"])
    bench.drawer.retire_action.trigger()
    assert "used in no formula" in bench.drawer.retire_text.text()
    bench.drawer.choose(bench.keys["pine"])
    assert not bench.drawer.retire_text.isVisible()


def test_an_empty_book_offers_the_starter_list_and_a_new_material(qtbot, empty):
    drawer = empty.drawer
    drawer.show()
    assert drawer.empty_text.isVisible() and drawer.first_button.isVisible()
    assert not drawer.list.isVisible() and not drawer.count.isVisible()
    drawer.resize(400, 760)
    assert drawer.starter_button.text() == STARTER_TEXTS[0]
    drawer.resize(212, 760)
    assert drawer.starter_button.text() == STARTER_TEXTS[1]
    drawer.starter_button.click()
    assert drawer.count.text() == "182 materials" and not drawer.empty_text.isVisible()
    assert empty.said[-1][1] == "done"
    drawer.search.setText("myrcenol")
    assert empty.shown() == ["Dihydromyrcenol"]
    empty.session.undo()
    assert drawer.empty_text.isVisible()


def test_smelling_folds_to_the_search_field(bench):
    drawer = bench.drawer
    drawer.choose(bench.keys["pine"])
    drawer.set_mode("smelling")
    assert drawer.search.isVisible()
    assert not any(part.isVisible() for part in (drawer.list, drawer.card, drawer.count, drawer.new_button))
    drawer.search.setText("lemon")
    assert drawer.list.isVisible() and not drawer.card.isVisible()
    drawer.list.taken.emit()
    assert bench.picked == [bench.keys["lemon"]]
    drawer.search.clear()
    assert not drawer.list.isVisible()
    drawer.set_mode("composing")
    assert drawer.list.isVisible() and drawer.count.isVisible()


def test_the_card_stands_below_or_beside(bench):
    assert bench.drawer.split.orientation() == Qt.Orientation.Vertical
    bench.drawer.resize(700, 600)
    assert bench.drawer.split.orientation() == Qt.Orientation.Horizontal


def test_a_hidden_drawer_waits_and_then_is_right(bench):
    bench.drawer.hide()
    bench.book.put(Material(name="Geosmin"))
    assert "Geosmin" not in bench.shown()
    bench.drawer.show()
    assert "Geosmin" in bench.shown() and bench.drawer.count.text() == "7 materials"


def test_the_chosen_row_outlives_an_edit(bench):
    bench.drawer.choose(bench.keys["lemon"])
    bench.book.put(Material(name="Aldehyde"))
    assert bench.drawer.current_key == bench.keys["lemon"]
    assert bench.drawer.card.key == bench.keys["lemon"]


def test_choosing_one_that_the_search_hides_finds_it(bench):
    bench.drawer.search.setText("conifer")
    bench.drawer.choose(bench.keys["lemon"])
    assert bench.drawer.current_key == bench.keys["lemon"] and bench.shown() == ["Lemon oil"]


def test_actions_have_words_and_follow_the_choice(bench):
    drawer = bench.drawer
    assert [action.text() for action in drawer.actions()][:2] == ["Find a material", "New material"]
    drawer.search.setText("zzz")
    assert not drawer.edit_action.isEnabled() and drawer.new_action.isEnabled()
    drawer.search.setText("lemon")
    assert drawer.edit_action.isEnabled()
    drawer.add_action.trigger()
    assert bench.picked == [bench.keys["lemon"]]
    drawer.find_action.trigger()
    assert QApplication.focusWidget() is drawer.search


def test_every_control_has_a_name_to_be_read_out(bench):
    drawer = bench.drawer
    drawer.choose(bench.keys["pine"])
    drawer.card.notes.write("fresh")
    seen = _read_out(drawer)
    drawer.open_form(bench.keys["pine"])
    for name in ("data", "bottle"):
        drawer.form._fold(name, False)
    seen |= _read_out(drawer)
    assert {"Find a material", "Materials", "Note, fresh", "CAS number", "Figure, boils at", "Source, boils at"} <= seen
    assert "" not in seen


def _read_out(drawer):
    """What a screen reader calls each control that Tab reaches."""
    names, at = set(), drawer.search
    for _ in range(200):
        at = at.nextInFocusChain()
        if at.isVisible() and at.focusPolicy() & Qt.FocusPolicy.TabFocus and drawer.isAncestorOf(at):
            names.add(at.accessibleName() or getattr(at, "text", str)())
        if at is drawer.search:
            break
    return names


@pytest.mark.parametrize("name", ["light", "dark"])
def test_it_is_drawn_in_both_themes(bench, name):
    bench.drawer.choose(bench.keys["pine"])
    bench.session.theme.choose(name)
    bench.drawer.list.setFocus()
    picture = bench.drawer.grab().toImage()
    chosen = bench.session.theme.colour("chosen")
    place = bench.drawer.list.visualRect(bench.drawer.list.currentIndex())
    corner = bench.drawer.list.mapTo(bench.drawer, place.topRight())
    assert picture.pixelColor(corner.x() - 4, corner.y() + 3) == chosen
    assert bench.session.theme.token("juniper") in bench.drawer.card.uses.text()
    bench.session.theme.choose("light")


def test_the_count_is_its_figure_where_the_word_has_no_room(bench):
    count = bench.drawer.count
    QApplication.processEvents()
    assert count.text() == count.drawn == "6 materials"
    count.resize(count.fontMetrics().horizontalAdvance("6 mat"), count.height())
    assert count.drawn == "6" and count.toolTip() == "6 materials"
