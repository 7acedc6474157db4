# SPDX-License-Identifier: MIT
"""The seal holds everywhere: the whole window is walked with two sealed sittings and a test that is not revealed, and no text of
any page, list, tip, search, notice, clipboard or export lets a code be paired with what it stands for.

A backup is a copy of the file and holds what the file holds; it is left out. The walk is held to account by a second test, which
takes the veil away and must find leaks.
"""

import csv
import html
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from random import Random

import pytest
from PySide6.QtCore import QAbstractItemModel, QAbstractTableModel, QModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QListWidget,
    QPlainTextEdit,
    QWidget,
)

from db import Book, make_demo
from db.seal import Seal
from desktop import export_pdf
from desktop.app import App
from desktop.faults import Faults
from desktop.settings import Settings
from desktop.widgets.grid import Grid
from desktop.widgets.stand import Stand
from perfumery import Answer, BlindTest, Material, Project, Reading, Sitting, Strip, Version

_ROLES = (
    Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.EditRole, Qt.ItemDataRole.AccessibleTextRole,
    Qt.ItemDataRole.AccessibleDescriptionRole, *(Qt.ItemDataRole(Qt.ItemDataRole.UserRole + n) for n in range(1, 4)),
)  # fmt: skip
VIALS = ("V021-12", "V022-12", "V024-12", "V027-12")


@dataclass(frozen=True)
class Secret:
    """One paper under seal: the code it may be called by, the names that must never stand beside it, and the code on its hidden
    end, which must stand nowhere at all where the book knows whose it is."""

    code: str
    names: tuple[str, ...]
    hidden: str = ""


@dataclass
class Walk:
    """The app, what is sealed in it, and every text that was met, each with where."""

    app: App
    secrets: list[Secret]
    told: list[tuple[str, str]]

    def leaks(self) -> set[str]:
        """Where a code stood in one sentence with what it stands for, or what is hidden stood at all."""
        found = set()
        for where, text in self.told:
            for sentence in re.split(r"(?<=[.;])\s|\n", text):
                words = set(re.findall(r"\w[\w-]*", sentence))
                for secret in self.secrets:
                    if secret.hidden in words or (secret.code in words and not words.isdisjoint(secret.names)):
                        found.add(f"{where}: {sentence[:160]}")
        return found


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("seal") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


def sealed(book: Book, told: list[tuple[str, str]]) -> list[Secret]:
    """Two sittings under seal, one shuffled, each with readings under codes; and a test with an answer, not revealed."""
    secrets = []
    for shuffled in (False, True):
        sitting = book.sittings.begin(purpose="which is which", blind=True)
        for code in VIALS:
            bottle = next(one for one in book.all(_bottle()) if one.code == code)
            paper = book.next_code(Strip, "P")
            book.put(Strip(paper, bottle.key, book.now(), sitting=sitting.key, strength=0.12, carrier=bottle.carrier))
        # what was told while the strips were dipped was before the seal
        told[:] = [one for one in told if not re.search(r"dipped_at", one[1])]
        known = book.sittings.seal(sitting.key, shuffled=shuffled, rng=Random(5 + shuffled))
        for code, strip in known.items():
            origin = book.origin(strip.bottle)
            names = (strip.code,) if shuffled else (
                strip.code, origin.bottle.code, origin.version.code, origin.making.code or origin.bottle.code,
            )  # fmt: skip
            secrets.append(Secret(code, tuple(dict.fromkeys(names)), "" if shuffled else strip.code))
        for strip in book.all(Strip, sitting=sitting.key):
            book.put(Reading(strip.key, book.now(), intensity=3.5, words={"wet stone": 2}, note="under a code"))
    test = book.tests.plan("triangle", tuple(one.key for one in book.all(_bottle()) if one.code in VIALS[:2]), 3, rng=Random(4))
    book.tests.answer(test.key, 0, test.sets[0].split()[1])
    # a test names its samples, but no code of it may stand beside a letter or a sample
    earlier = "".join("".join(one.sets) for one in book.all(BlindTest) if one.revealed_at is not None)
    for one in test.sets:
        for code in one.split():
            if code.isdigit() and code not in earlier:
                secrets.append(Secret(code, ("A", "B", *VIALS[:2], "SR-1", "SR-2")))
    return secrets


def _bottle() -> type:
    from perfumery import Bottle

    return Bottle


@pytest.fixture
def walk(studio_bytes: bytes, tmp_path: Path, clock, qapp: QApplication, qtbot) -> Iterator[Walk]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T10:00:00+02:00")
    app = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path), clock=clock)
    app.window.resize(1280, 800)
    app.window.show()
    qtbot.waitExposed(app.window)
    app.open_book(path)
    made = Walk(app, [], [])
    app.book.on_change(lambda change: made.told.extend(("change", str(pair)) for pair in change.pairs))
    app.session.said.connect(lambda text, _: made.told.append(("said", text)))
    made.secrets = sealed(app.book, made.told)
    assert any(where == "change" and "clock_at" in text for where, text in made.told), "the sealing itself was told"
    yield made
    app.leave()


