# SPDX-License-Identifier: MIT
"""A balance on a cable, played by a pseudo-terminal: what it sends fills the figure field and accepts nothing."""

import os
import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox

from db import Book, make_demo
from desktop import serial_balance
from desktop.models.cable import Cable, FigureByCable, Lines, Steady, keep_cable, kept_cable
from desktop.pages.weigh.balance_cable import NOTHING, OPENED, STOP, TRY, CableSheet
from desktop.pages.weigh.balances import CABLE
from desktop.pages.weigh.by_cable import MARK
from desktop.pages.weigh.page import WeighPage
from desktop.serial_balance import SerialBalance, sentence_of
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Making, Version

Key = Qt.Key
SOON = 0.05


class Wire:
    """The balance's end of a cable; `port` is a link, so that it can be pulled and plugged in again."""

    def __init__(self, folder: Path) -> None:
        self.port = folder / "balance"
        self.plug()

    def plug(self) -> None:
        self.end, self._held = os.openpty()
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(self._held))

    def say(self, *lines: str) -> None:
        os.write(self.end, "".join(f"\r\n{line}\r\n" for line in lines).encode())

    def asked(self) -> bytes:
        return os.read(self.end, 100)

    def pull(self) -> None:
        for end in (self.end, self._held):
            with suppress(OSError):
                os.close(end)


@pytest.fixture
def wire(tmp_path: Path) -> Iterator[Wire]:
    made = Wire(tmp_path)
    yield made
    made.pull()


@pytest.fixture
def no_listener_left(qtbot) -> Iterator[None]:
    yield
    qtbot.waitUntil(lambda: not [one for one in threading.enumerate() if one.name.startswith("balance at")])


def heard(balance: SerialBalance) -> tuple[list[tuple[float, bool]], list[str]]:
    read: list[tuple[float, bool]] = []
    failed: list[str] = []
    balance.read.connect(lambda mass, is_stable: read.append((mass, is_stable)))
    balance.failed.connect(failed.append)
    return read, failed


@pytest.fixture
def balance(qapp: QApplication, no_listener_left) -> Iterator[SerialBalance]:
    made = SerialBalance(retry_s=SOON)
    yield made
    made.stop()
    shiboken6.delete(made)


def listen(balance: SerialBalance, cable: Cable, qtbot) -> None:
    with qtbot.waitSignal(balance.opened):
        balance.start(cable)


# the port ----------------------------------------------------------------------------------------------------------------


def test_lines_come_as_masses_and_three_equal_ones_are_stable(balance: SerialBalance, wire: Wire, qtbot) -> None:
    read, failed = heard(balance)
    listen(balance, Cable(str(wire.port)), qtbot)
    os.write(wire.end, b"45.6 g\r\n")  # the end of a line that began before anybody listened
    wire.say("+ 12,345 g", "52.1 mg", "nonsense", "-0.1 kg", "2 oz", "5 g", "5 g", "5.0 g")
    qtbot.waitUntil(lambda: len(read) == 6)
    assert read == [(12.345, False), (0.0521, False), (-100.0, False), (5.0, False), (5.0, False), (5.0, True)]
    assert failed == []


def test_signals_come_on_the_thread_of_the_window(balance: SerialBalance, wire: Wire, qtbot) -> None:
    threads: list[threading.Thread] = []
    balance.read.connect(lambda *_: threads.append(threading.current_thread()))
    listen(balance, Cable(str(wire.port)), qtbot)
    with qtbot.waitSignal(balance.read):
        wire.say("1 g")
    assert threads == [threading.main_thread()]


@pytest.mark.parametrize("cable", [Cable(bits=7, parity="even", stop=2, baud=1200), Cable(parity="odd", baud=115200)])
def test_every_setting_opens_the_port(balance: SerialBalance, wire: Wire, cable: Cable, qtbot) -> None:
    listen(balance, replace(cable, port=str(wire.port)), qtbot)


