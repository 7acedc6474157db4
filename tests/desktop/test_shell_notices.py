# SPDX-License-Identifier: MIT
"""Notices on the desktop: what is told, when and once; the bytes on the bus; a real bus with a service where there is one."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import shiboken6
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QObject, QProcess, QProcessEnvironment, Signal
from PySide6.QtNetwork import QLocalServer

from db import Book, Due
from desktop import bus_words
from desktop.bus_words import Garbled, call, socket_of, take
from desktop.notice_bus import NoticeBus
from desktop.notices import DueNotices, point_of, to_tell
from desktop.session import Session
from desktop.settings import TELL_DUE, Settings
from perfumery import Bottle, Habit, Material, Project, Reading, Strip
from perfumery.smelling import DuePoint
from perfumery.values import HABITS

NOON = datetime.fromisoformat("2025-04-10T12:00:00+02:00")
SERVICE = Path(__file__).with_name("notice_service.py")
DAEMON = shutil.which("dbus-daemon")


def due(key: int, code: str, hours: float, at: datetime, *, late: bool = False) -> Due:
    strip = Strip(code, 1, at - timedelta(hours=hours), key=key)
    return Due(strip, DuePoint(hours * 3600, "due", late), at)


def plain(text: str) -> str:
    return text.replace("\u2009", " ")


# what is told ---------------------------------------------------------------------------------------------------------


def test_several_that_come_due_are_one_notice() -> None:
    now_due = due(4, "P04", 2, NOON), due(6, "P06", 2, NOON), due(9, "417", 0.5, NOON)
    dues = (*now_due, due(10, "P10", 1, NOON + timedelta(seconds=1)))
    notice = to_tell(dues, HABITS, NOON, set())
    assert notice is not None
    assert (notice.title, plain(notice.body)) == ("3 strips due", "P04 2 h, P06 2 h and 417 30 min")
    one = to_tell(dues[:1], HABITS, NOON, set())
    assert one is not None and (one.title, plain(one.body)) == ("1 strip due", "P04 2 h")


def test_how_late_a_strip_is_and_how_many_more() -> None:
    dues = tuple(due(n, f"P{n:02}", 8, NOON - timedelta(minutes=100 - n), late=n == 1) for n in range(1, 9))
    notice = to_tell(dues, HABITS, NOON, set())
    assert notice is not None and notice.title == "8 strips due"
    assert plain(notice.body) == "P01 8 h (1 h 39 min late), P02 8 h, P03 8 h, P04 8 h, P05 8 h and 3 others"


def test_what_was_told_is_not_told_again_but_stays_while_it_is_shown() -> None:
    first, second = due(4, "P04", 2, NOON), due(6, "P06", 2, NOON)
    told = {point_of(first)}
    assert to_tell((first,), HABITS, NOON, told) is None
    alone = to_tell((first, second), HABITS, NOON, told)
    beside = to_tell((first, second), HABITS, NOON, told, {point_of(first)})
    assert alone is not None and alone.dues == (second,)
    assert beside is not None and beside.dues == (first, second)
    later = due(4, "P04", 4, NOON)
    again = to_tell((later,), HABITS, NOON, told)
    assert again is not None and again.dues == (later,)  # the next reading of the same strip is news


def test_what_stood_in_the_due_line_while_somebody_looked_is_not_told() -> None:
    before, after = due(4, "P04", 2, NOON - timedelta(seconds=5)), due(6, "P06", 2, NOON)
    notice = to_tell((before, after), HABITS, NOON, set(), seen_till=NOON - timedelta(seconds=5))
    assert notice is not None and notice.dues == (after,)


@pytest.mark.parametrize(
    "opens, closes, hour, is_told",
    [(8, 22, 12, True), (8, 22, 7, False), (8, 22, 23, False), (20, 4, 2, True), (20, 4, 12, False), (9, 9, 3, True)],
)
def test_nothing_is_told_outside_bench_hours(opens: float, closes: float, hour: int, is_told: bool) -> None:
    now = NOON.replace(hour=hour)
    habits = {**HABITS, "bench opens hour": opens, "bench closes hour": closes}
    assert (to_tell((due(4, "P04", 2, now),), habits, now, set()) is not None) == is_told


# over the ticks of a book ---------------------------------------------------------------------------------------------


class FakeBus(QObject):
    """Keeps what would stand on the desktop."""

    clicked = Signal()
    gone = Signal()
    made: "list[FakeBus]" = []

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.told: list[str] = []
        self.made.append(self)

    def show(self, title: str, body: str) -> None:
        self.told.append(plain(f"{title}: {body}"))

    def take_back(self) -> None:
        self.told.append("taken back")


@dataclass
class Desk:
    """A book with three bottles whose window is somewhere behind others."""

    book: Book
    clock: object
    session: Session
    notices: DueNotices
    front: list[bool]
    chosen: list[int] = field(default_factory=list)

    def dip(self, code: str, *times: float, sitting: int | None = None) -> Strip:
        bottle = self.book.get(Bottle, "X1")
        fresh = Strip(code, bottle.key, self.book.now(), sitting=sitting, reading_times=times)
        return self.book.put(fresh, what=f"strip {code}")[0]

    def after(self, **time: float) -> list[str]:
        """What was told by the tick that comes so much later."""
        self.clock.tick(**time)
        before = len(self.told)
        self.session.ticked.emit(self.book.now())
        return self.told[before:]

    @property
    def told(self) -> list[str]:
        return [told for bus in FakeBus.made for told in bus.told]


@pytest.fixture
def desk(qapp, tmp_path: Path, clock, monkeypatch) -> Iterator[Desk]:
    monkeypatch.setattr("desktop.notice_bus.NoticeBus", FakeBus)
    FakeBus.made = []
    with Book.create(tmp_path / "B.stillroom", "B", "EUR", clock) as book:
        (oil,) = book.put(Material("Lemon oil"))
        book.put(*(Bottle(f"X{n}", material=oil.key) for n in range(1, 4)))
        settings = Settings(tmp_path / "settings.ini")
        front = [False]
        notices = DueNotices(settings, is_active=lambda: front[0])
        session = Session(book, None, settings)  # type: ignore[arg-type]
        made = Desk(book, clock, session, notices, front)
        notices.chosen.connect(made.chosen.append)
        notices.watch(session)
        yield made
        notices.watch(None)


def test_a_due_point_is_told_once(desk: Desk) -> None:
    strip = desk.dip("P01", 7200.0, 14400.0)
    assert desk.after(minutes=119) == [] and not FakeBus.made
    assert desk.after(minutes=1) == ["1 strip due: P01 2 h"]
    assert desk.after(seconds=10) == [] and desk.after(minutes=5) == []
    desk.book.put(Reading(strip.key, desk.book.now(), intensity=3))
    assert desk.after(hours=2) == ["1 strip due: P01 4 h"]
    assert len(FakeBus.made) == 1


def test_a_notice_replaces_the_one_that_is_still_shown(desk: Desk) -> None:
    desk.dip("P01", 7200.0)
    desk.clock.tick(minutes=10)
    desk.dip("P02", 7200.0)
    desk.clock.tick(minutes=10)
    desk.dip("P03", 7200.0)
    assert desk.after(minutes=100) == ["1 strip due: P01 2 h"]
    assert desk.after(minutes=10) == ["2 strips due: P01 2 h and P02 2 h"]
    FakeBus.made[0].gone.emit()
    assert desk.after(minutes=10) == ["1 strip due: P03 2 h"]


def test_nothing_while_the_window_is_in_front_and_what_stands_goes(desk: Desk) -> None:
    desk.dip("P01", 7200.0)
    desk.dip("P02", 10800.0)
    assert desk.after(hours=2) == ["1 strip due: P01 2 h"]
    desk.front[0] = True
    assert desk.after(seconds=10) == ["taken back"]
    assert desk.after(hours=1) == []
    desk.front[0] = False
    assert desk.after(seconds=10) == []


def test_what_came_due_while_the_bench_was_closed_is_one_notice_at_opening(desk: Desk) -> None:
    desk.dip("P01", 11 * 3600.0)
    desk.dip("P02", 12 * 3600.0)
    assert desk.after(hours=11) == []  # 23:00
    desk.front[0] = True
    assert desk.after(hours=5) == []  # a window left in front over night has shown it to nobody
    desk.front[0] = False
    assert desk.after(hours=3, minutes=59) == []
    assert desk.after(minutes=1) == ["2 strips due: P01 11 h (9 h late) and P02 12 h (8 h late)"]
    assert desk.after(minutes=1) == []


def test_bench_hours_are_this_bench_s_own(desk: Desk) -> None:
    desk.book.put(Habit("bench opens hour", 20.0), Habit("bench closes hour", 4.0))
    desk.dip("P01", 7200.0)
    assert desk.after(hours=2) == []
    assert desk.after(hours=6) == ["1 strip due: P01 2 h (6 h late)"]


def test_a_strip_under_seal_is_named_by_its_blind_code(desk: Desk) -> None:
    sitting = desk.book.sittings.begin(blind=True)
    desk.dip("P01", 7200.0, sitting=sitting.key)
    desk.clock.tick(minutes=10)
    (code,) = desk.book.sittings.seal(sitting.key, shuffled=False)
    assert desk.after(hours=2) == [f"1 strip due: {code} 2 h"]
    desk.book.sittings.reveal(sitting.key)
    assert desk.after(seconds=10) == []


def test_it_can_be_switched_off(desk: Desk) -> None:
    desk.dip("P01", 7200.0)
    desk.session.settings.keep(TELL_DUE, False)
    assert desk.after(hours=2) == [] and not FakeBus.made
    desk.session.settings.keep(TELL_DUE, True)
    assert desk.after(seconds=10) == ["1 strip due: P01 2 h"]
    desk.session.settings.keep(TELL_DUE, False)
    assert desk.after(seconds=10) == ["taken back"]


def test_a_click_names_the_strip_that_is_due_longest(desk: Desk) -> None:
    strip = desk.dip("P01", 7200.0)
    desk.clock.tick(minutes=1)
    desk.dip("P02", 7200.0)
    desk.after(hours=2)
    FakeBus.made[0].clicked.emit()
    assert desk.chosen == [strip.key]
    FakeBus.made[0].gone.emit()
    FakeBus.made[0].clicked.emit()
    assert desk.chosen == [strip.key]


def test_the_book_that_is_closed_takes_its_notice_along(desk: Desk) -> None:
    desk.dip("P01", 7200.0)
    desk.after(hours=2)
    desk.notices.watch(None)
    assert desk.told[-1] == "taken back" and desk.after(seconds=10) == []
    desk.notices.watch(desk.session)
    assert desk.after(seconds=10) == []  # once in a run, though the book was closed meanwhile


# in the window --------------------------------------------------------------------------------------------------------


def test_a_minimised_window_is_not_in_front(hand) -> None:
    window = hand.app.window
    hand.qtbot.waitUntil(window.isActiveWindow)
    assert hand.app.notices._is_active()
    window.showMinimized()
    assert not hand.app.notices._is_active()


@pytest.mark.qt_log_ignore("This plugin does not support raise", extend=True)
def test_a_click_brings_the_window_up_with_that_reading(hand, tmp_path: Path) -> None:
    app = hand.app
    assert app.new_book(tmp_path / "B.stillroom", "B", "EUR", False)
    (oil,) = app.book.put(Material("Lemon oil"))
    bottle, project = app.book.put(Bottle("X1", material=oil.key), Project("LM"))
    app.session.choose_project(project.key)
    sitting = app.book.sittings.begin(blind=True)
    open_, sealed = (
        app.book.put(Strip(code, bottle.key, app.book.now(), sitting=key, reading_times=(1200.0,)))[0]
        for code, key in (("P01", None), ("P02", sitting.key))
    )
    app.book.sittings.seal(sitting.key, shuffled=False)
    hand.wait(minutes=21)
    app.window.show_page("shelf")
    app.window.showMinimized()
    app.notices.chosen.emit(open_.key)
    assert not app.window.isMinimized()
    assert app.window.pages.currentWidget() is app.window.bench
    assert app.window.bench.strips.reading.card.key == open_.key
    app.notices.chosen.emit(sealed.key)
    view = app.window.page("smell").view("sittings")
    assert app.window.pages.currentWidget() is app.window.page("smell") and view.reading.card.key == sealed.key
    app.window.show_page("shelf")
    app.window.go_to(app.book.get(Strip, sealed.key))
    assert app.window.pages.currentWidget() is app.window.page("smell")
    app.notices.chosen.emit(9999)  # a strip that is in no book
    assert app.window.pages.currentWidget() is app.window.page("smell")


def test_the_menu_keeps_the_choice(hand) -> None:
    action = hand.app.window.commands["tell_due"]
    assert action.isChecked()
    action.trigger()
    assert not hand.app._settings.flag(TELL_DUE, True)
    action.trigger()
    assert hand.app._settings.flag(TELL_DUE, False)
    hand.app.window.commands["keys"].trigger()
    told = hand.app.window.help.text.toPlainText()
    assert action.text() in told and "Ctrl+Shift+B" in told
    hand.app.window.commands["about"].trigger()
    assert action.text() in hand.app.window.help.text.toPlainText()


# bytes ----------------------------------------------------------------------------------------------------------------


def test_a_message_out_and_in_again() -> None:
    fields = {bus_words.PATH: "/a", bus_words.INTERFACE: "a.b", bus_words.MEMBER: "N", bus_words.DESTINATION: "a.b"}
    values = ("é", 7, ["default", "Read"], {"urgency": ("y", 1), "where": ("(ii)", (1, -2))}, -1, [{"k": 2**40}])
    data = bytearray(call(3, fields, "suasa{sv}iaa{st}", values) + call(4, fields))
    first, second = take(data), take(data)
    assert first is not None and second is not None and not data and take(data) is None
    assert first.body == values and second.body == () and first.kind == bus_words.CALL
    assert first.fields == {**fields, bus_words.SIGNATURE: "suasa{sv}iaa{st}"}


def test_a_message_of_the_other_byte_order() -> None:
    """Written by hand after the specification's layout: a method return, answering 7, that carries the unsigned 9."""
    fields = b"\x05\x01u\0" + (7).to_bytes(4, "big") + b"\x08\x01g\0\x01u\0"
    head = b"B\x02\x01\x01" + (4).to_bytes(4, "big") + (1).to_bytes(4, "big") + len(fields).to_bytes(4, "big")
    data = bytearray(head + fields + b"\0" + (9).to_bytes(4, "big"))
    message = take(data)
    assert message is not None and (message.kind, message.body, message.fields[bus_words.REPLY_TO]) == (2, (9,), 7)


