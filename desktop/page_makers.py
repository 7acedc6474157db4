# SPDX-License-Identifier: MIT
"""The pages of an open book, each made when it is first asked for, and how one leads to another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

from db import Progress
from desktop.session import Session
from desktop.window import Window

# In the order in which they are gone to most.
MODULES = tuple(f"desktop.pages.{name}.page" for name in ("weigh", "shelf", "smell", "compare"))


def import_pages(progress: Progress) -> None:
    """Imports the pages that may be asked for, in the worker: a page that is asked for then has only to be built."""
    for done, name in enumerate(MODULES):
        if not progress(done, len(MODULES)):
            return
        import_module(name)


def makers(window: Window, session: Session) -> Mapping[str, Callable[[], Any]]:
    """{name: how the page is made} of every page but the Bench; its modules are imported then at the latest."""

    def shelf() -> Any:
        from desktop.pages.shelf.page import ShelfPage

        page = ShelfPage(session, window.pages)
        page.weighing_asked.connect(lambda making: window.show_page("weigh").weigh(making))
        return page

    def weigh() -> Any:
        from desktop.pages.weigh.page import WeighPage

        page = WeighPage(session, window.pages)
        page.smelling_asked.connect(lambda vial: window.show_page("shelf").make_smelling(vial))
        page.shelf_asked.connect(lambda bottle: window.show_page("shelf").choose(bottle))
        return page

    def smell() -> Any:
        from desktop.pages.smell.page import SmellPage

        page = SmellPage(session, window.pages)
        page.asked.connect(window.go_to)
        return page

    def compare() -> Any:
        from desktop.pages.compare.page import ComparePage

        page = ComparePage(session, window.pages)
        page.asked.connect(window.go_to)
        page.weighing_asked.connect(weigh_again)
        page.test_asked.connect(lambda kept, remake: window.show_page("smell").plan_test((kept, remake)))
        page.dip_asked.connect(lambda bottles: window.show_page("smell").dip_these(bottles))
        return page

    def weigh_again(version: int, amount_g: float, bottles: Any) -> None:
        session.choose_version(version)
        window.show_page("weigh").begin_with(amount_g, bottles)

    def table() -> Any:
        from desktop.pages.import_page import ImportPage

        page = ImportPage(session, window.pages)
        page.left.connect(lambda: window.show_page("bench"))
        return page

    return {"shelf": shelf, "weigh": weigh, "smell": smell, "compare": compare, "import": table}
