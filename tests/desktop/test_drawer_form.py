# SPDX-License-Identifier: MIT
"""The form of a material: everything round trips, what is wrong is said beside its field, nothing typed is lost."""

from datetime import date

import pytest
import shiboken6
from PySide6.QtCore import Qt

from db import Book
from desktop.pages.bench.drawer import MaterialsDrawer
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Bottle, Material, Property, Word

FULL = Material(
    name="Scots pine needle oil", bench_name="Pine needle oil", cas="8023-99-2", form="essential oil (steam)",
    is_carrier=True, inci="Pinus sylvestris leaf oil", botanical="Pinus sylvestris", synonyms=("pine oil", "a, b"),
    words=("pine", "sharp"), retest_months=12, storage="fridge",
    properties=(
        Property("boiling_point_c", value=170.123456789, source="a table", basis="measured"),
        Property("state", text="liquid", basis="from memory"),
        Property("refractive index", value=1.47, source="own", basis="by eye"),
        Property("colour", text="pale yellow"),
    ),
)  # fmt: skip


@pytest.fixture(scope="module")
def theme(qapp):
    return Theme(qapp, "light")


@pytest.fixture
def drawer(qtbot, theme, tmp_path, clock):
    book = Book.create(tmp_path / "form.stillroom", name="Form", clock=clock)
    made = MaterialsDrawer(Session(book, theme, Settings(tmp_path / "settings.ini")))
    made.book = book
    made.resize(212, 760)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close()
    shiboken6.delete(made)
    book.close()


@pytest.fixture
def form(drawer):
    drawer.open_form()
    return drawer.form


def _type(form, **texts):
    for name, text in texts.items():
        form.fields[name].editor.setText(text)


def test_a_material_round_trips_unchanged(drawer):
    (kept,) = drawer.book.put(FULL)
    drawer.book.put(Word(text="pine"), Word(text="sharp"), what="words")
    drawer.open_form(kept.key)
    assert not drawer.form.is_dirty
    changes = []
    drawer.book.on_change(changes.append)
    drawer.form.keep()
    assert changes == [] and drawer.book.get(Material, kept.key) == kept
    assert not drawer.form.isVisible() and drawer.current_key == kept.key


def test_a_new_material_with_its_words_and_bottle_is_one_step(drawer, form):
    _type(form, name="Lemon oil", bench_name="Lemon", cas="8008–56–8", synonyms="Citrus limon peel oil; zest oil",
          retest_months="12", price="0,09", supplier="Supplier A", lot="L1", opened="20 Nov 2024")  # fmt: skip
    form.form.setCurrentText("essential oil")
    form.words.setText("peel, sharp")
    drawer.book.put(Word(text="peel", group="citrus"), what="words")
    form.keep()
    (lemon,) = drawer.book.all(Material)
    assert (lemon.name, lemon.short, lemon.cas, lemon.form) == ("Lemon oil", "Lemon", "8008-56-8", "essential oil")
    assert lemon.synonyms == ("Citrus limon peel oil", "zest oil") and lemon.words == ("peel", "sharp")
    (bottle,) = drawer.book.all(Bottle)
    assert (bottle.material, bottle.kind, bottle.price_per_g) == (lemon.key, "bought", 0.09)
    assert (bottle.supplier, bottle.lot, bottle.opened_on) == ("Supplier A", "L1", date(2024, 11, 20))
    assert drawer.book.get(Word, "sharp") is not None
    assert drawer.book.undo() == "new material Lemon"
    assert [list(drawer.book.all(kind)) for kind in (Material, Bottle)] == [[], []]
    assert [word.text for word in drawer.book.all(Word)] == ["peel"]


def test_a_second_bottle_takes_the_next_code_of_its_material(drawer):
    (kept,) = drawer.book.put(Material(name="Lemon oil"))
    drawer.book.put(Bottle(code="M01-1", material=kept.key))
    drawer.open_form(kept.key)
    assert drawer.form.fields["code"].editor.text() == "M01-2"
    _type(drawer.form, lot="L2", code="M01-1")
    drawer.form.keep()
    assert "M01-1 is taken" in drawer.form.fields["code"].remark.text()
    assert drawer.form.fields["code"].editor.hasFocus()
    _type(drawer.form, code="")
    drawer.form.keep()
    assert "code is missing" in drawer.form.fields["code"].remark.text()
    _type(drawer.form, code="M01-2")
    drawer.form.keep()
    assert [b.code for b in drawer.book.all(Bottle, material=kept.key)] == ["M01-1", "M01-2"]


def test_the_check_digit_is_told_while_typing(qtbot, drawer, form):
    cas = form.fields["cas"]
    cas.editor.setFocus()
    qtbot.keyClicks(cas.editor, "4707-47")
    assert not cas.remark.text().strip()
    qtbot.keyClicks(cas.editor, "-6")
    assert "last digit would be 5" in cas.remark.text() and cas.is_wrong
    qtbot.keyClick(cas.editor, Qt.Key.Key_Backspace)
    qtbot.keyClicks(cas.editor, "5")
    assert not cas.remark.text().strip()


