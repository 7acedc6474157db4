# SPDX-License-Identifier: MIT
"""The book on paper: what a perfumer looks for years later stands in the PDFs of an export."""

import html
import re
import threading
import time
from pathlib import Path

import pytest

from db import Book, Cancelled, Progress, make_demo
from desktop import export_pdf, paper_process
from desktop.figures import THIN
from desktop.paper import Document, html_of
from perfumery import Note, Project, Strip

pytestmark = pytest.mark.usefixtures("qapp")


def told(document: Document) -> str:
    """The words of a document, one space between them."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", html_of(document))).replace(THIN, " ").replace("\u00a0", " ")
    return " ".join(text.split())


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("paper") / "Studio.stillroom"
    make_demo(path).close()
    return path


@pytest.fixture
def book(studio: Path, tmp_path: Path, clock):
    with Book.look(studio, clock) as book:
        yield book


def test_a_project_s_paper_holds_the_whole_way(book: Book, clock) -> None:
    text = told(export_pdf.project_document(book, next(iter(book.all(Project))), clock()))
    for words in (
        "SR Slate Rain", "finished at 12 % in ethanol", "at most 0.1500 €/g", "ten minutes after rain",
        "SR-2 · rejected · from SR-1 · 23 Feb 2025 pine and isobornyl acetate cut", "SR-4 · starred · chosen",
        "Lemon oil, cold-pressed (Citrus limon peel oil) 8008-56-8 neat 110 11.00 0.550",
        "Labdanum absolute (Cistus ladanifer) 8016-26-0 20 % in ethanol 10 1.000 0.050", "A-WS Wet slate accord accord 90",
        "T-024 of SR-3", "Cedarwood oil, Virginia M16-1 0.300 0.301 60.15",
        "paper P03 SR-2B", "2.68 h late 4 Mar, 11:47 3 12 +1 wet stone, woody, green leaf", "41 min late",
        "below 2.5 after 13.9 h", "24 Mar 2025 SR-4 chosen: keeps the SR-3 base at 8 h", "SR-3B: earth takes over",
        "Not a safety assessment.",
    ):  # fmt: skip
        assert words in text, words


def test_the_shelf_s_paper_names_every_bottle_and_material(book: Book, clock) -> None:
    text = told(export_pdf.shelf_document(book, clock()))
    for row in (*book.bottles.rows(), *book.bottles.rows(vials=True)):
        assert f" {row.bottle.code} " in text
    assert "Ambroxide K19 10 % in ethanol 12.95 g E-2" in text and "L2402-018, Supplier B" in text
    assert all(" ".join(row.name.split()) in text for row in book.material_rows() if not row.retired)
    # what hangs in no project, and what was noted of materials
    assert "paper P16 Vetiver oil" in text and "Grassy now." in text
    note = next(one for one in book.all(Note) if one.material is not None)
    assert " ".join(note.text.split()) in text
    codes = {strip.code for strip in book.all(Strip)}
    every = " ".join(told(make()) for _, make in export_pdf.papers(book, clock()))
    assert [code for code in codes if f" {code} " not in every] == []


def test_projects_of_one_name_get_papers_of_their_own(tmp_path: Path, clock) -> None:
    with Book.create(tmp_path / "B.stillroom", "B", clock=clock) as book:
        long = "wet slate " * 40
        book.put(Project("A", "x/y"), Project("A-", "x?y"), Project("Shelf"), Project(f"{long}1"), Project(f"{long}2"))
        names = [name for name, _ in export_pdf.papers(book, clock())]
        export_pdf.write(tmp_path, book)
    assert len({name.casefold() for name in names}) == 6 and names[0] == "Shelf.pdf"
    found = sorted(file.name for file in (tmp_path / export_pdf.FOLDER).iterdir())
    assert found == sorted(names)
    assert all((tmp_path / export_pdf.FOLDER / name).read_bytes().startswith(b"%PDF-") for name in names)


def test_papers_are_told_of_page_by_page_and_can_be_stopped(book: Book, tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []

    def watched(done: int, of: int) -> bool:
        told.append((done, of))
        return True

    export_pdf.write(tmp_path, book, watched)
    assert told == sorted(told) and len(told) > 16 and {of for _, of in told} == {2000}
    (tmp_path / "again").mkdir()
    with pytest.raises(Cancelled):
        export_pdf.write(tmp_path / "again", book, lambda done, of: done < 1500)
    assert [file.name for file in (tmp_path / "again" / export_pdf.FOLDER).iterdir()] == ["Shelf.pdf"]


def test_the_process_of_papers_tells_how_far_it_is_is_stopped_and_says_what_failed(book: Book, tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []

    def watched(done: int, of: int) -> bool:
        told.append((done, of))
        return True

    (tmp_path / "whole").mkdir()
    paper_process.write(tmp_path / "whole", book, watched)
    assert told == sorted(told) and len(told) > 10
    assert sorted(file.name for file in (tmp_path / "whole" / "paper").iterdir()) == ["SR Slate Rain.pdf", "Shelf.pdf"]
    (tmp_path / "half").mkdir()
    with pytest.raises(Cancelled):
        paper_process.write(tmp_path / "half", book, lambda done, of: False)
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "paper").write_text("mine")
    with pytest.raises(FileExistsError):
        paper_process.write(tmp_path / "taken", book)


def test_an_export_from_the_window_is_read_back_into_a_book(hand, tmp_path: Path) -> None:
    app, qtbot = hand.app, hand.qtbot
    assert app.new_demo(tmp_path / "Studio.stillroom")
    app.files.export(tmp_path / "out")
    qtbot.waitUntil(lambda: (tmp_path / "out").is_dir() and "PDF to be read" in app.window.notice.text, timeout=20000)
    assert sorted(file.name for file in (tmp_path / "out" / "paper").iterdir()) == ["SR Slate Rain.pdf", "Shelf.pdf"]
    assert "paper" in (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    app.files.read_export(tmp_path / "out")
    # somebody may be typing in the present book, so that it is asked first
    qtbot.waitUntil(lambda: app.window.band.isVisible(), timeout=20000)
    assert app.book.path == tmp_path / "Studio.stillroom" and "out is a book now" in app.window.band.words.text()
    app.window.band.buttons[0].click()
    assert app.book.path == tmp_path / "out.stillroom" and not app.window.band.isVisible()
    assert [project.code for project in app.book.all(Project)] == ["SR"]


def test_who_cancels_the_papers_keeps_the_rest(hand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app, begun = hand.app, threading.Event()
    assert app.new_demo(tmp_path / "Studio.stillroom")

    def slow(folder: Path, book: Book, progress: Progress) -> None:
        (folder / export_pdf.FOLDER).mkdir()
        (folder / export_pdf.FOLDER / "Shelf.pdf").write_bytes(b"%PDF-half")
        begun.set()
        while progress(1, 1000):
            time.sleep(0.005)
        raise Cancelled(folder)

    monkeypatch.setattr(paper_process, "write", slow)
    app.files.export(tmp_path / "out")
    hand.qtbot.waitUntil(begun.is_set, timeout=20000)
    app.work.cancel()
    hand.qtbot.waitUntil(lambda: "the PDFs were left out" in app.window.notice.text, timeout=20000)
    assert not (tmp_path / "out" / "paper").exists() and (tmp_path / "out" / "book.json").is_file()
    Book.read_export(tmp_path / "out", tmp_path / "again.stillroom").close()


def test_a_folder_that_is_no_export_is_told(hand, tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    hand.app.files.read_export(tmp_path / "letters")
    hand.qtbot.waitUntil(lambda: "letters" in hand.app.window.notice.text and "Reading" not in hand.app.window.notice.text)
    assert hand.app.book is None and not (tmp_path / "letters.stillroom").exists()


def test_an_export_read_where_no_book_is_open_is_opened(hand, tmp_path: Path, studio: Path) -> None:
    with Book.look(studio) as look:
        look.export(tmp_path / "out")
    hand.app.files.read_export(tmp_path / "out")
    hand.qtbot.waitUntil(lambda: hand.app.book is not None and hand.app.book.path == tmp_path / "out.stillroom", timeout=20000)
