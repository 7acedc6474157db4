# SPDX-License-Identifier: MIT
"""`python -m desktop [BOOK] [--pictures DIR]`: starts the program, or draws its pages into files and ends."""

from __future__ import annotations

import argparse
import builtins
import importlib
import sys
from pathlib import Path


def main(arguments: list[str] | None = None) -> int:
    """Runs the program; returns its exit code."""
    from desktop.faults import Faults

    faults = Faults()
    faults.install()
    asked = _parser().parse_args(sys.argv[1:] if arguments is None else arguments)
    # PySide6 puts its own function in place of the import statement's, which slows every later import: Python's is put back
    own_import = builtins.__import__
    importlib.import_module("PySide6.QtCore")
    builtins.__import__ = own_import
    if asked.papers is not None:
        from desktop import paper_process

        return paper_process.main(asked.papers, asked.book)
    if asked.pictures is not None:
        from desktop.pictures import draw

        return draw(asked.pictures, asked.book)
    return _run(asked.book, faults)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m desktop", description="Stillroom, a perfumer's bench book.")
    parser.add_argument("book", nargs="?", type=Path, metavar="BOOK", help="the book to open; else the last one")
    parser.add_argument(
        "--pictures", type=Path, metavar="DIR", help="draw every page, light and dark, into this folder and end"
    )
    # the program asks this of itself
    parser.add_argument("--papers", type=Path, help=argparse.SUPPRESS)
    return parser


def _run(book: Path | None, faults: object) -> int:
    from desktop.instance import Instance, Program, hand_over, server_name
    from desktop.settings import NAME, Settings
    from desktop.window import make_window

    qt = Program(sys.argv[:1])
    qt.setApplicationName(NAME)
    qt.setApplicationDisplayName("")
    qt.setDesktopFileName("stillroom")
    settings = Settings()
    name = server_name(settings.file)
    if hand_over(name, book):
        return 0
    instance = Instance(name, qt)
    window = make_window(qt, settings)
    if book or settings.last_book:
        window.show_nothing()
    window.fit_to_screen()
    window.show()
    qt.processEvents()
    # the book's library is imported behind a window that already stands
    from desktop.app import App

    app = App(qt, settings, faults, window=window)  # type: ignore[arg-type]
    instance.asked.connect(app.raise_window)
    qt.opened.connect(app.raise_window)
    wanted = book or qt.wanted
    app.start(wanted.absolute() if wanted else None)
    code = qt.exec()
    instance.close()
    return code


if __name__ == "__main__":
    sys.exit(main())
