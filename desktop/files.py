# SPDX-License-Identifier: MIT
"""What goes out of the book into files and comes in from them, as the menus ask for it: copies, exports, tables, the check.

`App` opens and closes books; this chooses places and hands what takes long to App's worker.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog

from db import Book, Cancelled, Progress
from desktop import figures, paper_process, table_files, wording
from desktop.language import tr
from desktop.pages.first import ENDING, free, free_path
from desktop.table_files import TableFile
from desktop.widgets.band import Way
from perfumery import Finding

if TYPE_CHECKING:
    from desktop.app import App


class Files(QObject):
    """`asked` are the menus' commands, `answers` take what the worker brings back, by its kind; `stopped` says what became of
    work that somebody cancelled."""

    stopped: Mapping[str, str] = {
        "check": tr("The check was cancelled; the book is as it was."),
        "copy": tr("The copy was cancelled; nothing half done was left."),
        "export": tr("The export was cancelled; nothing of it was left."),
        "exported book": tr("Cancelled; no book was made."),
        "table": tr("The import was cancelled; nothing was taken."),
    }

    def __init__(self, app: App, work: Callable[..., None]) -> None:
        super().__init__(app)
        self._app, self._work = app, work
        self.asked: Mapping[str, Callable[[], None]] = {
            "save_copy": self._ask_copy, "export_book": self._ask_export, "read_export": self._ask_read_export,
            "check_book": self.check_book,
            "import_materials": lambda: self._ask_table("materials"), "import_formula": lambda: self._ask_table("formula"),
            "export_materials": lambda: self._export_table("materials"), "export_formula": lambda: self._export_table("formula"),
        }  # fmt: skip
        self.answers: Mapping[str, Callable[..., None]] = {
            "table": self._show_table, "check": self._on_checked, "copy": self._on_copied, "export": self._on_exported,
            "exported book": self._on_book_made,
        }  # fmt: skip

    # the file as a whole ------------------------------------------------------------------------------------------------

    def check_book(self) -> None:
        """Reads the whole file in the worker and says what it found."""
        book = self._app.book
        if book is not None:
            self._work(book.check, "check", what=tr("Checking the book"))

    def save_copy(self, path: Path) -> None:
        """Writes a checked copy of the book in the worker; never over the book itself."""
        book = self._app.book
        if book is None:
            return
        if path.absolute() == book.path.absolute():
            self._app.window.notice.say(tr("That is the book itself. Choose another name for the copy."), "refused")
            return
        self._work(lambda progress: book.backup(path, progress), "copy", str(path), what=tr("Saving a copy"))

    def export(self, folder: Path) -> None:
        """Writes everything into a new folder: JSON and CSV, and PDFs to read and print. Who cancels while those are made, which
        in a book of decades takes hours, keeps the rest."""
        book = self._app.book
        if book is None:
            return

        def write(progress: Progress) -> bool:
            left_out: list[Cancelled] = []

            def papers(partial: Path, look: Book, told: Progress) -> None:
                try:
                    paper_process.write(partial, look, told)
                except Cancelled as cancelled:
                    from desktop.export_pdf import FOLDER  # what lays out papers is not needed before

                    shutil.rmtree(partial / FOLDER, ignore_errors=True)
                    left_out.append(cancelled)

            book.export(folder, papers, lambda done, of: bool(left_out) or progress(done, of))
            return not left_out

        self._work(write, "export", str(folder), what=tr("Exporting"))

    def read_export(self, folder: Path) -> None:
        """Makes a book of an exported folder, beside the folder under a free name; it is opened where no other is."""
        path = free_path(folder.parent, folder.name)

        def make(progress: Progress) -> Path:
            Book.read_export(folder, path, self._app.clock, progress).close()
            return path

        self._work(make, "exported book", what=tr("Reading the export"))

    # asking for a place -------------------------------------------------------------------------------------------------

    def _ask_copy(self) -> None:
        book, window = self._app.book, self._app.window
        if book is None:
            return
        name = f"{book.path.stem} {self._app.clock():%Y-%m-%d}{ENDING}"
        kind = tr("Stillroom books") + f" (*{ENDING})"
        chosen, _ = QFileDialog.getSaveFileName(window, tr("Save a copy"), str(window.first.folder / name), kind)
        if chosen:
            self.save_copy(Path(chosen))

    def _ask_export(self) -> None:
        book, window = self._app.book, self._app.window
        if book is None:
            return
        chosen = QFileDialog.getExistingDirectory(window, tr("Export into a folder"), str(window.first.folder))
        if chosen:
            # nobody chose the name: a second one within a minute is told from the first by its number
            self.export(free(Path(chosen), f"{book.path.stem} {self._app.clock():%Y-%m-%d %H.%M}"))

    def _ask_read_export(self) -> None:
        window = self._app.window
        chosen = QFileDialog.getExistingDirectory(window, tr("The folder that was exported"), str(window.first.folder))
        if chosen:
            self.read_export(Path(chosen))

    # tables -------------------------------------------------------------------------------------------------------------

    def _ask_table(self, wanted: str) -> None:
        """Reads a table somebody chooses, in the worker: a large one takes a while."""
        from desktop.interchange import ask_file

        window = self._app.window
        title = tr("Import materials") if wanted == "materials" else tr("Import a formula")
        path = ask_file(window, title, window.first.folder)
        if path is not None:
            window.notice.say(tr("Reading {name}…", name=path.name))
            self._work(lambda progress: table_files.read(path), "table", wanted, path)

    def _show_table(self, wanted: str, path: Path, tables: tuple[TableFile, ...]) -> None:
        """Shows what was read before any of it is taken."""
        from desktop import interchange

        window = self._app.window
        window.notice.say(interchange.told(tables, path, heads=wanted == "materials"))
        if wanted == "materials":
            window.show_page("import").start(path, tables)
        else:
            window.show_page("bench").formula.paste_text(interchange.as_pasted(tables[0]))

    def _export_table(self, wanted: str) -> None:
        from desktop import interchange

        session = self._app.session
        if session is not None:
            export = interchange.export_materials if wanted == "materials" else interchange.export_formula
            export(self._app.window, session)

    # what the worker brings back ----------------------------------------------------------------------------------------

    def _on_checked(self, found: tuple[Finding, ...]) -> None:
        notice = self._app.window.notice
        if found:
            notice.say(wording.sentences(found), "refused")
        else:
            notice.say(tr("The book is sound: every page can be read, every reference leads somewhere."), "done")

    def _on_copied(self, path: str, _: object) -> None:
        size = figures.file_size(Path(path).stat().st_size)
        self._app.window.notice.say(tr("A checked copy is kept in {path} ({size}).", path=path, size=size), "done")

    def _on_book_made(self, path: Path) -> None:
        if self._app.book is None:
            self._app.open_book(path)
            return
        # somebody may be typing in the present one
        band = self._app.window.band

        def open_it() -> None:
            band.clear()
            self._app.open_book(path)

        band.say(
            tr("{book} is a book now, made of the export.", book=path.stem),
            Way(tr("Open it"), tr("Closes the present book and opens this one"), open_it),
            Way(tr("Later"), tr("Takes this away; the book stands beside the exported folder"), band.clear),
        )  # fmt: skip

    def _on_exported(self, folder: str, with_papers: bool) -> None:
        told = tr("All that is in the book stands in {folder} too: JSON and CSV, and PDF to be read and printed.", folder=folder)
        if not with_papers:
            told = tr("All that is in the book stands in {folder} too, as JSON and CSV; the PDFs were left out.", folder=folder)
        self._app.window.notice.say(told, "done")