@given(st.binary(max_size=200), st.booleans())
def test_whatever_comes_is_a_message_or_none_or_garbled(data: bytes, is_headed: bool) -> None:
    came = bytearray(b"l\x02\x01\x01\x04\0\0\0\x01\0\0\0\x08\0\0\0" * is_headed + data)
    try:
        take(came)
    except Garbled:
        assert came


@given(st.data())
def test_a_message_with_an_octet_changed_is_a_message_or_none_or_garbled(draw: st.DataObject) -> None:
    whole = bytearray(call(1, {bus_words.PATH: "/a", bus_words.MEMBER: "N"}, "a{sv}as(u)", ({"k": ("v", ("u", 1))}, ["x"], (5,))))
    whole[draw.draw(st.integers(0, len(whole) - 1))] = draw.draw(st.integers(0, 255))
    try:
        take(whole)
    except Garbled:
        assert whole


def test_where_the_bus_of_the_session_is(tmp_path: Path) -> None:
    told = "DBUS_SESSION_BUS_ADDRESS"
    assert socket_of({told: "unix:path=/run/user/1000/bus,guid=ab"}) == b"/run/user/1000/bus"
    assert socket_of({told: "tcp:host=x;unix:abstract=/tmp/a%20b"}) == b"\0/tmp/a b"
    assert socket_of({told: "autolaunch:"}) is None and socket_of({}) is None
    assert socket_of({"XDG_RUNTIME_DIR": str(tmp_path)}) is None
    (tmp_path / "bus").touch()
    assert socket_of({"XDG_RUNTIME_DIR": str(tmp_path)}) == str(tmp_path / "bus").encode()
    assert socket_of({"XDG_RUNTIME_DIR": str(tmp_path), told: "disabled:"}) is None


