# SPDX-License-Identifier: MIT
"""The list of materials: rows made only for what is shown, quick with 10,000, and where a search was found."""

from dataclasses import replace
from time import perf_counter

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester

from db import MaterialRow
from desktop.models.materials import CaptionRole, KeyRole, MaterialsModel, RetiredRole, fields_found
from perfumery import Material
from perfumery.text import haystack, matches

MANY = 10_000


def _row(key: int, families: tuple[str, ...] = (), **fields) -> MaterialRow:
    material = Material(key=key, **fields)
    return MaterialRow(
        key=key, short=material.short, name=material.name, cas=material.cas, form=material.form, words=material.words,
        hay=haystack(material, families), is_carrier=False, retired=False,
    )  # fmt: skip


ROWS = (
    _row(1, ("conifer",), name="Scots pine needle oil", bench_name="Pine needle oil", cas="8023-99-2",
         form="essential oil", words=("pine", "sharp"), botanical="Pinus sylvestris"),
    _row(2, name="Dihydromyrcenol", cas="18479-58-8", synonyms=("2,6-dimethyloct-7-en-2-ol",)),
    _row(3, name="Vétiver oil", words=("vetiver-like",)),
)  # fmt: skip


@pytest.fixture
def asked():
    return []


@pytest.fixture
def model(qapp, asked):
    def captions(rows):
        asked.extend(row.key for row in rows)
        return [f"caption {row.key}" for row in rows]

    made = MaterialsModel(captions)
    tester = QAbstractItemModelTester(made, QAbstractItemModelTester.FailureReportingMode.Fatal)
    yield made
    del tester


def test_rows_hold_name_caption_and_key(model):
    model.show_rows(ROWS)
    index = model.index(0)
    assert index.data() == "Pine needle oil"
    assert index.data(CaptionRole) == "caption 1"
    assert index.data(KeyRole) == 1 and index.data(RetiredRole) is False
    assert index.data(Qt.ItemDataRole.ToolTipRole) == "Scots pine needle oil"
    assert index.data(Qt.ItemDataRole.AccessibleTextRole) == "Pine needle oil, caption 1"
    assert index.data(Qt.ItemDataRole.DecorationRole) is None
    assert model.data(model.index(-1)) is None
    assert model.place_of(3) == 2 and model.place_of(99) == -1 and model.row_at(1) is ROWS[1]


def test_retired_is_said_in_words(model):
    model.show_rows((replace(ROWS[0], retired=True),))
    assert model.index(0).data(CaptionRole) == "retired · caption 1"
    assert model.index(0).data(RetiredRole) is True


def test_strings_are_made_once_for_a_screen_of_rows(qapp):
    asked = []
    model = MaterialsModel(lambda rows: [asked.append(row.key) or "" for row in rows])
    model.show_rows(ROWS)
    for _ in range(3):
        model.index(1).data(), model.index(1).data(CaptionRole)
    assert asked == [2, 3], "what stands above is not on the screen"
    model.show_rows((*ROWS[1:], replace(ROWS[1], words=("peel",))))
    model.index(0).data(CaptionRole)
    assert asked == [2, 3]
    model.index(2).data(CaptionRole)
    assert asked == [2, 3, 2], "a material that was changed is another row"


def test_forgetting_tells_the_rows_that_change(model, asked):
    model.show_rows(ROWS)
    for place in range(3):
        model.index(place).data()
    told = []
    model.dataChanged.connect(lambda first, last, roles: told.append((first.row(), last.row())))
    model.forget([99])
    assert told == []
    model.forget([2])
    assert told == [(1, 1)]
    asked.clear()
    model.index(0).data(), model.index(1).data()
    assert asked == [2]


@pytest.mark.parametrize(
    "text, field",
    [
        ("needle", ("name",)),
        ("scots", ("name",)),
        ("vetiver oil", ("name",)),
        ("8023-99", ("CAS number",)),
        ("essential", ("form",)),
        ("sharp", ("smell word",)),
        ("conifer", ("smell word",)),
        ("sylvestris", ("synonym",)),
        ("oct-7-en", ("synonym",)),
        ("pine sharp", ("name", "smell word")),
        ("PINE 8023", ("name", "CAS number")),
    ],
)
def test_the_field_that_was_found_is_told(text, field):
    found = [row for row in ROWS if matches(row.hay, text.casefold())]
    assert found and fields_found(found, text) == field


def test_many_rows_stay_quick(model, asked):
    rows = tuple(_row(key, name=f"Material {key} of many", words=("peel",)) for key in range(MANY))
    few = rows[::7]
    # the same walk over all rows in plain Python is the measure: showing rows must not touch each of them
    start = perf_counter()
    sum(len(row.hay) for _ in range(20) for row in rows)
    plain = perf_counter() - start
    asked.clear()
    bare = MaterialsModel(lambda rows: [asked.append(row.key) or "" for row in rows])
    start = perf_counter()
    for _ in range(20):
        bare.show_rows(few)
        bare.show_rows(rows)
    assert perf_counter() - start < plain
    assert asked == []
    start = perf_counter()
    fields_found(rows, "peel")
    assert perf_counter() - start < plain
