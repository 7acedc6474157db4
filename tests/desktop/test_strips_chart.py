# SPDX-License-Identifier: MIT
"""The chart of strips: what is handed to it, where its labels and ticks stand, and one true drawing."""

import itertools
import random
import subprocess
import sys
import time

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QGuiApplication, QMouseEvent
from PySide6.QtWidgets import QApplication

from desktop.chart.curve import (
    TICKS,
    Curve,
    describe,
    details,
    nearest,
    numbers,
    riding,
    spread,
    ticks_between,
    time_range,
)
from desktop.chart.curves import CurveCanvas
from desktop.theme import Theme

P06 = Curve(
    1, "P06 SR-4", ((2 / 60, 5.0), (0.25, 4.5), (1, 4.0), (8, 3.0), (48, 1.5)),
    (("bitter peel", "peel"), ("wet stone",), ("wet stone",), ("woody",), ()), liking=((2 / 60, 3.0), (8, 3.0)), short="P06",
)  # fmt: skip
P03 = Curve(2, "P03 SR-2B", ((2 / 60, 5.5), (2.6833, 3.0), (48, 0.5)), short="P03", place=1)
W01 = Curve(3, "W01 SR-4", ((0.25, 4.5), (10, 1.0)), dashed=True, place=2)


@pytest.fixture(scope="module")
def theme(qapp):
    return Theme(qapp, "light")


@pytest.fixture
def canvas(qtbot, theme):
    made = CurveCanvas(theme)
    qtbot.addWidget(made)
    made.load()
    made.resize(800, 360)
    made.show()
    return made


def test_the_axis_holds_every_reading_between_whole_ticks():
    assert time_range([P06, P03]) == (TICKS[0][0], 48)
    assert time_range([]) == (TICKS[0][0], 8)
    late = Curve(9, "late", ((2 / 60, 5), (25.0, 1)))
    assert time_range([late]) == (TICKS[0][0], 25.0)
    early = Curve(9, "early", ((1 / 60, 5), (30.0, 1)))
    assert time_range([early]) == (1 / 60, 48)


def test_ticks_never_overlap_and_the_plain_ones_come_first():
    def at(hours):
        return 40 * TICKS.index(next(t for t in TICKS if t[0] == hours))

    wide = ticks_between(2 / 60, 168, lambda h: 3 * at(h), lambda text: 30)
    assert [text for _, text in wide] == ["2 min", "15", "30", "1 h", "2", "4", "8 h", "1 d", "2 d", "3 d", "7 d"]
    narrow = ticks_between(2 / 60, 168, lambda h: at(h) / 2, lambda text: 30)
    assert [text for _, text in narrow] == ["2 min", "1 h", "8 h", "2 d", "7 d"]
    places = [at(h) / 2 for h, _ in narrow]
    assert all(b - a >= 40 for a, b in itertools.pairwise(places))


@pytest.mark.parametrize("seed", range(6))
def test_labels_are_spread_in_order_and_inside(seed):
    rng = random.Random(seed)
    wanted = [rng.uniform(0, 200) for _ in range(9)]
    found = spread(wanted, 14, 0, 200)
    in_order = sorted(range(9), key=lambda i: wanted[i])
    placed = [found[i] for i in in_order]
    assert all(b - a >= 14 - 1e-9 for a, b in itertools.pairwise(placed))
    assert placed[0] >= -1e-9 and placed[-1] <= 200 + 1e-9


def test_a_label_alone_stands_at_its_line():
    assert spread([10, 100], 14, 0, 200) == [10, 100]
    assert spread([100, 100], 14, 0, 200) == [93, 107]


def test_a_word_rides_where_it_is_new():
    assert riding(P06) == [(0, "bitter peel"), (1, "wet stone"), (3, "woody")]


def test_nearest_point_within_reach():
    points = [(0, 0, 10.0, 10.0), (0, 1, 20.0, 10.0), (1, 0, 21.0, 11.0)]
    assert nearest(points, 20.2, 10, 14) == (0, 1)
    assert nearest(points, 200, 10, 14) is None


def test_the_chart_is_described_in_words():
    text = describe([P06, W01])
    assert text.startswith("2 curves. P06 SR-4: 5 at 2\u2009min, 3 at 8\u2009h, 1.5 at 2\u2009d.")
    assert "on skin" in text
    assert describe([]) == "No curves."
    assert describe([P06, P03] * 5).endswith("And 2 more.")


