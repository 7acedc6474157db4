# SPDX-License-Identifier: MIT
"""Process start to the formula on screen, beside a bare window: python -m benchmarks start

Each round starts a bare QMainWindow, the program on the demo studio and the program on a full-size book in turn, as separate
processes, and takes the time from before the process began to the end of a first paint: of the bare window, of the program's
window, and of the formula's rows. Prints medians and ratios to the bare window of the same run.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import monotonic_ns

ROUNDS = 7

_BARE = """
import sys, time
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QMainWindow
class Window(QMainWindow):
    def paintEvent(self, event):
        super().paintEvent(event)
        print("window", (time.monotonic_ns() - int(sys.argv[1])) / 1e6)
        QApplication.exit()
app = QApplication(sys.argv)
window = Window()
window.resize(1280, 800)
window.show()
app.exec()
"""

_PROGRAM = """
import sys, time, builtins, os
began, book = int(sys.argv[1]), sys.argv[2]
def said(what):
    print(what, (time.monotonic_ns() - began) / 1e6, flush=True)
own = builtins.__import__
import PySide6.QtCore
builtins.__import__ = own
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QMainWindow
from desktop.faults import Faults
from desktop.settings import Settings
from desktop.window import make_window
from pathlib import Path
class Watch(QObject):
    seen = False
    def eventFilter(self, thing, event):
        if event.type() == QEvent.Type.Paint:
            if not self.seen and isinstance(thing, QObject) and thing.isWidgetType() and thing.window().isVisible():
                Watch.seen = True
                said("window")
            grid = thing.parent() if thing.isWidgetType() else None
            if type(grid).__name__ == "Grid" and grid.model() is not None and grid.model().rowCount() > 10:
                said("formula")
                os._exit(0)
        return False
faults = Faults()
faults.install()
qt = QApplication(sys.argv[:1])
watch = Watch()
qt.installEventFilter(watch)
settings = Settings(Path(os.environ["XDG_CONFIG_HOME"]) / "bench.ini")
window = make_window(qt, settings)
window.show_nothing()
window.show()
qt.processEvents()
from desktop.app import App
app = App(qt, settings, faults, window=window)
app.start(Path(book))
qt.exec()
"""


def _run(code: str, *arguments: str, home: Path) -> dict[str, float]:
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"QT_QPA_PLATFORM": environment.get("QT_QPA_PLATFORM", "offscreen"), "XDG_CONFIG_HOME": str(home)}
    done = subprocess.run(
        [sys.executable, "-c", code, str(monotonic_ns()), *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=environment,
    )
    found = {what: float(figure) for what, figure in (line.split() for line in done.stdout.splitlines())}
    if not found:
        raise RuntimeError(done.stderr)
    return found


def main() -> None:
    """Runs the rounds and prints the table."""
    from benchmarks.fullsize import make
    from db import make_demo

    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        make_demo(home / "demo.stillroom").close()
        make(home / "full.stillroom")
        bare, shown, formula = [], {"demo": [], "full": []}, {"demo": [], "full": []}
        for turn in range(ROUNDS + 1):
            first = _run(_BARE, home=home)["window"]
            rounds = {name: _run(_PROGRAM, str(home / f"{name}.stillroom"), home=home) for name in shown}
            if turn:  # the first round only warms the caches
                bare.append(first)
                for name, found in rounds.items():
                    shown[name].append(found["window"] / first)
                    formula[name].append(found["formula"] / first)
        print(f"bare window: {median(bare):.0f} ms (median of {ROUNDS})")
        for name in shown:
            print(f"{name} book: window ÷ bare {median(shown[name]):.2f}, formula on screen ÷ bare {median(formula[name]):.2f}")


if __name__ == "__main__":
    main()
