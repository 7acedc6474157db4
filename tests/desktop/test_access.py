# SPDX-License-Identifier: MIT
"""The whole window for hands that use no mouse, ears that are read to, and eyes that need it larger: one walk through every page,
view and sheet notes what a screen reader would miss, where Tab does not come, where the focus is not seen and what text is cut.

Run as a script it is the same window on a screen of another scale: `python test_access.py BOOK FOLDER TEXT-SIZE`.
"""

import gc
import json
import os
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QRect, Qt
from PySide6.QtGui import QAccessible, QAccessibleInterface, QTextDocumentFragment
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLabel,
    QLayoutItem,
    QLineEdit,
    QTextBrowser,
    QWidget,
)

from db import make_demo
from desktop.app import App
from desktop.columns import Column
from desktop.faults import Faults
from desktop.language import tr
from desktop.models.table import TableModel
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.grid import Grid
from desktop.widgets.labels import ElidedLabel
from desktop.widgets.stand import Stand
from perfumery import Material, Sitting

Role, Text = QAccessible.Role, QAccessible.Text
NOW = datetime.fromisoformat("2025-04-10T10:00:00+02:00")
# what a hand acts on, by what it is to a screen reader
ACTED_ON = frozenset({
    Role.Button, Role.EditableText, Role.ComboBox, Role.CheckBox, Role.RadioButton, Role.SpinBox, Role.Slider, Role.Link,
    Role.ButtonMenu, Role.Table, Role.List, Role.Tree, Role.Chart, Role.Graphic, Role.Document,
})  # fmt: skip
READ_WHOLE = frozenset({Role.Table, Role.List, Role.Tree})
# (of the screen, of the text, whether every sheet is opened)
SCALES = ((1.0, 1.6, True), (1.5, 1.3, False), (2.0, 1.0, False), (3.0, 1.0, False))
SHEETS = ("bench, read", "bench, versions", "bench, paste", "bench, card", "bench, material")
SCREEN = {"screens": [{"name": "large", "x": 0, "y": 0, "width": 3840, "height": 2160}]}
Found = dict[str, set[str]]


def opened(qt: QApplication, folder: Path) -> App:
    """The app before it has a book, in its usual size."""
    app = App(qt, Settings(folder / "settings.ini"), Faults(folder / "log"), clock=lambda: NOW)
    app.window.first.keep_in(folder)
    app.window.resize(1280, 800)
    app.window.show()
    app.window.activateWindow()
    assert QTest.qWaitForWindowActive(app.window)
    return app


def places(app: App, book: Path) -> Iterator[tuple[str, Callable[[], object]]]:
    """(name, how to go there) of every page, view and sheet, in an order in which each can be reached from the one before."""
    window = app.window

    def do(page: str, text: str) -> None:
        next(action for _, own in window.page(page).menus() for action in own if action.text() == tr(text)).trigger()

    def leave() -> None:
        QTest.keyClick(QApplication.focusWidget() or window, Qt.Key.Key_Escape)

    def on_bench(text: str, *, mode: str = "composing") -> None:
        leave()
        window.bench.set_mode(mode)
        window.bench.take_focus()
        do("bench", text)

    def at_balance() -> None:
        window.page("weigh").show_begin()
        window.page("weigh").begin.confirm()

    yield "first", lambda: None
    yield "bench", lambda: app.open_book(book)
    yield "bench, smelling", lambda: window.bench.set_mode("smelling")
    yield "bench, dip", lambda: on_bench("Dip strips…", mode="smelling")
    yield "bench, times", lambda: on_bench("Reading times…", mode="smelling")
    yield "bench, read", lambda: (leave(), window.bench.strips.read_strip(window.bench.strips.stand.shown[0]))
    yield "bench, versions", lambda: (window.bench.strips.reading.leave(), on_bench("Versions and projects…"))
    for text in ("New project…", "Make a trial…", "Rescale to a total…"):
        yield f"bench, {text}", lambda text=text: on_bench(text)
    yield "bench, paste", lambda: (leave(), window.bench.formula.paste_text("Linalool\t100\nnosuch\t5\n"))
    yield "bench, card", lambda: (leave(), window.bench.go_to(next(iter(app.book.all(Material)))))
    yield "bench, material", lambda: do("bench", "Edit material")
    yield "shelf", lambda: window.show_page("shelf").choose(max(app.book.bottles.rows(), key=lambda row: row.missing_g or 0).key)
    for text in ("Weigh the bottle again…", "Draw from the bottle…", "Edit the bottle", "Set the book right…", "Make a dilution…",
                 "Make up an accord…", "Strengthen or weaken…", "Top up what evaporated…", "To prepare",
                 "Habits of this bench…", "Enter a delivery…"):  # fmt: skip
        yield f"shelf, {text}", lambda text=text: (window.page("shelf")._on_sheet_left(), do("shelf", text))
    yield "weigh", lambda: window.show_page("weigh").show_begin()
    for text in ("Type in a sheet from paper…", "Balances…", "Pour freely"):
        yield f"weigh, {text}", lambda text=text: do("weigh", text)
    yield "weigh, line", at_balance
    for page in ("smell", "compare"):
        yield page, lambda page=page: window.show_page(page)
        for view in window.page(page).VIEWS:
            yield f"{page}, {view}", lambda page=page, view=view: window.page(page).show_view(view)
    for page, view, text in (("smell", "sittings", "Seal the sitting…"), ("smell", "blind tests", "Plan a blind test…"),
                             ("compare", "tree", "Decide…"), ("compare", "limits", "Add a limit…"),
                             ("compare", "limits", "What a natural holds…")):  # fmt: skip
        yield f"{page}, {text}", lambda page=page, view=view, text=text: (
            window.show_page(page), window.page(page).show_view(view), do(page, text),
        )  # fmt: skip
    yield "help", window.show_help