# the bus --------------------------------------------------------------------------------------------------------------


class Service(QProcess):
    """What shows notices on a private bus, in a process of its own."""

    def __init__(self, qtbot, environment: dict[str, str]) -> None:
        super().__init__()
        self._qtbot = qtbot
        private = QProcessEnvironment()
        for name, value in environment.items():
            private.insert(name, value)
        self.setProcessEnvironment(private)
        self.start(sys.executable, [str(SERVICE)])
        assert self.heard() == ["ready"]

    def heard(self) -> list[object]:
        """What it was asked next."""
        self._qtbot.waitUntil(self.canReadLine)
        return json.loads(self.readLine().data())

    def order(self, what: str) -> None:
        self.write(f"{what}\n".encode())

    def end(self) -> None:
        self.order("end")
        self._qtbot.waitUntil(lambda: self.state() == QProcess.ProcessState.NotRunning)
        assert self.exitCode() == 0, self.readAllStandardError().data()


@dataclass
class RealBus:
    """A private bus with our line to it."""

    environment: dict[str, str]
    daemon: subprocess.Popen[str]
    line: NoticeBus
    clicked: list[bool] = field(default_factory=list)
    gone: list[bool] = field(default_factory=list)


@pytest.fixture
def bus(qapp) -> Iterator[RealBus]:
    if DAEMON is None:
        pytest.skip("this machine has no dbus-daemon, so there is no real bus to try")
    with tempfile.TemporaryDirectory(prefix="bus") as folder:  # short: the name of a socket has 108 octets at most
        address = f"unix:path={folder}/bus"
        command = [DAEMON, "--session", "--nofork", "--print-address=1", f"--address={address}"]
        daemon = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        try:
            assert daemon.stdout.readline().startswith(address)
            environment = {**os.environ, "DBUS_SESSION_BUS_ADDRESS": address}
            made = RealBus(environment, daemon, NoticeBus(None, environment))
            made.line.clicked.connect(lambda: made.clicked.append(True))
            made.line.gone.connect(lambda: made.gone.append(True))
            yield made
            shiboken6.delete(made.line)
        finally:
            daemon.terminate()
            daemon.wait(10)
            daemon.stdout.close()