def test_a_balance_that_wants_to_be_asked_is_asked_again_and_again(balance: SerialBalance, wire: Wire, qtbot) -> None:
    read, _ = heard(balance)
    listen(balance, Cable(str(wire.port), ask="\\x1bQ\\r\\n", mark="g"), qtbot)
    os.set_blocking(wire.end, False)
    for count in (1, 2):
        said = b""

        def asked() -> bool:
            nonlocal said
            with suppress(BlockingIOError):
                said += wire.asked()
            return said == b"\x1bQ\r\n"

        qtbot.waitUntil(asked)
        wire.say(f"{count}.5 g")
        qtbot.waitUntil(lambda count=count: len(read) == count)
    assert read == [(1.5, True), (2.5, True)]


def test_a_pulled_cable_is_said_once_and_heard_again_when_it_is_back(balance: SerialBalance, wire: Wire, qtbot) -> None:
    read, failed = heard(balance)
    listen(balance, Cable(str(wire.port), mark="S"), qtbot)
    with qtbot.waitSignal(balance.failed):
        wire.pull()
    assert failed == [f"The balance at {wire.port} has gone. Look at its cable; it is heard again as soon as it is back. "
                      "Figures can be typed meanwhile."]  # fmt: skip
    with qtbot.waitSignal(balance.opened):
        wire.plug()
    with qtbot.waitSignal(balance.read):
        wire.say("S 3 g")
    assert read == [(3.0, True)] and len(failed) == 1


def test_a_port_that_is_not_there_or_no_port_is_a_sentence(balance: SerialBalance, tmp_path: Path, qtbot) -> None:
    for port in (tmp_path / "none", tmp_path):
        with qtbot.waitSignal(balance.failed) as told:
            balance.start(Cable(str(port)))
        assert told.args[0].startswith(f"No balance is found at {port}.")


def test_two_do_not_listen_to_one_port_and_one_gives_it_to_the_next(wire: Wire, balance: SerialBalance, qtbot) -> None:
    other = SerialBalance(retry_s=SOON)
    listen(other, Cable(str(wire.port)), qtbot)
    with qtbot.waitSignal(balance.failed) as told:
        balance.start(Cable(str(wire.port)))
    assert "is in use by another program" in told.args[0]
    with qtbot.waitSignal(balance.opened):
        shiboken6.delete(other)  # a page that goes away says no stop
    balance.stop()
    listen(balance, Cable(str(wire.port), mark="g"), qtbot)
    listen(balance, Cable(str(wire.port), mark="S"), qtbot)


def test_every_fault_has_its_sentence() -> None:
    said = {sentence_of(fault, "P", was_open=was_open) for fault, was_open in (
        (PermissionError(13, ""), False), (BlockingIOError(11, ""), False), (FileNotFoundError(2, ""), False),
        (OSError(5, ""), True), (ValueError("Not a valid baudrate"), False))}  # fmt: skip
    assert len(said) == 5 and all("P" in sentence and sentence.endswith(".") for sentence in said)
    windows = OSError("could not open port 'P': PermissionError(13, 'Access is denied.', None, 5)")
    assert "in use" in sentence_of(windows, "P", was_open=False)


def test_chatter_does_not_pile_up(balance: SerialBalance, wire: Wire, qtbot) -> None:
    read, _ = heard(balance)
    listen(balance, Cable(str(wire.port)), qtbot)
    for _ in range(20):
        wire.say(*["1 g"] * 100)
    wire.say("2 g")
    qtbot.waitUntil(lambda: bool(read) and read[-1] == (2.0, False))
    listener = balance._listener
    assert listener is not None and listener.news.maxlen == serial_balance.KEPT


def test_the_ports_of_this_computer_can_be_listed() -> None:
    assert all(isinstance(port, str) for port in serial_balance.ports())


# lines and stillness ------------------------------------------------------------------------------------------------------


