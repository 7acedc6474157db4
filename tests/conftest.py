# SPDX-License-Identifier: MIT
"""What every test stands on: no screen, no warning left unseen, a clock that only moves when told to.

packaging/test also gives private folders for settings, caches and temporary files; this file alone makes a run by hand
work. It imports no Qt: the tests of the sums must not wait for it.
"""

import logging
import os
import tempfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import configuration, settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
# No test may put a notice on the desktop of whoever runs it.
os.environ["DBUS_SESSION_BUS_ADDRESS"] = "disabled:"
# Even without a database Hypothesis keeps a folder, by default in the tree.
configuration.set_hypothesis_home_dir(Path(tempfile.gettempdir()) / "stillroom-hypothesis")
settings.register_profile("default", derandomize=True, max_examples=50, database=None, deadline=None)
settings.register_profile("long", max_examples=1000, database=None, deadline=None, print_blob=True)

# Said by matplotlib on a machine with many fonts, once, when drawing its first figure takes over 5 s.
_HARMLESS = ("Matplotlib is building the font cache",)


def pytest_configure(config: pytest.Config) -> None:
    """Known examples by default, so that a red run stays red; many new ones where -m asks for long tests."""
    wants_long = "long" in config.option.markexpr.replace("not long", "")
    settings.load_profile("long" if wants_long else "default")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if {"qtbot", "qapp", "qtmodeltester"} & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.gui)


class _Warnings(logging.Handler):
    """Keeps the text of every record of WARNING and above, from any thread."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.texts: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        text = self.format(record)
        if not any(harmless in text for harmless in _HARMLESS):
            self.texts.append(f"{record.levelname} {record.name}: {text}")


@pytest.fixture(autouse=True)
def no_warning_logged(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fails a test that logs WARNING or worse, unless it asks for caplog and so looks for itself."""
    handler = _Warnings()
    logging.getLogger().addHandler(handler)
    yield
    logging.getLogger().removeHandler(handler)
    if handler.texts and "caplog" not in request.fixturenames:
        text = "\n".join(("logged, and nobody looked (a test that expects it asks for caplog):", *handler.texts))
        pytest.fail(text, pytrace=False)


class Clock:
    """A clock for `clock=`: `clock()` is an aware datetime; it moves by `tick`, or by setting `at` (zones too)."""

    def __init__(self, at: str = "2025-04-10T12:00:00+02:00") -> None:
        self.at = datetime.fromisoformat(at)

    def __call__(self) -> datetime:
        return self.at

    now = __call__

    def tick(self, *, seconds: float = 0, minutes: float = 0, hours: float = 0, days: float = 0) -> datetime:
        self.at += timedelta(seconds=seconds, minutes=minutes, hours=hours, days=days)
        return self.at


@pytest.fixture
def clock() -> Clock:
    return Clock()