def test_a_notice_on_a_real_bus(bus: RealBus, qtbot) -> None:
    service = Service(qtbot, bus.environment)
    bus.line.show("2 strips due", "P<4> 2 h")
    actions, hints = ["default", "Read"], ["desktop-entry", "suppress-sound"]
    assert service.heard() == ["notify", 0, "2 strips due", "P&lt;4&gt; 2 h", actions, hints]
    qtbot.waitUntil(lambda: bus.line.number == 1)
    bus.line.show("3 strips due", "P04 2 h")
    assert service.heard() == ["notify", 1, "3 strips due", "P04 2 h", actions, hints]
    service.order("click 5")  # somebody else's
    service.order("click 1")
    qtbot.waitUntil(lambda: bool(bus.clicked))
    service.order("dismiss 1")
    qtbot.waitUntil(lambda: bool(bus.gone))
    assert (bus.clicked, bus.line.number) == ([True], 0)
    bus.line.show("1 strip due", "P05 2 h")
    bus.line.take_back()  # before it is answered
    assert service.heard()[:2] == ["notify", 0]
    assert service.heard() == ["close", 2]
    service.end()


def test_a_bus_on_which_nothing_shows_notices_is_tried_again(bus: RealBus, qtbot) -> None:
    bus.line.show("1 strip due", "P04 2 h")
    qtbot.waitUntil(lambda: bool(bus.gone))
    service = Service(qtbot, bus.environment)
    bus.line.show("1 strip due", "P05 2 h")
    assert service.heard()[:3] == ["notify", 0, "1 strip due"]
    qtbot.waitUntil(lambda: bus.line.number == 1)
    service.end()
    bus.daemon.terminate()
    qtbot.waitUntil(lambda: len(bus.gone) == 2)
    bus.line.show("1 strip due", "P06 2 h")
    qtbot.waitUntil(lambda: len(bus.gone) == 3)