@given(st.lists(st.sampled_from([b"1 g\r\n", b"\x0223.4 g\x03", b"\n", b"ST\t5 g\r"]), max_size=8), st.data())
def test_lines_are_the_same_however_the_bytes_are_cut(parts: list[bytes], data) -> None:
    whole = b"".join(parts)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(whole)), max_size=6)))
    lines = Lines()
    lines.fell_silent()
    found: list[str] = []
    for begin, end in zip([0, *cuts], [*cuts, len(whole)], strict=True):
        found += lines.feed(whole[begin:end])
    assert found == [part.decode().strip("\x02\x03\r\n") for part in parts if part.strip()]


def test_half_a_line_is_left_out_and_a_silence_begins_a_line() -> None:
    lines = Lines()
    lines.fell_silent()
    assert lines.feed(b"12.3") == []
    assert lines.feed(b"45 g\r\n") == ["12.345 g"]
    lines = Lines()
    assert lines.feed(b"2.345 g\r\n12.345 g\r\n") == ["12.345 g"]
    assert lines.feed(b"x" * 300) == []
    assert lines.feed(b"7 g\r\n8 g\r\n") == ["8 g"]


def test_with_a_mark_only_marked_lines_are_stable_and_a_change_begins_the_row_anew() -> None:
    steady = Steady("ST")
    assert [steady.take(line) for line in ("US 1 g", "US 1 g", "US 1 g", "ST 1 g")] == [(1.0, False)] * 3 + [(1.0, True)]
    plain = Steady()
    lines = ("1 g", "1 g", "2 g", "1 g", "1 g", "1 g", "1 g")
    assert [found[1] for line in lines if (found := plain.take(line))] == [False] * 5 + [True, True]


# the field ----------------------------------------------------------------------------------------------------------------

TARE, TOTAL, DIFFERENCE = "tare each", "running total", "by difference"


def test_only_an_empty_field_or_one_that_came_by_cable_is_filled() -> None:
    figure = FigureByCable()
    assert figure.take("", 0.052, False, 0.001, TARE) is None
    assert figure.take("", 0.05, True, 0.001, TARE) == "0.050"
    assert figure.take("0.050", 0.05, True, 0.001, TARE) is None
    assert figure.take("0.050", 0.0521, True, 0.001, TARE) == "0.0521"
    assert figure.take("0.06", 0.07, True, 0.001, TARE) is None
    figure.was_typed("0.0521", TARE)
    assert figure.take("0.0521", 0.07, True, 0.001, TARE) is None
    assert figure.take("", 0.0, True, 0.001, TARE) is None
    assert figure.take("", -12.0, True, 0.001, TARE) is None


def test_an_accepted_reading_is_not_offered_for_the_next_line() -> None:
    figure = FigureByCable()
    assert figure.take("", 0.05, True, 0.001, TARE) == "0.050"
    figure.was_accepted()
    assert figure.take("", 0.05, True, 0.001, TARE) is None
    assert figure.take("", 0.051, True, 0.001, TARE) is None  # its last digit flickers
    assert figure.take("", 0.0, True, 0.001, TARE) is None
    assert figure.take("", 0.05, True, 0.001, TARE) == "0.050"
    total = FigureByCable()
    assert total.take("", 1.05, True, 0.001, TOTAL) == "1.050"
    total.was_accepted()
    assert total.take("", 1.05, True, 0.001, TOTAL) is None
    assert total.take("", 1.051, True, 0.001, TOTAL) == "1.051"


def test_by_difference_the_minus_holds_the_first_figure_and_the_second_comes_behind_it() -> None:
    figure = FigureByCable()
    assert figure.take("", 12.345, True, 0.001, DIFFERENCE) == "12.345"
    assert figure.was_typed("-", DIFFERENCE) == "12.345-"
    assert figure.take("12.345-", 12.345, True, 0.001, DIFFERENCE) is None
    assert figure.take("12.345-", 12.04, True, 0.001, DIFFERENCE) == "12.345-12.040"
    assert figure.take("12.345-12.040", 12.041, True, 0.001, DIFFERENCE) == "12.345-12.041"
    assert figure.was_typed("12.345-12.04", DIFFERENCE) is None
    assert figure.take("12.345-12.04", 12.041, True, 0.001, DIFFERENCE) is None
    assert figure.was_typed("-", TARE) is None