def test_details_of_a_reading():
    assert details(P06, 0) == ("P06 SR-4 · 2\u2009min", "intensity 5 · liking +3", "bitter peel, peel")
    assert details(P03, 1) == ("P03 SR-2B · 2.68\u2009h", "intensity 3")


def test_numbers_are_rows_for_every_reading():
    rows = numbers([P06, W01]).splitlines()
    assert rows[0] == "strip,elapsed h,intensity,liking,words"
    assert rows[1] == "P06 SR-4,0.0333333,5,3,bitter peel; peel"
    assert len(rows) == 1 + 5 + 2
    assert numbers([P03], "\t").splitlines()[2] == "P03 SR-2B\t2.6833\t3\t\t"


def test_importing_the_chart_imports_no_matplotlib():
    code = "import sys, db, desktop.chart.curves; print(sorted({'matplotlib', 'numpy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# drawn ----------------------------------------------------------------------------------------------------------------




def test_curves_are_drawn_at_their_places_in_their_colours(canvas, theme):
    canvas.set_curves([P06, P03, W01], chosen=1)
    canvas.grab()
    plot = canvas._plot
    assert plot.x(2 / 60) < plot.x(0.25) < plot.x(48) < canvas.width()
    assert plot.y(6) < plot.y(3) < plot.y(0)
    assert [text for _, text in plot.ticks][:2] == ["2 min", "15"]
    image = canvas.grab().toImage()
    middle = QPoint(round((plot.x(0.25) + plot.x(1)) / 2), round((plot.y(4.5) + plot.y(4)) / 2))
    # log time: the middle of the line is the middle of its ends
    assert image.pixelColor(middle).name().upper() == theme.curve(0)[0].upper()


def test_skin_is_dashed(canvas):
    canvas.set_curves([P06, P03, W01], chosen=1)
    canvas.grab()
    from matplotlib.collections import LineCollection

    lines = [a for a in canvas._plot.figure.artists if isinstance(a, LineCollection)]
    dashed = [bool(line.get_linestyle()[0][1]) for line in lines]
    assert dashed == [False, True]
    assert [len(line.get_segments()) for line in lines] == [1, 1]


def test_end_labels_do_not_overlap(canvas):
    alike = [Curve(k, f"P{k:02d} SR-1", P06.series, place=k) for k in range(8)]
    canvas.set_curves(alike, chosen=3)
    canvas.grab()
    ys = sorted(y for _, y in canvas._plot._labels.values())
    assert len(ys) == 8
    assert all(b - a >= 13.9 for a, b in itertools.pairwise(ys))


def test_words_ride_only_where_there_is_room(canvas):
    canvas.set_curves([P06], chosen=1)
    canvas.grab()
    texts = [a.get_text() for a in canvas._plot.live if hasattr(a, "get_text")]
    assert texts == ["P06 SR-4", "bitter peel", "wet stone", "woody"]
    canvas.resize(380, 240)
    canvas.update_curve(Curve(1, P06.label, P06.series[:3], P06.words, short="P06"))
    canvas.grab()
    assert [a.get_text() for a in canvas._plot.live if hasattr(a, "get_text")] == ["P06"]


def test_a_new_reading_draws_one_line(canvas):
    canvas.set_curves([P06, P03], chosen=1)
    canvas.grab()
    plot = canvas._plot
    longer = Curve(1, P06.label, (*P06.series[:4], (24, 2.0)), P06.words, short="P06")
    canvas.update_curve(longer)
    assert canvas._plot is plot and not canvas._stale
    assert canvas.curves == (longer, P03)
    canvas.set_curves([P03], chosen=1)  # hidden while it is read
    assert canvas._plot is plot and plot.active is None
    canvas.set_curves([P06, P03], chosen=1)
    assert canvas._plot is plot and plot.active == P06
    canvas.update_curve(Curve(1, P06.label, (*P06.series, (100, 1.0)), short="P06"))
    assert canvas._stale  # a longer axis needs a whole drawing
    canvas.set_curves([P06, P03], chosen=2)
    canvas.grab()
    assert canvas._plot is not plot


def test_a_pulled_window_shows_the_old_picture_until_it_rests(qtbot, canvas):
    canvas.set_curves([P06], chosen=1)
    canvas.grab()
    plot = canvas._plot
    canvas.resize(700, 300)
    assert not canvas.grab().isNull()
    assert canvas._plot is plot
    qtbot.waitUntil(lambda: canvas._plot is not plot)
    assert (canvas._plot.width, canvas._plot.height) == (700, 300)