def met(walk: Walk) -> None:
    """Goes everywhere and notes what stands there."""
    app = walk.app
    book, window = app.book, app.window
    assert book is not None
    app.session.choose_version(book.get(Version, "SR-4").key)
    window.show_page("bench").set_mode("smelling")
    note_window(walk, "bench")
    for strip in book.strips(app.session.project_key)[-8::4]:
        if strip.bottle == 0:
            window.bench.strips.choose_strip(strip.key)
            note_window(walk, "bench, a strip under seal")
    for name in ("shelf", "weigh", "smell", "compare"):
        page = window.show_page(name)
        note_window(walk, name)
        for view in getattr(page, "VIEWS", {}):
            page.show_view(view)
            if view == "sittings":
                for row in book.sittings.rows()[:2]:
                    page.go_to(row.sitting)
                    note_window(walk, f"{name}, sitting")
                page.views[view].dip()
            if view == "words":
                page.views[view].sought.setText("under a code")
            if view == "where used":
                page.views[view].go_to(next(iter(book.all(Material))))
            note_window(walk, f"{name}, {view}")
    codes = [walk.secrets[0].code, walk.secrets[-1].code]
    for text in ("P19", "V021-12", "under a code", *codes):
        window.find.start()
        window.find.setText(text)
        window.find.textEdited.emit(text)
        for value in book.search(text):
            walk.told.append((f"search {text}", str(value)))
        walk.told += [(f"find {text}", window.find.list.item(at).text()) for at in range(window.find.list.count())]
    for due in book.due(book.now()):
        walk.told.append(("due", str(due)))
    for kind in (Strip, Sitting, BlindTest, Answer, Reading):
        walk.told += [(f"all {kind.__name__}", str(value)) for value in book.all(kind)]
    project = next(book.all(Project))
    walk.told += [("strips", str(strip)) for strip in book.strips(project.key)]
    walk.told += [("noise", str(book.sittings.noise(project.key))), ("pacing", str(book.sittings.pacing(book.now())))]


def exported(walk: Walk, folder: Path) -> None:
    """What an eye meets in an export: every row of every CSV, and the JSON as it is written."""
    walk.app.book.export(folder)
    for file in folder.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as rows:
            walk.told += [(f"export {file.name}", " ".join(row)) for row in csv.reader(rows)]
    for line in re.findall(r"\[[^\[\]]*\]", (folder / "book.json").read_text(encoding="utf-8")):
        walk.told.append(("export book.json", line))


def on_paper(walk: Walk) -> None:
    """What stands in the PDFs of an export, row by row."""
    book = walk.app.book
    for _, make in export_pdf.papers(book, book.now()):
        for part in make().parts:
            for row in (part.opens, *part.rows):
                walk.told.append(("paper", html.unescape(re.sub(r"<[^>]+>", " ", row))))


def note_window(walk: Walk, where: str) -> None:
    """Every text of the window as it stands, seen or not."""
    QApplication.processEvents()
    window = walk.app.window
    told = walk.told
    told.append((where, window.windowTitle()))
    for action in window.findChildren(type(window.commands["undo"])):
        told.append((f"{where}, action", f"{action.text()} {action.toolTip()}"))
    for widget in window.findChildren(QWidget):
        texts = [widget.toolTip(), widget.accessibleName(), widget.accessibleDescription()]
        if isinstance(widget, QLabel | QAbstractButton):
            texts.append(widget.text())
        elif isinstance(widget, QLineEdit):
            texts += [widget.text(), widget.placeholderText()]
        elif isinstance(widget, QPlainTextEdit):
            texts.append(widget.toPlainText())
        elif isinstance(widget, QComboBox):
            texts += [widget.itemText(at) for at in range(widget.count())]
        elif isinstance(widget, QListWidget):
            texts += [widget.item(at).text() for at in range(widget.count())]
        elif isinstance(widget, Stand):
            texts += [str(paper) for paper in widget.papers]
        if hasattr(widget, "curves") and not callable(widget.curves):
            texts += [str(curve) for curve in getattr(widget.curves, "curves", widget.curves)] if widget.curves else []
        told += [(f"{where}, {type(widget).__name__}", text) for text in texts if text]
        if isinstance(widget, QAbstractItemView) and widget.model() is not None:
            told += [(f"{where}, {widget.accessibleName() or type(widget).__name__}", text) for text in rows_of(widget.model())]
        if isinstance(widget, Grid) and widget.model() is not None:
            widget.selectAll()
            told += [(f"{where}, copied", line) for line in widget.copied().splitlines()]


def rows_of(model: QAbstractItemModel) -> Iterator[str]:
    """Each row of a model with all that it says of it, as one text: what stands in one row is paired for the eye."""
    for place in range(min(model.rowCount(), 200)):
        cells = []
        # a list model keeps its one column to itself
        for at in range(model.columnCount(QModelIndex()) if isinstance(model, QAbstractTableModel) else 1):
            index = model.index(place, at)
            cells += [str(value) for role in _ROLES if (value := index.data(role)) is not None]
        yield " ".join(cells)


def test_no_code_stands_beside_what_it_stands_for(walk: Walk, tmp_path: Path) -> None:
    met(walk)
    exported(walk, tmp_path / "export")
    on_paper(walk)
    assert any(secret.code in text for secret in walk.secrets for where, text in walk.told if where == "paper")
    assert any(secret.code in text for secret in walk.secrets for where, text in walk.told if where.startswith("smell"))
    assert walk.leaks() == set()


def test_the_walk_finds_leaks_where_there_is_no_veil(walk: Walk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Seal, "veil", lambda self, value: value)
    met(walk)
    on_paper(walk)
    pages = {leak.split(",")[0].split(":")[0] for leak in walk.leaks()}
    assert {"bench", "weigh", "smell", "all Strip", "strips", "due", "find 481", "paper"} <= pages, pages