# kept settings ------------------------------------------------------------------------------------------------------------


def test_a_cable_is_kept_by_book_and_balance_on_this_computer(tmp_path: Path, qapp) -> None:
    settings = Settings(tmp_path / "settings.ini")
    cable = Cable("/dev/balance", 1200, 7, "even", 2, "Q\\r\\n", " S, ")
    keep_cable(settings, "book", 7, cable)
    settings.write()
    again = Settings(tmp_path / "settings.ini")
    assert kept_cable(again, "book", 7) == cable
    assert kept_cable(again, "book", 8) == kept_cable(again, "other", 7) == Cable()
    for nonsense in ("{", "[1]", '{"baud": 7}', '{"baud": "fast"}', '{"bits": 9}'):
        settings.keep("cable/book/7", nonsense)
        assert kept_cable(settings, "book", 7) == Cable()


# on the page --------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("serial") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


@pytest.fixture
def page(studio_bytes: bytes, theme: Theme, tmp_path: Path, wire: Wire, clock, qtbot, no_listener_left) -> Iterator[WeighPage]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        session = Session(book, theme, Settings(tmp_path / "settings.ini"))
        own = next(balance for balance in book.all(Balance) if balance.name.startswith("B1"))
        session.settings.keep(f"balance/{book.uid}", str(own.key))
        keep_cable(session.settings, book.uid, own.key, Cable(str(wire.port), mark="ST"))
        session.choose_version(book.get(Version, "SR-3").key)
        made = WeighPage(session)
        made.resize(1216, 740)
        made.show()
        qtbot.waitExposed(made)
        made.activateWindow()
        qtbot.waitUntil(made.isActiveWindow)
        yield made
        shiboken6.delete(made)


def own_balance(page: WeighPage) -> Balance:
    return next(balance for balance in page._session.book.all(Balance) if balance.name.startswith("B1"))


def begin(page: WeighPage, mode: str = TARE) -> None:
    """A weighing of the first lines of a version, taken up on the page."""
    own = own_balance(page)
    page.begin.balance.choose(own.key)
    page.begin.confirm()
    page.scale.making = replace(page.scale.making, mode=mode)
    page.scale.cable.watch(own, mode)


def figures_in(page: WeighPage) -> list[float]:
    making: Making = page.scale.making
    return [move.read_g for move in page._session.book.weighings.poured(making.key)]


def fills(page: WeighPage, wire: Wire, line: str, text: str, qtbot) -> None:
    wire.say(line)
    qtbot.waitUntil(lambda: page.scale.figure.text() == text)


def passes(page: WeighPage, wire: Wire, line: str, qtbot) -> None:
    """A line is heard, whatever becomes of it."""
    with qtbot.waitSignal(page.scale.cable.port.heard):
        wire.say(line)


def open_scale(page: WeighPage, qtbot) -> None:
    with qtbot.waitSignal(page.scale.cable.port.opened):
        begin(page)


def test_a_stable_reading_fills_the_field_and_enter_accepts_it(page: WeighPage, wire: Wire, qtbot) -> None:
    scale = page.scale
    open_scale(page, qtbot)
    passes(page, wire, "US 0.049 g", qtbot)
    assert scale.figure.text() == "" and scale.cable.text() == ""
    fills(page, wire, "ST 0.049 g", "0.049", qtbot)
    assert scale.cable.text() == MARK and figures_in(page) == []
    fills(page, wire, "ST 0.05 g", "0.050", qtbot)
    assert figures_in(page) == []
    QTest.keyClick(scale.figure, Key.Key_Return)
    assert figures_in(page) == [0.05]
    assert scale.figure.text() == "" and scale.cable.text() == ""
    passes(page, wire, "ST 0.05 g", qtbot)  # not tared yet: what was accepted is no figure of the next line
    assert scale.figure.text() == ""
    passes(page, wire, "ST 0.000 g", qtbot)
    fills(page, wire, "ST 50.1 mg", "0.0501", qtbot)
    assert figures_in(page) == [0.05]