def test_no_bus_is_no_notice_and_no_fault(qapp, tmp_path: Path) -> None:
    for environment in ({}, {"DBUS_SESSION_BUS_ADDRESS": f"unix:path={tmp_path}/none"}):
        line = NoticeBus(None, environment)
        gone: list[bool] = []
        line.gone.connect(lambda gone=gone: gone.append(True))
        line.show("1 strip due", "P04 2 h")
        line.take_back()
        assert gone == [True]


@pytest.mark.parametrize("answer", [b"REJECTED\r\n", b"OK 1\r\nxxxxxxxxxxxxxxxxxxxx"])
def test_what_is_no_bus_is_left(qapp, qtbot, answer: bytes) -> None:
    with tempfile.TemporaryDirectory(prefix="bus") as folder:
        server = QLocalServer()
        assert server.listen(f"{folder}/bus")
        line = NoticeBus(None, {"DBUS_SESSION_BUS_ADDRESS": f"unix:path={folder}/bus"})
        gone: list[bool] = []
        line.gone.connect(lambda: gone.append(True))
        line.show("1 strip due", "P04 2 h")
        qtbot.waitUntil(server.hasPendingConnections)
        other = server.nextPendingConnection()
        line.show("1 strip due", "P05 2 h")  # the first was not answered: a new line
        qtbot.waitUntil(server.hasPendingConnections)
        assert not gone
        other = server.nextPendingConnection()
        other.write(answer)
        qtbot.waitUntil(lambda: bool(gone))
        server.close()
