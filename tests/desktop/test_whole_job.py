# SPDX-License-Identifier: MIT
"""The whole job once, by keyboard, in the real window: an idea typed and pasted as a formula, a trial, a strip read for a day.

Every key goes where the focus is; the clock is the test's own. At the end the file alone is read again.
"""

from datetime import timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from db import Book
from desktop.figures import THIN
from perfumery import Making, Material, Project, Reading, Strip, Version, compose
from perfumery import series as series_of
from perfumery.smelling import due_points

Key = Qt.Key
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
PASTED = """material	strength	parts
linalyl acetate		40,5
rain note (own base)		12
vanillin	10 % in dipropylene glycol	8
"""


def test_from_an_idea_to_curves_by_keyboard(hand, tmp_path: Path) -> None:
    app = hand.app

    # a book, a project, its first version
    hand.type("Quarry")
    hand.press(Key.Key_Return)
    assert app.book.name == "Quarry" and len(app.book.material_rows()) > 100
    hand.press(Key.Key_Space)
    hand.type("Slate Rain")
    hand.press(Key.Key_Return)
    assert app.session.project.code == "SR" and hand.version.code == "SR-1"

    # lines typed into one cell; a solid asks for its strength
    hand.line("linalool 110")
    hand.line("methyl dihydrojasmonate 200")
    hand.press(Key.Key_L, CTRL)
    hand.type("ambrox 20")
    hand.press(Key.Key_Return)
    editor = QApplication.focusWidget()
    assert "is solid: type the strength" in editor.question and len(hand.version.lines) == 2
    hand.type("10")  # the cursor waits where the answer goes
    hand.press(Key.Key_Return)
    named = {app.book.get(Material, line.material).short.casefold(): line for line in hand.version.lines}
    assert {line.parts for line in named.values()} == {110, 200, 20}
    (ambroxide,) = (line for line in hand.version.lines if line.parts == 20)
    assert ambroxide.strength == 0.1 and app.book.get(Material, ambroxide.carrier).name.casefold().startswith("ethanol")

    # rows from a spreadsheet, one of them a material the book has not got
    QApplication.clipboard().setText(PASTED)
    hand.press(Key.Key_V, CTRL)
    formula = app.window.bench.formula
    assert formula.stack.currentWidget() is formula.paste
    assert app.book.get(Material, "rain note (own base)") is None
    assert "New on the shelf: rain note (own base)" in formula.paste.told.text()
    hand.press(Key.Key_Return, CTRL)
    hand.qtbot.waitUntil(lambda: len(hand.version.lines) == 6)
    assert app.book.get(Material, "rain note (own base)") is not None
    assert {line.parts for line in hand.version.lines} >= {40.5, 12, 8}

    # the rest filled up with ethanol, and one figure changed: everything moves at once
    hand.line("ethanol 1")
    hand.press(Key.Key_Escape)
    hand.to_cell("Ethanol", "parts")
    hand.press(Key.Key_U, CTRL)
    assert hand.cell("Ethanol", "parts") == "609.5" and hand.cell("Linalool", "share") == "11.00"
    assert hand.cell("Linalool", "grams") == "0.550"
    hand.figures_follow()
    hand.to_cell("Linalool", "parts")
    hand.type("120")
    hand.press(Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.cell("Linalool", "share") == "12.00")
    assert hand.cell("Ethanol", "parts") == "599.5" and hand.cell("Linalool", "grams") == "0.600"
    worked = compose(hand.version, app.book.shelf(hand.version), 5.0)
    hand.figures_follow()
    assert worked.total_parts == 1000 and worked.neat_parts == pytest.approx(120 + 200 + 2 + 40.5 + 12 + 0.8)
    hand.press(Key.Key_Z, CTRL)
    assert hand.cell("Linalool", "share") == "11.00" and hand.cell("Ethanol", "parts") == "609.5"
    hand.press(Key.Key_Z, CTRL | SHIFT)
    assert hand.cell("Linalool", "share") == "12.00"

    # a trial freezes it; the next edit makes a draft child, which one undo takes away whole
    hand.press(Key.Key_T, CTRL)
    hand.press(Key.Key_Return)
    (trial,) = app.book.all(Making, kind="trial")
    first = hand.version
    assert trial.code == "T-001" and first.is_frozen
    hand.to_cell("Linalool", "parts")
    hand.type("90")
    hand.press(Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.version.code == "SR-2")
    hand.press(Key.Key_Z, CTRL)
    assert hand.version.code == "SR-1" and app.book.get(Version, "SR-2") is None
    hand.press(Key.Key_Z, CTRL | SHIFT)
    assert hand.version.code == "SR-2" and app.book.get(Version, "SR-1") == first
    assert hand.version.parent == first.key and not hand.version.is_frozen
    assert hand.cell("Linalool", "share") == "9.00"

    # its trial wants a reason first, and takes one on the spot
    hand.press(Key.Key_T, CTRL)
    hand.press(Key.Key_Return)
    assert not hand.version.is_frozen and QApplication.focusWidget() is formula.head.reason
    hand.type("less sharp at the top")
    hand.press(Key.Key_Return)
    hand.press(Key.Key_T, CTRL)
    hand.press(Key.Key_Return)
    assert hand.version.is_frozen and hand.version.reason == "less sharp at the top"
    assert [m.code for m in app.book.all(Making, kind="trial")] == ["T-001", "T-002"]

    # a strip of it, read at the strip's own times, one of them late
    hand.press(Key.Key_D, CTRL)
    hand.press(Key.Key_Return)
    (strip,) = app.book.all(Strip)
    assert strip.code == "P01" and strip.dipped_at == hand.clock()
    assert app.book.origin(strip.bottle).version.key == hand.version.key
    reads = [
        ({"minutes": 2}, "5", "35", "3", "peel", "loud"),
        ({"minutes": 13}, "4,5", "30", "3", "peel", ""),
        ({"minutes": 45}, "4", "20", "1", "peel", ""),
        ({"hours": 3, "minutes": 41}, "3", "", "-1", "woody", "calmer"),
        ({"hours": 19, "minutes": 25}, "1,5", "5", "2", "ambery 2", ""),
    ]
    strips = app.window.bench.strips
    for time, intensity, distance, liking, words, note in reads:
        hand.wait(**time)
        assert strips.chosen.state == ("late" if "minutes" in time and time["minutes"] == 41 else "due")
        hand.press(Key.Key_R, CTRL)
        if intensity == "5":
            hand.type("9")
            hand.press(Key.Key_Return)
            assert "Off the scale" in strips.reading.intensity.accessibleDescription()
            assert QApplication.focusWidget() is strips.reading.intensity
        for text in (intensity, distance, liking, words):
            hand.type(text)
            hand.press(Key.Key_Return)
        hand.press(Key.Key_Return)  # no further word
        hand.type(note)
        hand.press(Key.Key_Return, CTRL)
    kept = sorted(app.book.all(Reading), key=lambda r: r.at)
    found = [(r.intensity, r.distance_cm, r.liking) for r in kept]
    assert found == [(5, 35, 3), (4.5, 30, 3), (4, 20, 1), (3, None, -1), (1.5, 5, 2)]
    assert [dict(r.words) for r in kept] == [{"peel": 1}, {"peel": 1}, {"peel": 1}, {"woody": 1}, {"ambery": 2}]
    assert [r.note for r in kept] == ["loud", "", "", "calmer", ""]

    # the curve stands at the true times, not at the due ones; what was late and what was missed is said
    true_min = (2, 15, 60, 4 * 60 + 41, 24 * 60 + 6)
    assert [r.at - strip.dipped_at for r in kept] == [timedelta(minutes=m) for m in true_min]
    assert [r.due_s for r in kept] == [120, 900, 3600, 4 * 3600, 24 * 3600]
    (curve,) = strips.curves.curves
    assert curve.series == series_of(kept, strip)
    assert [h * 60 for h, _ in curve.series] == pytest.approx(true_min)
    assert [i for _, i in curve.series] == [5, 4.5, 4, 3, 1.5]
    assert curve.words == (("peel",), ("peel",), ("peel",), ("woody",), ("ambery",))
    points = due_points(strip, kept, hand.clock())
    assert [p.due_s for p in points if p.late] == [4 * 3600]
    assert [p.due_s for p in points if p.state == "missed"] == [1800, 7200, 8 * 3600]
    log = strips.log.model
    marks = [log.cell(at, log.place_of("mark")).replace(THIN, " ") for at in range(log.rowCount())]
    assert marks == ["", "", "missed", "", "missed", "41 min late", "missed", ""]

    # the window closed, the file alone still holds it
    path, second = app.book.path, hand.version
    app.window.close()
    assert app.book is None
    with Book.open(path, hand.clock) as book:
        assert book.check() == ()
        (project,) = book.all(Project)
        assert project.name == "Slate Rain"
        assert book.get(Version, "SR-1") == first and first.frozen_at == trial.started_at
        assert book.get(Version, "SR-2") == second
        assert book.get(Material, "rain note (own base)") is not None
        assert book.strips(project.key) == (strip,)
        assert book.readings((strip.key,))[strip.key] == tuple(kept)


def test_a_reading_takes_few_keys(hand) -> None:
    """Intensity, liking and one word, from opening the row to kept: as quick as a pencil."""
    app = hand.app
    hand.type("Q")
    hand.press(Key.Key_Return)
    hand.press(Key.Key_Space)
    hand.type("Slate Rain")
    hand.press(Key.Key_Return)
    hand.line("linalool 110")
    hand.press(Key.Key_T, CTRL)
    hand.press(Key.Key_Return)
    hand.press(Key.Key_D, CTRL)
    hand.press(Key.Key_Return)
    hand.wait(minutes=2)
    hand.pressed = 0
    hand.press(Key.Key_R, CTRL)
    hand.type("5")
    hand.press(Key.Key_Return)
    hand.press(Key.Key_Return)
    hand.type("3")
    hand.press(Key.Key_Return)
    hand.type("pe")
    hand.press(Key.Key_Return, CTRL)
    (kept,) = app.book.all(Reading)
    assert (kept.intensity, kept.liking, len(kept.words)) == (5, 3, 1)
    assert hand.pressed <= 12