# what a screen reader is told ----------------------------------------------------------------------------------------------


def told(window: QWidget) -> Iterator[QAccessibleInterface]:
    """Everything that is shown, as a screen reader walks it; what stands in a table it asks the table for."""
    waiting = [QAccessible.queryAccessibleInterface(window)]
    while waiting:
        one = waiting.pop()
        yield one
        if one.role() not in READ_WHOLE:
            children = (one.child(at) for at in range(one.childCount()))
            waiting += [child for child in children if child is not None and child.isValid() and not child.state().invisible]


def plain(label: QLabel) -> str:
    text = label.text()
    if label.textFormat() is Qt.TextFormat.PlainText or not ("<" in text or label.textFormat() is Qt.TextFormat.RichText):
        return text.strip()
    return QTextDocumentFragment.fromHtml(text).toPlainText().strip()


def note_names(found: Found, place: str, window: QWidget) -> None:
    """What can be acted on and has no name, no role of its own, or both of another; texts that are not read out."""
    same: Counter[tuple[str, str]] = Counter()
    for one in told(window):
        role, name, thing = one.role(), one.text(Text.Name).strip(), one.object()
        where = f"{place}: {role.name} {name[:50]!r} {type(thing).__name__} in {type(thing and thing.parent()).__name__}"
        is_text = isinstance(thing, QLabel)
        if is_text and plain(thing).replace("&", "")[:60] not in name.replace("&", ""):
            found["a text is not read out"].add(where)
        takes_focus = isinstance(thing, QWidget) and bool(thing.focusPolicy() & Qt.FocusPolicy.TabFocus)
        if is_text or not (takes_focus or role in ACTED_ON):
            continue
        if not name:
            found["without a name"].add(where)
        if role not in ACTED_ON and not isinstance(thing, QTextBrowser):
            found["without a role"].add(where)
        if role is Role.ComboBox and not (one.relations(QAccessible.RelationFlag.Label) or one.text(Text.Description)):
            # under Linux the name of a box is what is chosen in it
            found["says what is chosen, but not of what"].add(where)
        if isinstance(thing, QWidget) and role not in (Role.ComboBox, Role.EditableText):
            same[role.name, name] += 1
    found["two of one name"] |= {f"{place}: {count} × {role} {name}" for (role, name), count in same.items() if count > 1}


# Tab -----------------------------------------------------------------------------------------------------------------------


def stops(window: QWidget) -> set[QWidget]:
    return {
        widget for widget in window.findChildren(QWidget)
        if widget.isVisible() and widget.isEnabled() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        and widget.focusProxy() is None and not (isinstance(widget, QLabel) and "<a " not in widget.text())
    }  # fmt: skip


