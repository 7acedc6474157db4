# SPDX-License-Identifier: MIT
"""A program of the bundle that is built but not shipped: with nothing but the bundle's modules and libraries it does what the app
does only now and then, so that nothing of it is missing on the day it is asked for."""

import builtins
import ctypes
import importlib
import importlib.metadata
import os
import sys
import tempfile
from pathlib import Path

INNER = Path(sys._MEIPASS)  # type: ignore[attr-defined]


def modules() -> str:
    """Every module of ours; their names are the arguments, for none of them is a file here."""
    names = sys.argv[1:]
    for name in names:
        importlib.import_module(name)
    return f"{len(names)} modules of ours"


def compiled() -> str:
    """Every compiled file, Qt's plugins too: none lacks a library, stripping has spoiled none."""
    files = sorted(path for path in INNER.rglob("*.so*") if path.is_file() and not path.is_symlink())
    for path in files:
        ctypes.CDLL(str(path))
    return f"{len(files)} libraries"


def search() -> str:
    """The search for the fewest additions."""
    from perfumery import Balance, cures

    return f"{len(cures([0.05, 0.65, 4.3], [0.062, 0, 0], 0, Balance('fine', d_g=0.001, s_g=0.0008), 0.05))} cures"


def curves() -> str:
    """A chart in every format it can be saved in."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    axes.set_xscale("log")
    axes.plot([1, 10, 100], [3, 2, 1], label="wet stone · é − ½")
    axes.legend()
    for ending in ("png", "svg", "pdf"):
        figure.savefig(f"curves.{ending}")
    return "curves"


def sheets() -> str:
    """A spreadsheet, there and back."""
    from openpyxl import Workbook, load_workbook

    book = Workbook()
    book.active.append(["Bergamot oil", 12.5])
    book.save("table.xlsx")
    assert load_workbook("table.xlsx").active["B1"].value == 12.5
    return "a spreadsheet"


def ports() -> str:
    """What a balance could be plugged into."""
    from serial.tools.list_ports import comports

    return f"{len(list(comports()))} serial ports"


def paper() -> str:
    """A drawing on both kinds of PDF."""
    from PySide6.QtGui import QPainter, QPdfWriter
    from PySide6.QtPrintSupport import QPrinter
    from PySide6.QtSvg import QSvgRenderer
    from PySide6.QtWidgets import QApplication

    import resources

    app = QApplication(["stillroom"])
    drawing = QSvgRenderer(str(resources.path("icons/stillroom.svg")))
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFileName("printed.pdf")
    for device in (QPdfWriter("written.pdf"), printer):
        painter = QPainter(device)
        drawing.render(painter)
        painter.end()
    assert min(Path(name).stat().st_size for name in ("printed.pdf", "written.pdf")) > 1000 and app is not None
    return "PDF"


def itself() -> str:
    """What it says of itself, and what it leaves as it found it."""
    assert builtins.__import__.__module__ == "builtins", "PySide6's import is in place of Python's"
    assert "LD_LIBRARY_PATH" not in os.environ, "programs started from here would load the bundle's libraries"
    assert Path(os.environ["MPLCONFIGDIR"]).is_relative_to(Path.home()), "the list of fonts would be made at every start"
    return f"version {importlib.metadata.version('stillroom')}"


if __name__ == "__main__":
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    with tempfile.TemporaryDirectory() as scratch:
        os.chdir(scratch)
        print("tried:", ", ".join(job() for job in (itself, modules, compiled, search, curves, sheets, ports, paper)))
