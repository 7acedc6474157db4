# SPDX-License-Identifier: MIT
"""Long work runs beside the screen, tells how far it is, and is cancelled with nothing half done left; so is closing over it."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from db import Book, Cancelled, DiskFull, make_demo
from desktop import long_work
from desktop.app import App
from desktop.faults import Faults
from desktop.long_work import LongWork
from desktop.settings import Settings
from perfumery import Project


@pytest.fixture
def work(qapp: QApplication, monkeypatch: pytest.MonkeyPatch) -> Iterator[LongWork]:
    monkeypatch.setattr(long_work, "TOLD_AFTER_MS", 0)
    made = LongWork(qapp)
    made._telling.setInterval(0)
    yield made
    made.stop()
    made.deleteLater()


class Slow:
    """A call that goes on as long as it is let, and says how it ended."""

    def __init__(self) -> None:
        self.begun, self.go, self.ended = threading.Event(), threading.Event(), ""

    def __call__(self, progress) -> str:
        self.begun.set()
        done = 0
        while not self.go.wait(0.005):
            done += 1
            if not progress(done, 100):
                self.ended = "taken back"
                raise Cancelled(Path("x"))
        self.ended = "done"
        return "value"


def test_work_is_told_of_and_ends(work: LongWork, qtbot) -> None:
    slow, told, found, ended = Slow(), [], [], []
    work.told.connect(lambda *said: told.append(said))
    work.ended.connect(lambda: ended.append(True))
    work.run(slow, found.append, "Counting")
    qtbot.waitUntil(lambda: any(of for _, _, of in told))
    assert told[-1][0] == work.what == "Counting" and 0 < told[-1][1] <= told[-1][2] == 100
    assert not found and not ended
    slow.go.set()
    qtbot.waitUntil(lambda: bool(found))
    assert found == ["value"] and ended and work.what == ""


def test_work_that_is_soon_done_is_not_told_of(qapp: QApplication, qtbot) -> None:
    work, told, found = LongWork(qapp), [], []
    work.told.connect(lambda *said: told.append(said))
    work.run(lambda progress: progress(1, 1), found.append, "Counting")
    qtbot.waitUntil(lambda: bool(found))
    assert found == [True] and not told


def test_cancelled_work_takes_back_what_it_began(work: LongWork, qtbot) -> None:
    slow, found = Slow(), []
    work.run(slow, found.append, "Counting")
    slow.begun.wait()
    work.cancel()
    qtbot.waitUntil(lambda: bool(found))
    assert isinstance(found[0], Cancelled) and slow.ended == "taken back"


def test_what_waits_behind_cancelled_work_is_not_begun_either(work: LongWork, qtbot) -> None:
    first, second, found = Slow(), Slow(), []
    work.run(first, found.append, "One")
    work.run(second, found.append, "Two")
    first.begun.wait()
    work.cancel()
    qtbot.waitUntil(lambda: len(found) == 2)
    assert all(isinstance(one, Cancelled) for one in found) and not second.begun.is_set()


def test_what_nobody_asked_for_does_not_wait_behind_what_somebody_did(work: LongWork, qtbot) -> None:
    export, backed_up, found = Slow(), threading.Event(), []
    work.run(export, found.append, "Exporting")
    export.begun.wait()
    work.run(lambda progress: backed_up.set(), found.append)
    qtbot.waitUntil(lambda: found == [None])
    assert backed_up.is_set() and work.what == "Exporting"
    export.go.set()
    qtbot.waitUntil(lambda: found == [None, "value"])


def test_faults_of_the_place_come_back_as_answers(work: LongWork, qtbot) -> None:
    found: list = []

    def full(progress) -> None:
        raise DiskFull(Path("x"))

    work.run(full, found.append)
    qtbot.waitUntil(lambda: bool(found))
    assert isinstance(found[0], DiskFull)


def test_stop_waits_and_nobody_hears_of_it_any_more(work: LongWork, qtbot) -> None:
    slow, found = Slow(), []
    work.run(slow, found.append, "Counting")
    slow.begun.wait()
    assert work.stop() == "Counting" and slow.ended == "taken back"
    QApplication.processEvents()
    assert not found and work.what == ""


def test_what_was_done_before_it_could_stop_is_not_said_to_be_stopped(work: LongWork) -> None:
    begun, found = threading.Event(), []

    def deaf(progress) -> str:
        begun.set()
        while progress(0, 100):
            threading.Event().wait(0.002)
        return "done all the same"

    work.run(deaf, found.append, "Counting")
    begun.wait()
    assert work.has("Counting") and work.stop() == ""
    QApplication.processEvents()
    assert not found and not work.has("Counting")


def test_waiting_draws_the_window_meanwhile(work: LongWork) -> None:
    slow, waits, turns = Slow(), [], []
    work.waiting.connect(waits.append)
    QTimer.singleShot(80, work, lambda: (turns.append(work.is_waiting), slow.go.set()))
    assert work.wait(slow, "Opening") == "value"
    assert turns == [True] and waits == [True, False] and not work.is_waiting


def test_what_is_there_at_once_is_returned_without_a_turn(work: LongWork) -> None:
    waits: list = []
    work.waiting.connect(waits.append)
    assert work.wait(lambda progress: 7) == 7
    with pytest.raises(DiskFull):
        work.wait(_raise_full)
    assert waits == []


def _raise_full(progress) -> None:
    raise DiskFull(Path("x"))


def test_a_wait_can_be_cancelled_and_stopped(work: LongWork) -> None:
    for stop in (work.cancel, work.stop):
        slow = Slow()
        QTimer.singleShot(80, work, stop)
        with pytest.raises(Cancelled):
            work.wait(slow, "Opening")
        assert slow.ended == "taken back" and not work.is_waiting


@pytest.mark.parametrize("slowly", [False, True])
def test_a_fault_of_the_program_ends_a_wait_too(slowly: bool, work: LongWork) -> None:
    def fails(_: object) -> None:
        threading.Event().wait(2 * long_work.SHORT_S if slowly else 0)
        raise KeyError("no such page")

    with pytest.raises(KeyError, match="no such page"):
        work.wait(fails, "Opening")
    assert not work.is_waiting and work.is_idle


def test_a_fault_while_a_book_is_opened_leads_to_the_first_page(app: App, monkeypatch) -> None:
    path = app.book.path
    app.close_book()
    app.window.show_nothing()
    with monkeypatch.context() as patch, pytest.raises(ZeroDivisionError):
        patch.setattr(Book, "material_rows", lambda self: 1 / 0)
        app.open_book(path)
    assert app.book is None and app.window.pages.currentWidget() is app.window.first and app.window.pages.isEnabled()
    assert app.open_book(path), "its lock was freed"


def test_what_came_too_late_for_a_cancelled_wait_is_closed(work: LongWork) -> None:
    class Open:
        closed = False

        def close(self) -> None:
            self.closed = True

    made, go = Open(), threading.Event()
    QTimer.singleShot(80, work, lambda: (work.cancel(), go.set()))
    with pytest.raises(Cancelled):
        work.wait(lambda progress: go.wait() and made, "Opening")
    assert made.closed


def test_what_is_done_in_a_turn_is_handed_over_after_it(work: LongWork, qtbot) -> None:
    found, turned = [], []
    work.turned.connect(lambda: turned.append(work.is_waiting))
    work.run(lambda progress: "value", found.append)
    work._quiet.waitForDone()
    QTimer.singleShot(0, work, lambda: turned.append(work.is_waiting))
    work.turn()
    assert turned == [True, False] and not found, "nothing may come up between a page that is made and the same page shown"
    qtbot.waitUntil(lambda: found == ["value"])
    assert work.is_idle


def test_slices_let_the_window_breathe_and_take_back(work: LongWork, qtbot) -> None:
    turns, found, undone = [], [], []
    tick = QTimer(work, interval=0)
    tick.timeout.connect(lambda: turns.append(True))
    tick.start()

    def pieces():
        try:
            for place in range(40):
                threading.Event().wait(0.002)
                yield place, 40
        finally:
            undone.append(True)

    work.slices(pieces(), found.append, "Putting")
    qtbot.waitUntil(lambda: bool(found))
    assert found == [None] and len(turns) > 3
    work.slices(pieces(), found.append, "Putting")
    QApplication.processEvents()
    work.cancel()
    qtbot.waitUntil(lambda: len(found) == 2)
    assert isinstance(found[1], Cancelled) and len(undone) == 2
    work.slices(pieces(), found.append, "Putting")
    qtbot.waitUntil(lambda: work.what == "Putting" and len(turns) > 5)
    QApplication.processEvents()
    assert work.stop() == "Putting" and len(undone) == 3 and len(found) == 2


# in the window ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def app(qapp: QApplication, tmp_path: Path, clock, qtbot) -> Iterator[App]:
    make_demo(tmp_path / "D.stillroom", clock).close()
    made = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path / "log"), clock=clock)
    made.work._telling.setInterval(0)
    made.window.first.keep_in(tmp_path)
    made.window.show()
    qtbot.waitExposed(made.window)
    made.window.activateWindow()
    assert made.open_book(tmp_path / "D.stillroom")
    yield made
    made.window.close()
    for thing in (made.window, made.theme, made):
        thing.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def test_a_book_asked_for_while_a_page_is_shown_comes_after_it(app: App, tmp_path: Path, clock, qtbot) -> None:
    other = tmp_path / "E.stillroom"
    make_demo(other, clock).close()
    asked: list = []
    QTimer.singleShot(0, app, lambda: asked.append(app.open_book(other)))
    shelf = app.window.show_page("shelf")
    assert asked == [False] and app.window.pages.currentWidget() is shelf
    qtbot.waitUntil(lambda: app.book is not None and app.book.path == other)


def test_between_two_books_no_other_page_is_drawn(app: App, tmp_path: Path, clock, monkeypatch) -> None:
    other, drawn, plain, before = tmp_path / "E.stillroom", [], app.work.turn, app.window.bench
    make_demo(other, clock).close()
    monkeypatch.setattr(app.work, "turn", lambda: (drawn.append(app.window.pages.currentWidget()), plain()))
    assert app.open_book(other)
    assert drawn[0] is before and drawn[1:-1] == [app.window.blank] * (len(drawn) - 2), "not the page on which a book is made"
    assert drawn[-1] is app.window.pages.currentWidget() is app.window.bench


def held_up(app: App, monkeypatch: pytest.MonkeyPatch, name: str) -> threading.Event:
    """Makes a call of the book go on, telling how far it is, until it is let or stopped."""
    go, plain = threading.Event(), getattr(Book, name)

    def slow(self, *arguments):
        progress, done = arguments[-1], 0
        while not go.wait(0.005):
            done += 1
            if not progress(done, 2000):
                break
        return plain(self, *arguments)

    monkeypatch.setattr(Book, name, slow)
    return go


def test_how_far_a_copy_is_stands_on_the_quiet_line(app: App, tmp_path: Path, qtbot, monkeypatch) -> None:
    go, part = held_up(app, monkeypatch, "backup"), app.window.notice.work
    app.files.save_copy(tmp_path / "copy.stillroom")
    qtbot.waitUntil(lambda: part.isVisible() and part.bar.isVisible() and "%" in part.words.text())
    assert part.words.text().startswith("Saving a copy") and part.cancel.isEnabled()
    assert part.cancel.accessibleName() == "Cancel: Saving a copy"
    go.set()
    qtbot.waitUntil(lambda: not part.isVisible())
    assert "checked copy" in app.window.notice.text and (tmp_path / "copy.stillroom").is_file()


def test_escape_on_it_cancels_and_leaves_nothing(app: App, tmp_path: Path, qtbot, monkeypatch) -> None:
    held_up(app, monkeypatch, "export")
    part = app.window.notice.work
    app.files.export(tmp_path / "out")
    qtbot.waitUntil(part.isVisible)
    part.cancel.setFocus()
    QTest.keyClick(part.cancel, Qt.Key.Key_Escape)
    assert not part.cancel.isEnabled() and part.words.text() == "Stopping…"
    qtbot.waitUntil(lambda: not part.isVisible())
    assert app.window.notice.text == "The export was cancelled; nothing of it was left."
    assert not (tmp_path / "out").exists() and not list(tmp_path.glob(".out*"))


def test_closing_the_book_over_it_stops_it_and_says_so(app: App, tmp_path: Path, qtbot, monkeypatch) -> None:
    held_up(app, monkeypatch, "backup")
    app.files.save_copy(tmp_path / "copy.stillroom")
    qtbot.waitUntil(app.window.notice.work.isVisible)
    app.close_book()
    assert app.book is None and "Saving a copy was stopped" in app.window.notice.text
    assert not app.window.notice.work.isVisible()
    assert not (tmp_path / "copy.stillroom").exists() and not list(tmp_path.glob(".copy*"))


def test_a_book_that_takes_long_to_open_holds_the_window_still(app: App, tmp_path: Path, clock, qtbot, monkeypatch) -> None:
    other, seen = tmp_path / "Other.stillroom", []
    make_demo(other, clock).close()
    plain = Book.open

    def slow(path, *arguments, **more):
        threading.Event().wait(0.12)
        return plain(path, *arguments, **more)

    monkeypatch.setattr(Book, "open", slow)

    def meanwhile() -> None:
        seen.append((app.work.is_waiting, app.window.pages.isEnabled(), app.window.notice.work.words.text()))
        assert not app.open_book(tmp_path / "D.stillroom")
        app.window.asked.emit("close_book")

    QTimer.singleShot(90, app, meanwhile)
    assert app.open_book(other)
    assert seen == [(True, False, "Opening Other…")] and app.book is not None and app.book.path == other
    assert app.window.pages.isEnabled() and not app.window.notice.work.isVisible()
    # what was asked for meanwhile, as by a double click on another book, comes after it
    qtbot.waitUntil(lambda: app.book is not None and app.book.path == tmp_path / "D.stillroom")


def test_opening_can_be_cancelled_and_the_open_book_stays(app: App, tmp_path: Path, clock, monkeypatch) -> None:
    other, plain = tmp_path / "Other.stillroom", Book.open
    make_demo(other, clock).close()
    before = other.read_bytes()

    def slow(path, *arguments, **more):
        threading.Event().wait(0.15)
        return plain(path, *arguments, **more)

    monkeypatch.setattr(Book, "open", slow)
    QTimer.singleShot(90, app, app.work.cancel)
    assert not app.open_book(other)
    assert app.book is not None and app.book.path == tmp_path / "D.stillroom" and list(app.book.all(Project))
    assert "was not opened" in app.window.notice.text and other.read_bytes() == before
    assert not other.with_name(other.name + ".lock").exists()


def test_a_demo_that_is_cancelled_leaves_no_file(app: App, tmp_path: Path, monkeypatch) -> None:
    def slow(path, clock=None):
        threading.Event().wait(0.15)
        return make_demo(path, clock)

    monkeypatch.setattr("desktop.app.make_demo", slow)
    QTimer.singleShot(90, app, app.work.cancel)
    assert not app.new_demo(tmp_path / "New demo.stillroom")
    assert not list(tmp_path.glob("New demo*"))


def test_leaving_while_a_book_is_opened_ends_cleanly(app: App, tmp_path: Path, clock, monkeypatch) -> None:
    other, plain = tmp_path / "Other.stillroom", Book.open
    make_demo(other, clock).close()

    def slow(path, *arguments, **more):
        threading.Event().wait(0.15)
        return plain(path, *arguments, **more)

    monkeypatch.setattr(Book, "open", slow)
    QTimer.singleShot(90, app, app.window.close)
    assert not app.open_book(other)
    assert app.book is None and not list(tmp_path.glob("*.lock"))


def test_a_long_paste_is_looked_up_between_turns_and_cancelled(app: App, qtbot, monkeypatch) -> None:
    from desktop.models.pasted import PastedModel

    plain, sheet = PastedModel._understood, "".join(f"name {number}\t{number}\n" for number in range(1, 61))
    monkeypatch.setattr(PastedModel, "_understood", lambda *row: (threading.Event().wait(0.004), plain(*row))[1])
    formula = app.window.bench.formula
    lines = len(app.session.version.lines)
    formula.paste_text(sheet)
    qtbot.waitUntil(app.window.notice.work.isVisible)
    assert formula.stack.currentWidget() is formula.paste and not formula.paste.take_button.isEnabled()
    app.work.cancel()
    qtbot.waitUntil(lambda: app.work.is_idle)
    assert formula.stack.currentWidget() is not formula.paste and "paste was cancelled" in app.window.notice.text
    formula.paste_text(sheet)
    qtbot.waitUntil(lambda: formula.paste.model.rowCount() == 60)
    assert formula.paste.take_button.isEnabled() and len(app.session.version.lines) == lines


def test_a_paste_that_was_left_is_looked_up_no_further(app: App, qtbot) -> None:
    formula, first, second = app.window.bench.formula, "first\t1\n" * 60, "second\t1\n" * 30
    formula.paste_text(first)
    QTest.keyClick(formula.paste.leave_button, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: app.work.is_idle)
    assert formula.paste.model.rowCount() == 0 and formula.stack.currentWidget() is not formula.paste
    seen = set()
    formula.paste.model.judged.connect(lambda: seen.add(formula.paste.model.rowCount()))
    for text in (first, second):
        formula.paste_text(text)
    qtbot.waitUntil(lambda: app.work.is_idle)
    assert seen == {30} and formula.paste.take_button.isEnabled()


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_a_table_that_is_cancelled_leaves_no_file(tmp_path: Path, ending: str) -> None:
    from desktop import table_files

    rows, asked = [("name", 1.0)] * 1000, []

    def progress(done: int, of: int) -> bool:
        asked.append((done, of))
        return len(asked) < 5

    with pytest.raises(Cancelled):
        table_files.write(tmp_path / f"t{ending}", ("a", "b"), rows, progress=progress)
    assert list(tmp_path.iterdir()) == [] and asked[-1] == (400, 1000)


def test_closing_over_a_paste_leads_it_no_further(app: App, qtbot, monkeypatch) -> None:
    from desktop.models.pasted import PastedModel

    monkeypatch.setattr(PastedModel, "_understood", lambda *_: pytest.fail("the book is closed"))
    app.window.bench.formula.paste_text("name\t1\n" * 60)
    app.close_book()
    QApplication.processEvents()
    assert app.work.is_idle and app.book is None
