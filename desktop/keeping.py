# SPDX-License-Identifier: MIT
"""The safety of the work, as the window shows it: backups of a book, the way back from a look, a place that is not safe.

`App` opens and closes books; this says which, and hands what takes long to App's worker.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QUrl
from PySide6.QtGui import QDesktopServices

from db import Backup, Book, Head
from desktop import figures, places
from desktop.language import tr
from desktop.settings import PLACE_TOLD, Settings
from desktop.widgets.band import Way

if TYPE_CHECKING:
    from desktop.app import App
    from desktop.pages.backups import BackupsPage

PLACES: Mapping[str, str] = {
    "network": tr(
        "This book lies on a network share ({folder}). Two computers must not write into it at once, and a connection that "
        "breaks off may leave it half written. Keep the book on this computer and let the share have copies or an export; or "
        "close it here before another computer opens it."
    ),
    "synchronised": tr(
        "This book lies in a synchronised folder ({folder}). A file copied while it is written is no whole book, and where two "
        "computers wrote, the service puts two versions side by side. Keep the book outside and let the folder have copies or an "
        "export; or close it here, and let the service finish, before another computer opens it."
    ),
}
RESTORING = tr("Restoring the backup")
HELP_PLACE = "a-synchronised-folder-or-a-network-share"


@dataclass(frozen=True, slots=True)
class Looking:
    """What is being looked into: the file, the book to go back to, how far that had come where it was open before, and when the
    file was made where it is a backup."""

    file: Path
    of: Path
    head: Head | None
    made_at: datetime | None


class Keeping(QObject):
    """`answers` takes what the worker brings back, by its kind."""

    def __init__(self, app: App, settings: Settings, work: Callable[..., None]) -> None:
        super().__init__(app)
        self._app, self._settings, self._work = app, settings, work
        self._shown: Path | None = None
        self._heads: dict[Path, Head | None] = {}
        self._page: BackupsPage | None = None
        self.looking: Looking | None = None
        self.answers: Mapping[str, Callable[..., None]] = {
            "heads": self._on_heads_read, "restored": self._on_restored, "backup now": self._on_backup_made,
            "place": self._on_place_known,
        }  # fmt: skip

    # looking ----------------------------------------------------------------------------------------------------------

    def about_to_look(self, file: Path, of: Path | None) -> Looking:
        """What a look into a file would be, asked while the present book is still open."""
        of = of or file
        book, earlier = self._app.book, self.looking
        head = book.head if book is not None and book.path == of else earlier.head if earlier and earlier.of == of else None
        made_at = next((one.at for one in Book.backups_of(of) if one.path == file), None)
        return Looking(file, of, head, made_at)

    def begin_look(self, looking: Looking) -> None:
        """Says over every page that this is a look, and how to go back."""
        self.looking = looking
        back = Way(tr("Go back to the book"), tr("Closes the look and opens the book (Ctrl+Shift+O)"), self.leave_look)
        if looking.made_at is None:
            save = self._app.window.commands["save_copy"].trigger
            copy = Way(tr("Save a copy…"), tr("Makes a book of it at another place"), save)
            words = tr("You are looking into {file}, for reading only. Nothing is kept in it.", file=looking.file.name)
            ways = (back, copy)
        else:
            at = figures.moment(looking.made_at, self._app.clock())
            words = tr("You are looking into the backup of {moment}. Nothing is kept in it.", moment=at)
            restore = Way(tr("Restore it beside the present one"), tr("Makes a book of it that stands beside the present one"),
                          lambda: self._restore_shown(looking))  # fmt: skip
            others = Way(tr("Other backups…"), tr("All backups of this book"), self.show)
            ways = (back, restore, others)
        self._app.window.band.say(words, *ways)

    def leave_look(self) -> None:
        """Back to the book that the look was taken from."""
        if self.looking is not None:
            self._app.open_book(self.looking.of)

    def _restore_shown(self, looking: Looking) -> None:
        self.show()
        self._page_of_window().choose(looking.file)
        self._restore(looking.file)

    # the page ---------------------------------------------------------------------------------------------------------

    def show(self, path: Path | None = None) -> None:
        """The backups of a book, which need not be open: of the present one, or of the one looked into."""
        app = self._app
        own = self.looking.of if self.looking is not None else app.book.path if app.book is not None else None
        wanted = path or own
        if wanted is None:
            return
        if wanted != self._shown:
            self._shown, self._heads = wanted, {}
        page = self._page_of_window()
        page.show_book(wanted.stem, Book.backup_folder(wanted), is_open=self._is_open)
        self._refresh()
        app.window.show_backups()

    def _page_of_window(self) -> BackupsPage:
        page = self._app.window.backups
        if self._page is None:
            self._page = page
            page.look_wanted.connect(lambda file: self._app.look_at(file, self._shown))
            page.restore_wanted.connect(self._restore)
            page.open_wanted.connect(self._app.open_book)
            page.now_wanted.connect(self._make_now)
            page.copy_wanted.connect(self._app.window.commands["save_copy"].trigger)
            page.check_wanted.connect(self._app.window.commands["check_book"].trigger)
            page.folder_wanted.connect(self._open_folder)
            page.refresh_wanted.connect(self._refresh)
        return page

    @property
    def _is_open(self) -> bool:
        book = self._app.book
        return book is not None and not book.read_only and book.path == self._shown

    def _refresh(self) -> None:
        """Lists the files at once; what is in them is read in the worker, each once."""
        if self._shown is None:
            return
        backups = Book.backups_of(self._shown)
        self._show_rows(backups)
        new = [one.path for one in backups if one.path not in self._heads]
        if new:
            self._work(lambda progress: {path: Book.head_of(path) for path in new}, "heads", self._shown)

    def _show_rows(self, backups: Sequence[Backup]) -> None:
        from desktop.models.backups import rows_of

        book, looking = self._app.book, self.looking
        head = book.head if self._is_open and book is not None else None
        if head is None and looking is not None and looking.of == self._shown:
            head = looking.head
        self._page_of_window().show_rows(rows_of(backups, self._app.clock(), self._heads, head))

    def _restore(self, file: Path) -> None:
        path = self._shown
        # a second press while a large book is being written would make a second one
        if path is None or self._app.work.has(RESTORING):
            return
        self._page_of_window().say("")
        self._work(lambda progress: Book.restore(path, file, progress), "restored", path, what=RESTORING)

    def _make_now(self) -> None:
        book = self._app.book
        if self._is_open and book is not None:
            self._work(lambda progress: book.backup_now(progress), "backup now")

    def _open_folder(self) -> None:
        if self._shown is not None:
            folder = Book.backup_folder(self._shown)
            if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder))):
                self._page_of_window().say(tr("The backups are in {folder}.", folder=folder))

    # what the worker brings back --------------------------------------------------------------------------------------

    def _on_heads_read(self, path: Path, heads: Mapping[Path, Head | None]) -> None:
        if path == self._shown:
            self._heads |= heads
            self._show_rows(Book.backups_of(path))

    def _on_restored(self, path: Path, made: Path) -> None:
        said = tr("{book} now stands beside the book. The book and its backups are as they were.", book=made.stem)
        page, notice = self._page_of_window(), self._app.window.notice
        if path == self._shown:
            page.say(said, made)
        if path == self._shown and page.isVisible():
            notice.clear()
        else:
            notice.say(said, "done")

    def _on_backup_made(self, made: Path | None) -> None:
        page = self._page_of_window()
        if made is None:
            page.say(tr("The newest backup holds all that is in the book; nothing was written since, so none was made."))
        else:
            page.say(tr("A backup was made ({size}).", size=figures.file_size(made.stat().st_size)))
            self._refresh()
            page.choose(made)

    # the place of the book --------------------------------------------------------------------------------------------

    def look_at_place(self, book: Book) -> None:
        """Looks in the worker whether the book lies where another computer may write into it too."""
        path = book.path
        self._work(lambda progress: places.risk_of(path), "place")

    def _on_place_known(self, risk: places.Risk | None) -> None:
        book, settings = self._app.book, self._settings
        if risk is None or book is None or settings.text(f"{PLACE_TOLD}{book.uid}") == risk.kind:
            return

        def understood() -> None:
            settings.keep(f"{PLACE_TOLD}{book.uid}", risk.kind)
            window.band.clear()

        window = self._app.window
        more = Way(tr("More about it"), tr("Opens the help"), lambda: window.show_help("book", HELP_PLACE))
        window.band.say(
            PLACES[risk.kind].format(folder=risk.folder),
            Way(tr("Understood"), tr("Takes this away; it is not said again of this book"), understood), more,
        )  # fmt: skip
