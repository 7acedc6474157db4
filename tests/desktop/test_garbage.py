# SPDX-License-Identifier: MIT
"""Python's collector walks through everything only when nobody does anything."""

import gc
from collections.abc import Iterator

import pytest
from PySide6.QtWidgets import QLineEdit

from desktop import garbage
from desktop.garbage import Garbage


@pytest.fixture
def walks(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """How often it was told to walk, with as many small collections behind it as make it worth one."""
    before, made = gc.get_threshold(), []
    monkeypatch.setattr(garbage.gc, "collect", lambda: made.append(1))
    monkeypatch.setattr(garbage.gc, "get_count", lambda: (0, 0, garbage.WORTH))
    yield made
    gc.set_threshold(*before)


def test_it_walks_when_nothing_moved_since_the_last_tick(walks: list[int], qtbot, monkeypatch: pytest.MonkeyPatch) -> None:
    line = QLineEdit()
    qtbot.addWidget(line)
    monkeypatch.setattr(garbage.QApplication, "focusWidget", lambda: line)
    collector = Garbage()
    assert gc.get_threshold()[2] == garbage.RARELY
    collector.tick(7)
    assert not walks, "nobody knows yet whether anything moves"
    line.setText("amb 10 20")
    collector.tick(7)
    collector.tick(8)
    assert not walks, "somebody types, and something was put"
    collector.tick(8)
    assert len(walks) == 1
    monkeypatch.setattr(garbage.gc, "get_count", lambda: (0, 0, 0))
    collector.tick(8)
    assert len(walks) == 1, "nothing came together since"


def test_what_a_closed_book_left_is_looked_for_when_nobody_does_anything(walks: list[int], qtbot, monkeypatch) -> None:
    made: list[str] = []
    for name in ("freeze", "unfreeze"):
        monkeypatch.setattr(garbage.gc, name, lambda name=name: made.append(name))
    monkeypatch.setattr(garbage.gc, "get_count", lambda: (0, 0, 0))
    collector = Garbage()
    with collector.held():
        assert not gc.isenabled()
    assert gc.isenabled() and made == ["freeze"]
    collector.leave()
    collector.tick(1)
    assert not walks
    collector.tick(1)
    assert len(walks) == 1 and made == ["freeze", "unfreeze", "unfreeze", "freeze"]
    collector.tick(1)
    assert len(walks) == 1