def note_tab(found: Found, place: str, window: QWidget) -> None:
    """Tab from where the page begins until it is there again; then the same number of steps back."""
    before = stops(window)
    start = QApplication.focusWidget()
    if start is None:
        found["nothing has the focus"].add(place)
        return
    order = [start]
    for _ in range(400):
        QTest.keyClick(order[-1], Qt.Key.Key_Tab)
        now = QApplication.focusWidget()
        if now is None or now in order[:-1]:
            break
        if now is not order[-1]:  # a text with several links keeps it for a while
            order.append(now)
    if QApplication.focusWidget() is not start:
        found["Tab does not come round"].add(f"{place}: {order[-1].accessibleName()} → {QApplication.focusWidget()}")
    missed = (before & stops(window)) - set(order)
    found["Tab does not come to"] |= {f"{place}: {type(one).__name__} {one.accessibleName()}" for one in missed}
    note_order(found, place, window, order)
    if len(order) > 1:
        for _ in range(100):
            if QApplication.focusWidget() is start:
                QTest.keyClick(start, Qt.Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
        if QApplication.focusWidget() is not order[-1]:
            found["Shift+Tab goes another way"].add(f"{place}: {QApplication.focusWidget()}, not {order[-1]}")
        start.setFocus(Qt.FocusReason.OtherFocusReason)


def note_order(found: Found, place: str, window: QWidget, order: list[QWidget]) -> None:
    """Within one parent the focus goes down, and in a line from left to right, but for one way back to the top."""
    for parent in {one.parentWidget() for one in order}:
        if hasattr(parent, "tab_stops"):
            continue
        own = [one for one in order if one.parentWidget() is parent]
        backward = sum(
            second.geometry().bottom() < first.geometry().top() and second.geometry().left() <= first.geometry().right()
            for first, second in zip(own, own[1:] + own[:1], strict=True)
        )
        if backward > 1:
            found["Tab jumps"].add(f"{place}: {[one.accessibleName() or type(one).__name__ for one in own]}")


def note_focus(found: Found, place: str, window: QWidget, seen: set[tuple[str, str]]) -> None:
    """Each kind of control looks another way while it has the focus."""
    kept = QApplication.focusWidget()
    for widget in stops(window):
        kind = type(widget).__name__, str(widget.property("role"))
        if kind in seen:
            continue
        seen.add(kind)
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        if isinstance(widget, QLabel):
            widget.focusNextPrevChild(True)  # as the window does: the link is marked, not the text
        if QApplication.focusWidget() is not widget:
            continue
        with_it = widget.grab().toImage()
        widget.clearFocus()
        if widget.isVisible() and widget.grab().toImage() == with_it:
            found["its focus is not seen"].add(f"{place}: {kind} {widget.accessibleName()}")
    if kept is not None:
        kept.setFocus(Qt.FocusReason.OtherFocusReason)


# room ----------------------------------------------------------------------------------------------------------------------


def note_cut(found: Found, place: str, window: QWidget) -> None:
    """Words in less room than they need, parts that stand over each other, and what stands out of what holds it."""
    beside: dict[QWidget, list[QWidget]] = defaultdict(list)
    for widget in window.findChildren(QWidget):
        if not widget.isVisible() or isinstance(widget.parentWidget(), QLineEdit | QComboBox | QAbstractSpinBox):
            continue
        parent = widget.parentWidget()
        if parent.layout() is not None and parent.layout().indexOf(widget) >= 0:
            beside[parent].append(widget)
        text = widget.text() if isinstance(widget, QLabel | QAbstractButton) else widget.accessibleName()
        words = isinstance(widget, QLabel | QAbstractButton | QLineEdit | QComboBox | QAbstractSpinBox) and text
        if words and (lacks := lacking(widget)) is not None:
            found["text is cut"].add(f"{place}: {text[:40]!r} {lacks}, has {widget.size().toTuple()}")
        if words and (out := standing_out(widget, window)):
            found["stands out"].add(f"{place}: {text[:40]!r} of {out}")
    for parent, parts in beside.items():
        for at, one in enumerate(parts):
            for other in parts[at + 1 :]:
                over = one.geometry().intersected(other.geometry())
                if over.width() > 1 and over.height() > 1:
                    names = " and ".join(f"{type(part).__name__} {part.accessibleName()[:30]}" for part in (one, other))
                    found["one over another"].add(f"{place}: {names} in {type(parent).__name__}")


def lacking(widget: QWidget) -> str | None:
    """What a part with words lacks of the room they need; None where they fit."""
    width, height = widget.minimumSizeHint().width(), widget.minimumSizeHint().height()
    if isinstance(widget, ElidedLabel):
        width, height = 0, widget.fontMetrics().height()
    elif isinstance(widget, QLabel) and widget.wordWrap():
        height = widget.heightForWidth(widget.width())
    elif isinstance(widget, QLabel):
        width, height = widget.sizeHint().width(), widget.sizeHint().height()
    elif isinstance(widget, QLineEdit | QComboBox):
        width = 0  # what is longer scrolls, or ends in dots
        height = widget.fontMetrics().height()
    if widget.width() >= width - 1 and widget.height() >= height - 1:
        return None
    return f"needs {width} × {height}"


def standing_out(widget: QWidget, window: QWidget) -> str:
    """What a part is not wholly inside of, up to what scrolls; '' where it is."""
    inner = widget
    place = QRect(widget.pos(), widget.size())
    while (holder := inner.parentWidget()) is not None and holder is not window:
        if isinstance(holder.parentWidget(), QAbstractScrollArea) or isinstance(holder, Stand):
            return ""
        if not holder.rect().adjusted(-1, -1, 1, 1).contains(place):
            return f"{type(holder).__name__} {holder.size().toTuple()}"
        place.translate(holder.pos())
        inner = holder
    return ""


# the walk ------------------------------------------------------------------------------------------------------------------


def settle() -> None:
    """Lets layouts and queued answers run out."""
    for _ in range(4):
        QApplication.processEvents()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("access") / "Demo.stillroom"
    make_demo(path).close()
    return path


@pytest.fixture(scope="module")
def found(qapp: QApplication, book: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Found]:
    """What one walk through everything noted, by what is the matter."""
    folder = tmp_path_factory.mktemp("walk")
    copy = folder / book.name
    copy.write_bytes(book.read_bytes())
    app, noted, seen = opened(qapp, folder), defaultdict(set), set()
    for place, go in places(app, copy):
        go()
        settle()
        note_names(noted, place, app.window)
        note_focus(noted, place, app.window, seen)
        note_tab(noted, place, app.window)
        settle()
        note_cut(noted, place, app.window)
    assert len(seen) > 12, seen
    yield noted
    app.leave()
    for thing in (app.window, app.theme, app):
        thing.deleteLater()


@pytest.mark.parametrize("fault", [
    "without a name", "without a role", "a text is not read out", "says what is chosen, but not of what", "two of one name",
    "nothing has the focus", "Tab does not come round", "Tab does not come to", "Shift+Tab goes another way", "Tab jumps",
    "its focus is not seen", "text is cut", "stands out", "one over another",
])  # fmt: skip
def test_nowhere(fault: str, found: Found) -> None:
    assert sorted(found.get(fault, ())) == []


def test_a_screen_reader_acts_like_a_hand(qapp: QApplication, book: Path, tmp_path: Path) -> None:
    """It toggles what can be checked, which Qt does not count as a click."""
    copy = tmp_path / book.name
    copy.write_bytes(book.read_bytes())
    app = opened(qapp, tmp_path)
    assert app.open_book(copy)
    window = app.window

    def act(name: str) -> None:
        settle()
        one = next(one for one in told(window) if one.text(Text.Name) == name and one.actionInterface() is not None)
        one.actionInterface().doAction("Toggle" if "Toggle" in one.actionInterface().actionNames() else "Press")
        settle()

    act("Page Compare")
    assert window.pages.currentWidget() is window.page("compare") and window.commands["page_compare"].isChecked()
    act("Page Compare")  # once more: a page is not left by its own word
    assert window.pages.currentWidget() is window.page("compare")
    act("view: tree")
    assert window.page("compare").stack.currentWidget() is window.page("compare").views["tree"]
    act("view: tree")
    assert window.page("compare").chips.name == "tree"
    act("Page Smell")
    sitting = window.page("smell").show_view("sittings").conditions._sitting
    act("nose has a cold")
    assert app.book.get(Sitting, sitting.key).cold is not sitting.cold
    app.leave()


def test_tab_leaves_nothing_in_memory_that_outlives_its_page(qapp: QApplication, book: Path, tmp_path: Path) -> None:
    """What Python keeps of a layout's items after Qt has deleted them is taken for whatever comes to lie there next."""
    copy = tmp_path / book.name
    copy.write_bytes(book.read_bytes())
    app = opened(qapp, tmp_path)
    assert app.open_book(copy)
    settle()
    before = {id(item) for item in _items()}
    for _ in range(5):
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert [item for item in _items() if id(item) not in before] == []
    app.leave()


def _items() -> list[QLayoutItem]:
    return [one for one in gc.get_objects() if type(one).__name__ in ("QWidgetItem", "QSpacerItem", "QLayoutItem")]


class _Figures(TableModel[str]):
    """One column of figures; a tone for all of them."""

    tone_now = "ink"

    def identity(self, row: str) -> str:
        return row

    def tone(self, row: str, column: Column[str]) -> str:
        return self.tone_now

    def tip(self, row: str, column: Column[str]) -> str:
        return "more than it may be"


@pytest.mark.parametrize("width", [40, 120])
def test_a_figure_that_warns_has_a_sign_beside_its_colour(width: int, qapp: QApplication, tmp_path: Path, qtbot) -> None:
    theme = Theme(qapp, "light")
    grid = Grid(theme, Settings(tmp_path / "settings.ini"), "figures")
    model = _Figures((Column("figure", "figure", lambda row: row, width, right=True),), grid)
    model.show_rows(("12.345",))
    grid.show_model(model)
    qtbot.addWidget(grid)
    grid.show()
    for pen in grid.itemDelegate()._pens.values():
        pen.setColor(theme.colour("ink"))  # as to an eye that sees no colours
    seen = {}
    for model.tone_now in ("ink", "quiet", "amber", "brick"):
        grid.viewport().update()
        seen[model.tone_now] = grid.grab().toImage()
    assert seen["ink"] == seen["quiet"] and seen["amber"] == seen["brick"] and seen["ink"] != seen["amber"]
    assert model.index(0, 0).data(Qt.ItemDataRole.AccessibleDescriptionRole) == "more than it may be"


@pytest.mark.parametrize("width", range(44, 76, 4))
def test_the_sign_of_a_figure_never_lies_upon_it(width: int, qapp: QApplication, tmp_path: Path, qtbot) -> None:
    theme = Theme(qapp, "light")
    grid = Grid(theme, Settings(tmp_path / "settings.ini"), "figures")
    model = _Figures((
        Column("code", "code", lambda row: "", 60), Column("figure", "figure", lambda row: row, width, right=True),
    ), grid)  # fmt: skip
    model.show_rows(("100 ml",))
    grid.show_model(model)
    qtbot.addWidget(grid)
    grid.show()
    for pen in grid.itemDelegate()._pens.values():
        pen.setColor(theme.colour("ink"))
    drawn = []
    for model.tone_now in ("ink", "brick"):
        grid.viewport().update()
        drawn.append(grid.viewport().grab(QRect(0, 0, 140, grid.rowHeight(0) - 2)).toImage())
    bare, signed = drawn
    ground, places = bare.pixel(0, 0), [(x, y) for x in range(bare.width()) for y in range(bare.height())]
    figure = {x for x, y in places if bare.pixel(x, y) != ground}
    sign = {x for x, y in places if signed.pixel(x, y) != bare.pixel(x, y)}
    assert sign and max(sign) < min(figure)


@pytest.mark.parametrize(("scale", "text", "all_"), SCALES)
def test_on_a_screen_of_another_scale(scale: float, text: float, all_: bool, book: Path, tmp_path: Path) -> None:
    """No warning, nothing cut, and the window is no larger than the screen leaves room for."""
    (tmp_path / "screen.json").write_text(json.dumps(SCREEN), encoding="utf-8")
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, __file__, book, tmp_path, str(text), *(["all"] if all_ else [])],
        cwd=root, capture_output=True, text=True, timeout=80, check=False,
        env={**os.environ, "QT_SCALE_FACTOR": str(scale), "PYTHONPATH": str(root),
             "QT_QPA_PLATFORM": f"offscreen:configfile={tmp_path / 'screen.json'}"},
    )  # fmt: skip
    said = [line for line in done.stderr.splitlines() if "propagateSizeHints" not in line]
    assert (done.returncode, said) == (0, [])
    answer = json.loads(done.stdout)
    assert answer.pop("scale") == scale
    assert answer == {"faults": {}}


def scaled(book: Path, folder: Path, text: float, *, all_: bool) -> None:
    """The pages and views once, on the screen this process was given."""
    qt = QApplication([])
    copy = folder / book.name
    copy.write_bytes(book.read_bytes())
    app, noted = opened(qt, folder), defaultdict(set)
    app.theme.resize_text(text)
    room = app.window.screen().availableGeometry()
    app.window.resize(room.size().boundedTo(app.window.size()))
    for place, go in places(app, copy):
        if not all_ and ("…" in place or place in SHEETS):
            continue
        go()
        settle()
        note_cut(noted, place, app.window)
        if not room.contains(QRect(room.topLeft(), app.window.size())):
            noted["larger than the screen"].add(f"{place}: {app.window.size().toTuple()}")
    answer = {"scale": app.window.devicePixelRatioF(), "faults": {fault: sorted(where) for fault, where in noted.items()}}
    app.leave()
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    scaled(Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3]), all_="all" in sys.argv)