def test_what_was_typed_is_not_overwritten_and_typing_replaces_what_came(page: WeighPage, wire: Wire, qtbot) -> None:
    scale = page.scale
    open_scale(page, qtbot)
    QTest.keyClicks(scale.figure, "0.0")
    passes(page, wire, "ST 0.049 g", qtbot)
    assert scale.figure.text() == "0.0" and scale.cable.text() == ""
    for _ in range(3):
        QTest.keyClick(scale.figure, Key.Key_Backspace)
    fills(page, wire, "ST 0.049 g", "0.049", qtbot)
    QTest.keyClicks(scale.figure, "0.06")
    assert scale.figure.text() == "0.06" and scale.cable.text() == ""
    passes(page, wire, "ST 0.05 g", qtbot)
    assert scale.figure.text() == "0.06"


def test_a_running_total_is_taken_as_the_balance_shows_it(page: WeighPage, wire: Wire, qtbot) -> None:
    with qtbot.waitSignal(page.scale.cable.port.opened):
        begin(page, TOTAL)
    fills(page, wire, "ST 0.05 g", "0.050", qtbot)


def test_by_difference_by_keyboard(page: WeighPage, wire: Wire, qtbot) -> None:
    with qtbot.waitSignal(page.scale.cable.port.opened):
        begin(page, DIFFERENCE)
    fills(page, wire, "ST 12.345 g", "12.345", qtbot)
    QTest.keyClicks(page.scale.figure, "-")
    assert page.scale.figure.text() == "12.345-"
    fills(page, wire, "ST 12.295 g", "12.345-12.295", qtbot)
    QTest.keyClick(page.scale.figure, Key.Key_Home)
    QTest.keyClick(page.scale.figure, Key.Key_Delete)
    passes(page, wire, "ST 12.2 g", qtbot)
    assert page.scale.figure.text() == "2.345-12.295"


def test_where_the_code_of_a_bottle_is_asked_for_no_figure_comes(page: WeighPage, wire: Wire, qtbot) -> None:
    open_scale(page, qtbot)
    page.scale.every_bottle.setChecked(True)
    passes(page, wire, "ST 0.049 g", qtbot)
    assert page.scale.figure.text() == ""
    page.scale.every_bottle.setChecked(False)
    fills(page, wire, "ST 0.049 g", "0.049", qtbot)


def test_other_units_do_nothing(page: WeighPage, wire: Wire, qtbot) -> None:
    open_scale(page, qtbot)
    passes(page, wire, "ST 0.049 oz", qtbot)
    assert page.scale.figure.text() == ""
    fills(page, wire, "ST 0.000049 kg", "0.049", qtbot)


def test_a_pulled_cable_is_told_beside_the_field_and_figures_can_be_typed(page: WeighPage, wire: Wire, qtbot) -> None:
    scale = page.scale
    scale.cable.port._retry_s = SOON
    open_scale(page, qtbot)
    with qtbot.waitSignal(scale.cable.port.failed):
        wire.pull()
    assert "has gone" in scale.cable.text() and scale.cable.property("role") == "amber"
    QTest.keyClicks(scale.figure, "0.05")
    QTest.keyClick(scale.figure, Key.Key_Return)
    assert figures_in(page) == [0.05] and "has gone" in scale.cable.text()
    with qtbot.waitSignal(scale.cable.port.opened):
        wire.plug()
    assert scale.cable.text() == ""


def test_the_port_is_let_go_with_the_view_and_without_one_nothing_listens(page: WeighPage, wire: Wire, qtbot) -> None:
    open_scale(page, qtbot)
    page.show_begin()
    assert page.scale.cable.port.cable is None
    with qtbot.waitSignal(page.scale.cable.port.opened):
        page.weigh(page.scale.making.key)
    balance = own_balance(page)
    keep_cable(page._session.settings, page._session.book.uid, balance.key, Cable())
    page.show_begin()
    page.weigh(page.scale.making.key)
    assert page.scale.cable.port.cable is None
    page.scale.cable.watch(None, TARE)
    assert page.scale.cable.port.cable is None


