# SPDX-License-Identifier: MIT
"""What is read in pieces: at once where it is short, between the turns where it is long, and never what nobody wants any more."""

from collections.abc import Iterator
from types import SimpleNamespace

import pytest

from desktop import led
from desktop.led import Led
from desktop.long_work import LongWork


@pytest.fixture
def of(qtbot, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Somebody with a road for long work, to whom everything is long."""
    monkeypatch.setattr(led, "AT_ONCE_S", -1.0)
    return SimpleNamespace(work=LongWork())


def pieces(name: str, done: list[str], count: int = 3) -> Iterator[None]:
    for place in range(count):
        done.append(f"{name}{place}")
        yield


def test_what_is_short_is_done_at_once() -> None:
    done: list[str] = []
    one = Led(SimpleNamespace(work=None))
    one.lead(pieces("a", done), lambda: done.append("end"))
    assert done == ["a0", "a1", "a2", "end"] and not one.is_going


def test_what_is_begun_anew_takes_the_place_of_what_was_not_at_its_end(of: SimpleNamespace, qtbot) -> None:
    done: list[str] = []
    one = Led(of)
    one.lead(pieces("a", done), lambda: done.append("a end"))
    one.lead(pieces("b", done), lambda: done.append("b end"))
    assert one.is_going and done == ["a0", "b0"]
    qtbot.waitUntil(lambda: not one.is_going and of.work.is_idle)
    assert done == ["a0", "b0", "b1", "b2", "b end"], "no piece of what nobody wants any more"


def test_all_of_it_now_for_who_needs_it(of: SimpleNamespace, qtbot) -> None:
    done: list[str] = []
    one = Led(of)
    one.lead(pieces("a", done), lambda: done.append("end"))
    one.finish()
    one.finish()
    assert done == ["a0", "a1", "a2", "end"] and not one.is_going
    qtbot.waitUntil(lambda: of.work.is_idle)
    assert done == ["a0", "a1", "a2", "end"]


def test_what_is_dropped_does_not_end(of: SimpleNamespace, qtbot) -> None:
    done: list[str] = []
    one = Led(of)
    one.lead(pieces("a", done), lambda: done.append("end"))
    one.drop()
    qtbot.waitUntil(lambda: of.work.is_idle)
    assert done == ["a0"] and not one.is_going


def test_a_fault_leaves_nothing_going() -> None:
    def broken() -> Iterator[None]:
        yield
        raise ValueError("damaged")

    done: list[str] = []
    one = Led(SimpleNamespace(work=None))
    with pytest.raises(ValueError, match="damaged"):
        one.lead(broken(), lambda: done.append("end"))
    one.finish()
    assert done == [] and not one.is_going
