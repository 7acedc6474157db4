# SPDX-License-Identifier: MIT
"""Runs in the bundle before anything of the app: what a frozen program has to put right by itself."""

import builtins
import os
import sys
from pathlib import Path


def _give_back_the_environment() -> None:
    """The bundle's libraries are for this process only: a file manager or browser that is started from here would else load
    them in place of its own."""
    before = os.environ.pop("LD_LIBRARY_PATH_ORIG", None)
    if before is None:
        os.environ.pop("LD_LIBRARY_PATH", None)
    else:
        os.environ["LD_LIBRARY_PATH"] = before


def _keep_the_list_of_fonts() -> None:
    """matplotlib looks through all fonts once and keeps the list; without a folder of its own it would write beside other
    programs' lists, or look again at each start."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    os.environ.setdefault("MPLCONFIGDIR", str(base / "stillroom" / "matplotlib"))


def _import_qt() -> None:
    """PySide6 puts its own function in place of the import statement's, which slows every later import. PyInstaller's own hook
    imports it before desktop.__main__ can keep Python's."""
    own_import = builtins.__import__
    import PySide6.QtCore  # noqa: F401

    builtins.__import__ = own_import


if sys.platform == "linux":
    _give_back_the_environment()
_keep_the_list_of_fonts()
_import_qt()