# the settings on the balances' sheet ---------------------------------------------------------------------------------------


@pytest.fixture
def form(page: WeighPage, qtbot) -> CableSheet:
    page.show_balances()
    QTest.keyClick(page.balances.grid, Key.Key_I, Qt.KeyboardModifier.ControlModifier)
    assert page.balances.chips.name == CABLE and page.balances.cable.isVisible()
    return page.balances.cable


def test_the_fields_show_what_is_kept_and_keep_what_is_typed(page: WeighPage, form: CableSheet, wire: Wire) -> None:
    assert form.port.currentText() == str(wire.port) and form.mark.text() == "ST" and not form.is_begun
    assert form.port.hasFocus()
    form.baud.setCurrentText("1200")
    form.parity.setCurrentText("even")
    form.ask.setText("\\q")
    assert form.is_begun
    form.confirm()
    assert "cannot be sent" in form.fields["ask"].remark.text()
    form.ask.setText("Q\\r\\n")
    said: list[str] = []
    page._session.said.connect(lambda sentence, _: said.append(sentence))
    form.confirm()
    kept = kept_cable(page._session.settings, page._session.book.uid, form.balance.key)
    assert kept == Cable(str(wire.port), 1200, 8, "even", 1, "Q\\r\\n", "ST")
    assert said == [f"{form.balance.name} is read at {wire.port} on this computer."]
    form.port.setEditText("")
    form.confirm()
    assert said[-1].endswith("is not read by cable; figures are typed.")
    assert page._session.book.can_undo is None


def test_a_try_shows_the_line_as_it_came_and_what_was_understood(form: CableSheet, wire: Wire, qtbot) -> None:
    with qtbot.waitSignal(form.reader.opened):
        QTest.keyClick(form.mark, Key.Key_F5)
    assert form.attempt.text() == STOP and form.meant.text() == OPENED
    for line, meant in (("US,+ 12.30 g", "12.300\u2009g, not stable yet"), ("ST,- 5 mg", "\u22120.005\u2009g, stable"),
                        ("ST 2 oz", NOTHING)):  # fmt: skip
        with qtbot.waitSignal(form.reader.heard):
            wire.say(line)
        assert (form.came.text(), form.meant.text()) == (f"Came: {line}", f"Understood: {meant}")
    with qtbot.waitSignal(form.reader.opened):
        form.mark.setFocus()
        form.mark.selectAll()
        QTest.keyClicks(form.mark, "U")
    assert form.reader.cable.mark == "U"
    form.baud.setCurrentText("300")
    form.baud.activated.emit(0)
    assert form.reader.cable is None and form.meant.text() == "Changed: F5 tries it again." and form.attempt.text() == TRY


def test_a_try_says_what_is_the_matter_and_ends_with_the_view(page: WeighPage, form: CableSheet, tmp_path: Path, qtbot) -> None:
    form.port.setEditText("")
    form.attempt.click()
    assert "A port is missing" in form.fields["port"].remark.text() and form.reader.cable is None
    form.port.setEditText(str(tmp_path / "none"))
    with qtbot.waitSignal(form.reader.failed):
        form.attempt.click()
    assert form.meant.text().startswith("No balance is found") and form.meant.property("role") == "amber"
    page.show_begin()
    assert form.reader.cable is None and form.attempt.text() == TRY


def test_the_list_of_ports_is_looked_up_when_it_is_opened(form: CableSheet, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("desktop.pages.weigh.balance_cable.ports", lambda: ["/dev/one", "/dev/two"])
    monkeypatch.setattr(QComboBox, "showPopup", lambda box: None)  # the offscreen platform grabs no keyboard
    form.port.setEditText("/dev/mine")
    form.port.showPopup()
    assert [form.port.itemText(at) for at in range(form.port.count())] == ["/dev/one", "/dev/two"]
    assert form.port.currentText() == "/dev/mine"