def test_a_wrong_cas_number_is_not_kept_and_nothing_is_lost(drawer, form):
    _type(form, name="Moss ester", cas="4707-47-6", storage="dark")
    form.keep()
    assert list(drawer.book.all(Material)) == [] and form.isVisible()
    assert form.fields["cas"].editor.hasFocus()
    assert form.fields["storage"].editor.text() == "dark"
    _type(form, cas="not known")
    form.keep()
    assert "not the form of a CAS number" in form.fields["cas"].remark.text()
    _type(form, cas="")
    form.keep()
    assert [m.name for m in drawer.book.all(Material)] == ["Moss ester"]


def test_the_same_cas_number_is_told_and_allowed(drawer):
    drawer.book.put(Material(name="Linalool", cas="78-70-6"))
    drawer.open_form()
    _type(drawer.form, name="Linalool, natural", cas="78-70-6")
    drawer.form.fields["cas"].editor.editingFinished.emit()
    assert drawer.form.fields["cas"].remark.text() == "Linalool has the same number."
    assert not drawer.form.fields["cas"].is_wrong
    drawer.form.keep()
    assert len(list(drawer.book.all(Material, cas="78-70-6"))) == 2


@pytest.mark.parametrize(
    "name, text, said",
    [
        ("name", "", "name is missing"),
        ("bench_name", "x" * 25, "25 letters"),
        ("retest_months", "1.5", "not a number"),
        ("retest_months", "many", "not a number"),
        ("price", "1.000,5", "marks for thousands"),
        ("price", "-1", "0 or more"),
        ("retest_months", "1000000", "from 0 to 1200"),
        ("opened", "soon", "cannot be read as a day"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(drawer, form, name, text, said):
    _type(form, **({"name": "Lemon oil"} | {name: text}))
    form.keep()
    assert said in form.fields[name].remark.text() and form.fields[name].remark.isVisible()
    assert form.fields[name].editor.hasFocus()
    assert list(drawer.book.all(Material)) == []


def test_a_bench_name_alone_is_name_enough(drawer, form):
    _type(form, bench_name="Lemon")
    form.keep()
    assert [m.name for m in drawer.book.all(Material)] == ["Lemon"]


def test_physical_data_are_added_changed_and_taken_out(drawer):
    (kept,) = drawer.book.put(FULL)
    drawer.open_form(kept.key)
    form = drawer.form
    boiling, state, index, colour = form.data.rows
    state.remove.click()
    boiling.value.setText("171,5")
    boiling.basis.setCurrentText("estimated")
    boiling.source.setText("own")
    index.value.setText("")
    colour.value.setText("2 shades")
    form.data.add.click()
    added = form.data.rows[-1]
    assert added.kind.currentData() == "note class"
    added.value.setText("top")
    form.keep()
    assert drawer.book.get(Material, kept.key).properties == (
        Property("boiling_point_c", value=171.5, source="own", basis="estimated"),
        Property("colour", text="2 shades"),
        Property("note class", text="top"),
    )


def test_a_datum_that_is_no_figure_is_said_beside_it(drawer):
    (kept,) = drawer.book.put(FULL)
    drawer.open_form(kept.key)
    row = drawer.form.data.rows[0]
    row.value.setText("hot")
    drawer.form.keep()
    assert "“hot” is not a number" in row.field.remark.text() and row.field.remark.isVisible()
    assert row.value.hasFocus() and drawer.book.get(Material, kept.key) == kept


def test_what_was_typed_waits_behind_the_list(qtbot, drawer, form):
    (other,) = drawer.book.put(Material(name="Lemon oil"))
    _type(form, name="Pine oil")
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    assert not form.isVisible() and drawer.unfinished.isVisible()
    assert "Pine oil" in drawer.unfinished.text()
    drawer.choose(other.key)
    drawer.open_form(other.key)
    assert form.fields["name"].editor.text() == "Pine oil"
    assert "not kept yet" in drawer.form_note.text() and drawer.form_note.isVisible()
    form.discard_button.click()
    assert not drawer.unfinished.isVisible()
    drawer.open_form(other.key)
    assert form.fields["name"].editor.text() == "Lemon oil" and not drawer.form_note.isVisible()


def test_a_look_into_the_form_leaves_nothing_unfinished(drawer, form):
    form.back_button.click()
    assert not form.isVisible() and not drawer.unfinished.isVisible()


def test_what_the_book_refuses_stays_in_the_form(drawer, form, monkeypatch):
    from db import DiskFull

    def full(*values, what):
        raise DiskFull(drawer.book.path, "no room")

    monkeypatch.setattr(drawer.book, "put", full)
    _type(form, name="Lemon oil")
    form.keep()
    assert form.isVisible() and form.fields["name"].editor.text() == "Lemon oil" and form.is_dirty


def test_enter_keeps(qtbot, drawer, form):
    qtbot.keyClicks(form.fields["name"].editor, "Lemon oil")
    qtbot.keyClick(form.fields["name"].editor, Qt.Key.Key_Return)
    assert [m.name for m in drawer.book.all(Material)] == ["Lemon oil"]
    assert drawer.list.hasFocus() and drawer.current_key is not None
