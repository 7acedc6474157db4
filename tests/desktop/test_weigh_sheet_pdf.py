# SPDX-License-Identifier: MIT
"""The sheet of a weighing on paper: what stands on it before and after, that nothing is cut, and that a file is whole or not."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtGui import QImage, QPainter, QTextDocument
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtWidgets import QApplication, QFileDialog

from db import Book, make_demo
from desktop import wording
from desktop.models.weigh import plan_of
from desktop.pages.weigh.done import DoneSheet
from desktop.pages.weigh.sheet_pdf import (
    CAUTION,
    Intended,
    Sheet,
    document_of,
    proposed_name,
    sheet_before,
    sheet_of,
    write_sheet,
)
from desktop.pages.weigh.start import StartSheet
from desktop.paper import Pages, html_of, pdf_of
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Bottle, Making, Planned, Version


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("sheets") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "dark")


@pytest.fixture
def session(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock) -> Iterator[Session]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        session = Session(book, theme, Settings(tmp_path / "settings.ini"))
        session.choose_version(book.get(Version, "SR-4").key)
        yield session


def meant(book: Book, code: str = "SR-4", *, opened: bool = True, mode: str = "tare each", tare: str = "") -> Intended:
    version = book.get(Version, code)
    lines = [line.key for line in version.lines if line.accord] if opened else []
    balance = next(b for b in book.all(Balance) if b.name.startswith("B1"))
    return Intended(version, plan_of(book, version, 5.0, opened=lines), 5.0, "V030", balance, mode, tare)


def text_of(sheet: Sheet) -> str:
    document = QTextDocument()
    document.setHtml(html_of(document_of(sheet)))
    return document.toPlainText().replace("\u2009", " ").replace("\xa0", " ")


def image_of(device_page: int, pages: Pages, image: QImage) -> QImage:
    image.fill(0xFFFFFFFF)
    painter = QPainter(image)
    pages.paint(painter, device_page)
    painter.end()
    return image


def paper() -> QImage:
    image = QImage(1240, 1754, QImage.Format.Format_RGB32)
    image.setDotsPerMeterX(round(150 / 0.0254))
    image.setDotsPerMeterY(round(150 / 0.0254))
    return image


def many(sheet: Sheet, count: int) -> Sheet:
    lines = [replace(sheet.lines[at % len(sheet.lines)], name=f"Line-{at:03}") for at in range(count)]
    return replace(sheet, lines=tuple(lines))


# what stands on it ------------------------------------------------------------------------------------------------------


def test_before_the_first_drop_every_line_has_a_box(session: Session) -> None:
    sheet = sheet_before(session.book, meant(session.book, tare="12,081"))
    assert sheet.title == "SR-4 · T-029" and len(sheet.lines) == 28 and sheet.read_g is None
    text = text_of(sheet)
    for told in ("V030", "B1 generic 0.001 g balance", "5.000 g", "tare each", "12.081 g", "printed 10 Apr 2025", CAUTION,
                 "SR-3 base with the peel and pepper of SR-2B, no aldehyde", "A cool cologne for a quarry village",
                 "Geosmin 0.01 % in ethanol of Wet slate accord", "in all, 28 lines", "K22", "E-5", "L2411-001"):  # fmt: skip
        assert told in text, told
    (lines,) = [part for part in document_of(sheet).parts if "target, g" in part.opens]
    assert len(lines.rows) == 29
    assert all(row.count("border: 1px solid") == 1 and "&nbsp;" in row for row in lines.rows)
    assert "difference" not in lines.opens and not sheet.weighed


def test_a_running_total_says_where_to_stop_and_what_is_missing_is_told(session: Session) -> None:
    book = session.book
    for code in ("K19", "K19B"):
        book.bottles.discard(book.get(Bottle, code).key)
    sheet = sheet_before(book, meant(book, "SR-3", opened=False, mode="running total", tare="heavy"))
    assert sheet.is_running and dict(sheet.facts)["empty vessel"] == ""
    assert sheet.lines[2].stop_g == pytest.approx(sum(line.target_g for line in sheet.lines[:3]))
    text = text_of(sheet)
    assert "stop at, g" in text and "No bottle holds Ambroxide 10 % in ethanol." in text


def test_after_weighing_it_tells_figures_differences_and_both_compositions(session: Session) -> None:
    sheet = sheet_of(session.book, session.book.get(Making, "T-024").key)
    assert sheet.title == "SR-3 · T-024" and len(sheet.lines) == 20 and sheet.read_g == pytest.approx(5.014)
    first = sheet.lines[0]
    assert (first.name, first.bottle, first.place, first.target_g, first.read_g) == ("Vetiver oil", "M17-1", "C-5", 0.05, 0.062)
    text = text_of(sheet)
    for told in ("26 Feb 2025, 10:25", "12.081 g", "+0.012", "\u22120.001", "5.014", "+0.014", "Vetiver poured over"):
        assert told in text, told
    vetiver = next(row for row in sheet.weighed if row[0] == "Vetiver oil")
    assert vetiver[2] / vetiver[1] - 1 == pytest.approx(0.1114, abs=1e-4)
    assert "+11.14" in text and "Intended and as weighed" in text
    assert sum(row[2] for row in sheet.weighed) == pytest.approx(1000)


def test_a_weighing_that_was_cut_off_has_boxes_for_the_rest(session: Session) -> None:
    book = session.book
    plan = meant(book, "SR-3", opened=False).plan
    version = book.get(Version, "SR-3")
    making = book.weighings.begin("trial", Bottle("V099", "trial"), [row.planned for row in plan.rows], version=version.key)
    row = plan.rows[0].planned
    book.weighings.accept(making.key, row.bottle, 0.4, line=row.line, target_g=row.target_g)
    # poured beside the plan
    book.weighings.accept(making.key, book.get(Bottle, "M27-1").key, 0.01)
    sheet = sheet_of(book, making.key)
    assert [line.read_g for line in sheet.lines if line.read_g is not None] == [0.4, 0.01] and len(sheet.lines) == 21
    text = text_of(sheet)
    assert "not finished yet" in text and "not said" in text and not sheet.weighed
    bare = book.weighings.begin("dilution", Bottle("K99", "dilution"), [Planned(1.0, None, row.bottle)])
    assert sheet_of(book, bare.key).title == "K99" and proposed_name(session, bare.key) == "K99.pdf"


def test_what_was_typed_by_hand_is_no_markup(session: Session) -> None:
    sheet = sheet_before(session.book, meant(session.book))
    odd = "<b>x</b> & <table>"
    lines = (replace(sheet.lines[0], name=odd, stock=odd, inside=odd, bottle=odd, place=odd, lot=odd),)
    odd_sheet = replace(sheet, title=odd, about=odd, facts=(("vial", odd),), lines=lines, notes=(("brief", odd),))
    assert text_of(odd_sheet).count(odd) == 10


# pages ------------------------------------------------------------------------------------------------------------------


def test_three_hundred_lines_take_pages_with_their_heads_and_lose_nothing(session: Session) -> None:
    sheet = many(sheet_before(session.book, meant(session.book)), 300)
    pages = Pages(document_of(sheet), paper())
    assert 6 <= pages.count <= 12
    texts = [pages.page(at).toPlainText() for at in range(pages.count)]
    for at in range(300):
        assert sum(f"Line-{at:03}" in text for text in texts) == 1
    assert all("target, g" in text for text in texts[:-1])
    limit = (297 - 18 - 16) * 150 / 25.4
    assert all(pages.page(at).size().height() <= limit + 1 for at in range(pages.count))
    # on a dark screen too: black on white, with the running head above and the page number below
    image = image_of(1, pages, paper())
    dark = [y for y in range(image.height()) if any(image.pixelColor(x, y).lightness() < 90 for x in range(90, 1160, 1))]
    assert any(y < 90 for y in dark) and any(y > 1680 for y in dark)
    assert image.pixelColor(5, 5).lightness() == 255 == image.pixelColor(1235, 1749).lightness()


def test_a_brief_longer_than_a_page_is_told_whole(session: Session) -> None:
    sheet = sheet_before(session.book, meant(session.book))
    brief = "\n".join(f"word-{at:04} and some more of what is wished for" for at in range(400)) + "\n" + "long " * 3000
    pages = Pages(document_of(replace(sheet, notes=(("brief", brief),))), paper())
    text = " ".join(pages.page(at).toPlainText() for at in range(pages.count))
    assert all(f"word-{at:04}" in text for at in range(400)) and text.count("long") == 3000
    limit = (297 - 18 - 16) * 150 / 25.4
    assert all(pages.page(at).size().height() <= limit + 1 for at in range(pages.count))


# the file ---------------------------------------------------------------------------------------------------------------


def test_a_pdf_with_its_fonts_in_it(session: Session, tmp_path: Path) -> None:
    path = tmp_path / "T-024 SR-3.pdf"
    write_sheet(path, session, session.book.get(Making, "T-024").key)
    content = path.read_bytes()
    assert content.startswith(b"%PDF") and b"/FontFile" in content and b"/Count 2" in content
    write_sheet(path, session, meant(session.book))
    assert path.read_bytes() != content and [p.name for p in tmp_path.glob("*.pdf")] == [path.name]
    assert list(tmp_path.glob(".*")) == [] and path.stat().st_mode & 0o400
    assert b"/Count 9" in pdf_of(document_of(many(sheet_before(session.book, meant(session.book)), 340)))


def test_a_folder_that_cannot_be_written_says_so(session: Session, tmp_path: Path, monkeypatch, qtbot) -> None:
    said: list[tuple[str, str]] = []
    session.said.connect(lambda sentence, tone: said.append((sentence, tone)))
    begin = StartSheet(session)
    qtbot.addWidget(begin)
    begin.refresh()
    names: list[str] = []
    chosen = [str(tmp_path / "nowhere" / "sheet.pdf"), "", str(tmp_path / "sheet")]

    def answer(parent, title, name, kinds):
        names.append(name)
        return chosen[len(names) - 1], kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    for _ in range(3):
        begin.sheet.click()
    assert names == ["T-029 SR-4.pdf"] * 3
    assert said[0][1] == "refused" and str(tmp_path / "nowhere" / "sheet.pdf") in said[0][0]
    assert said[1] == (f"Saved: {tmp_path / 'sheet.pdf'}.", "done") and len(said) == 2
    begin.amount.setText("much")
    begin._show_plan()
    assert not begin.sheet.isEnabled()

    # the disk fails at the last moment: what was there before stays, and nothing else is left
    before = (tmp_path / "sheet.pdf").read_bytes()
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(OSError) as full:
        write_sheet(tmp_path / "sheet.pdf", session, meant(session.book))
    assert "sheet.pdf" in wording.fault(full.value) and ".part" not in wording.fault(full.value)
    assert (tmp_path / "sheet.pdf").read_bytes() == before and not list(tmp_path.glob("*.part"))


def test_the_sheet_of_a_finished_weighing_from_its_own_page(session: Session, tmp_path: Path, monkeypatch, qtbot) -> None:
    done = DoneSheet(session)
    qtbot.addWidget(done)
    done.sheet.click()  # nothing is shown yet
    done.start(session.book.get(Making, "T-024").into_bottle)
    names: list[str] = []

    def answer(parent, title, name, kinds):
        names.append(name)
        return str(tmp_path / name), kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    done.sheet.click()
    assert names == ["T-024 SR-3.pdf"] and (tmp_path / "T-024 SR-3.pdf").read_bytes().startswith(b"%PDF")
    slashed = replace(meant(session.book), version=replace(session.book.get(Version, "SR-4"), code="SR/4: b"))
    assert proposed_name(session, slashed) == "T-029 SR-4- b.pdf"


def test_a_sheet_is_printed_before_the_first_drop_and_afterwards(session: Session, tmp_path: Path, monkeypatch, qtbot) -> None:
    said: list[str] = []
    session.said.connect(lambda sentence, tone: said.append(sentence))
    begin, done = StartSheet(session), DoneSheet(session)
    for part in (begin, done):
        qtbot.addWidget(part)
    done.print.click()  # nothing is shown yet
    begin.refresh()
    done.start(session.book.get(Making, "T-024").into_bottle)
    paths = iter((tmp_path / "before.pdf", tmp_path / "after.pdf"))

    def answer(dialog: QPrintDialog) -> int:
        dialog.printer().setOutputFileName(str(next(paths)))
        return QPrintDialog.DialogCode.Accepted

    monkeypatch.setattr(QPrintDialog, "exec", answer)
    for button in (begin.print, done.print):
        button.click()
    assert said == ["Sent to the printer: SR-4 · T-029.", "Sent to the printer: SR-3 · T-024."]
    assert all((tmp_path / name).read_bytes().startswith(b"%PDF") for name in ("before.pdf", "after.pdf"))
    begin.amount.setText("much")
    begin._show_plan()
    assert not begin.print.isEnabled()