def test_two_hundred_curves_and_a_quick_new_reading(canvas):
    rng = random.Random(1)
    times = [2 / 60 * 1.18**n for n in range(50)]
    many = [
        Curve(k, f"P{k:03d}", tuple((t, max(0, 5 - n / 10 + rng.choice((0, 0.5)))) for n, t in enumerate(times)), place=k)
        for k in range(200)
    ]
    canvas.set_curves(many, chosen=7)
    canvas.grab()
    newer = Curve(7, "P007", (*many[7].series[:-1], (times[-1], 0.5)), place=7)
    took = []
    for curve in (newer, many[7], newer):
        began = time.perf_counter()
        canvas.update_curve(curve)
        canvas.repaint()
        took.append(time.perf_counter() - began)
    assert not canvas._stale
    assert min(took) < 0.05


def test_hovering_frames_the_nearest_reading(qtbot, canvas):
    canvas.set_curves([P06, P03], chosen=1)
    canvas.grab()
    plot, none = canvas._plot, Qt.MouseButton.NoButton
    near = QPointF(plot.x(2.6833) + 3, plot.y(3) - 3)
    # sent, not posted: a pointer that other windows move about would take the frame away again
    moved = QMouseEvent(QEvent.Type.MouseMove, near, near, none, none, Qt.KeyboardModifier.NoModifier)
    QApplication.sendEvent(canvas, moved)
    assert canvas.probe == (1, 1)
    with qtbot.waitSignal(canvas.curve_picked) as picked:
        qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=near.toPoint())
    assert picked.args == [2]
    with qtbot.waitSignal(canvas.time_picked) as time_picked:
        qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(round(plot.x(8)), round(plot.bottom) + 12))
    assert time_picked.args == [8]


def test_readings_are_walked_by_keyboard(qtbot, canvas):
    canvas.set_curves([P06, P03], chosen=1)
    canvas.grab()
    qtbot.keyClick(canvas, Qt.Key.Key_Right)
    assert canvas.probe == (0, 4)
    qtbot.keyClick(canvas, Qt.Key.Key_Left)
    assert canvas.probe == (0, 3)
    assert canvas.accessibleDescription().startswith("P06 SR-4 · 8\u2009h, intensity 3 · liking +3, woody.")
    qtbot.keyClick(canvas, Qt.Key.Key_Down)
    assert canvas.probe == (1, 1)
    with qtbot.waitSignal(canvas.curve_picked) as picked:
        qtbot.keyClick(canvas, Qt.Key.Key_Return)
    assert picked.args == [2]
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    assert canvas.probe is None


def test_theme_and_liking_draw_anew(canvas, theme):
    canvas.set_curves([P06], chosen=1)
    canvas.grab()
    assert canvas._plot.liking_top is None
    canvas.liking_action.trigger()
    canvas.grab()
    assert canvas._plot.liking_bottom > canvas._plot.liking_top > canvas._plot.bottom
    theme.choose("dark")
    try:
        dark = canvas.grab().toImage().pixelColor(2, 2).name().upper()
    finally:
        theme.choose("light")
    assert dark == "#24272B"


def test_pictures_and_numbers_leave_the_program(canvas, tmp_path):
    canvas.set_curves([P06, P03], chosen=1)
    said = []
    canvas.said.connect(lambda text, tone: said.append(tone))
    for ending, start in ((".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")):
        canvas.save_picture(tmp_path / f"curves{ending}")
        assert (tmp_path / f"curves{ending}").read_bytes().startswith(start)
    canvas.save_numbers(tmp_path / "curves.csv")
    assert (tmp_path / "curves.csv").read_text(encoding="utf-8") == numbers([P06, P03])
    canvas.copy_numbers_action.trigger()
    assert QGuiApplication.clipboard().text().startswith("strip\telapsed h")
    canvas.copy_picture_action.trigger()
    assert not QGuiApplication.clipboard().image().isNull()
    canvas._save(str(tmp_path / "nowhere" / "x.csv"), canvas.save_numbers)
    assert said == ["done", "done", "refused"]
    assert canvas.picture().pixelColor(2, 2).name() == "#ffffff"


def test_an_empty_chart_says_what_belongs_there(canvas):
    canvas.set_curves([])
    assert not canvas.grab().isNull()
    assert canvas.accessibleDescription() == "No curves."
