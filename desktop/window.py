# SPDX-License-Identifier: MIT
"""The one main window: rail, due line, find field, the pages, the quiet line, and the menus over them.

It shows what `App` hands it and passes the commands that concern the book back to it.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

import shiboken6
from PySide6.QtCore import QCoreApplication, QEvent, QSize, Signal
from PySide6.QtGui import QAction, QCloseEvent, QGuiApplication, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QApplication, QHBoxLayout, QMainWindow, QMenu, QStackedWidget, QVBoxLayout, QWidget

from desktop import actions, finding, steps
from desktop.help_text import Section
from desktop.language import tr
from desktop.led import Led
from desktop.pages.first import FirstPage
from desktop.settings import TELL_DUE, Settings
from desktop.theme import Theme
from desktop.widgets import roles, tab_order
from desktop.widgets.band import Band
from desktop.widgets.due_line import DueItem, DueLine, due_items
from desktop.widgets.find_field import FindField
from desktop.widgets.icons import window_icon
from desktop.widgets.notice import NoticeLine
from desktop.widgets.rail import Rail
from desktop.widgets.report import ReportPanel
from desktop.widgets.top_line import TopLine
from perfumery import Strip

if TYPE_CHECKING:
    # the window stands before the book's library is imported, which takes as long as the window
    from db import Change
    from desktop.long_work import LongWork
    from desktop.pages.backups import BackupsPage
    from desktop.pages.fault import FaultPage
    from desktop.pages.help import HelpPage
    from desktop.session import Session
    from desktop.widgets.why import WhyCard

SIZE = QSize(1280, 800)
LEAST = QSize(960, 600)
FRAME = QSize(2, 32)  # what a title bar and a border take, at a guess: the real ones are known only once the window is shown
TEXT_STEP = 0.1
PAGES = ("bench", "shelf", "weigh", "smell", "compare")


class Window(QMainWindow):
    """The main window. `asked(key)` for the commands it does not know itself; `painted` after the first paint, `left` when it
    is closed."""

    asked = Signal(str)
    left = Signal()
    painted = Signal()

    def __init__(self, theme: Theme, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self._theme, self._settings = theme, settings
        self.session: Session | None = None
        self.bench: Any = None
        self._made: dict[str, Any] = {}
        self._is_reading_shelf = False
        self._makers: Mapping[str, Callable[[], Any]] = {}
        self._trail: list[QWidget] = []
        self._travelled = False
        self.was_painted = False
        self._focus_before: QWidget | None = None
        self._page_menus: dict[QWidget, list[QMenu]] = {}
        roles.install()
        self.setMinimumSize(LEAST)
        self.commands = actions.build(self, self._own_handlers(), self.asked.emit)
        self.recent_menu = QMenu(tr("Recent"), self.menuBar())
        self._build_menus()
        self._build_pages()
        self._dress()
        self._show_theme_choice()
        theme.restyled.connect(self._dress)
        theme.changed.connect(self._show_theme_choice)
        self._restore_geometry()
        self.show_first()

    # building ---------------------------------------------------------------------------------------------------------

    def _own_handlers(self) -> dict[str, Callable[[], None]]:
        return {
            "undo": self._undo, "redo": self._redo, "find": lambda: self.find.start(),
            **{f"page_{name}": partial(self.show_page, name) for name in PAGES},
            "swap_widths": lambda: self.bench.swap_mode(),
            "drawer": lambda: self.bench.show_drawer(self.commands["drawer"].isChecked()),
            "text_larger": lambda: self._scale_text(self._theme.scale + TEXT_STEP),
            "text_smaller": lambda: self._scale_text(self._theme.scale - TEXT_STEP),
            "text_normal": lambda: self._scale_text(1.0),
            "theme_light": lambda: self._choose_theme("light"), "theme_dark": lambda: self._choose_theme("dark"),
            "theme_system": lambda: self._choose_theme("system"), "quit": self.close,
            "help": self.show_help, "keys": partial(self.show_help, "keys"), "why": self.tell_why,
            "tell_due": lambda: self._settings.keep(TELL_DUE, self.commands["tell_due"].isChecked()),
        }  # fmt: skip

    def _build_menus(self) -> None:
        bar = self.menuBar()
        menus = {title: bar.addMenu(f"&{title}") for title in actions.MENUS}
        self._help_menu = menus[actions.HELP]
        for command in actions.COMMANDS:
            menu = menus[command.menu]
            if command.text == actions.RULE:
                menu.addSeparator()
            elif command.key == "recent":
                menu.addMenu(self.recent_menu)
            else:
                menu.addAction(self.commands[command.key])
        self.commands["tell_due"].setChecked(self._settings.flag(TELL_DUE, True))
        menus[actions.EDIT].aboutToShow.connect(self._on_edit_menu_about_to_show)

    def _build_pages(self) -> None:
        theme = self._theme
        self.rail = Rail(theme, tuple((name, self.commands[f"page_{name}"]) for name in PAGES))
        self.due_line = DueLine(theme)
        self.due_line.due_chosen.connect(self._on_due_chosen)
        self.find = FindField(theme, self._seek, Led(self))
        self.find.found.connect(self.follow)
        self.notice = NoticeLine(theme)
        self.notice.followed.connect(self._on_notice_followed)
        self.report = ReportPanel(theme)
        self.band = Band(theme)
        self.first = FirstPage(theme)
        self.pages = QStackedWidget()
        self.blank = QWidget()
        for page in (self.first, self.blank):
            self.pages.addWidget(page)
        self._top = TopLine(theme, self.due_line, self.find)
        right = QVBoxLayout()
        right.setSpacing(0)
        for part, stretch in ((self._top, 0), (self.band, 0), (self.pages, 1), (self.report, 0), (self.notice, 0)):
            right.addWidget(part, stretch)
        middle = QWidget()
        across = QHBoxLayout(middle)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(0)
        across.addWidget(self.rail)
        across.addLayout(right, 1)
        self.setCentralWidget(middle)

    @cached_property
    def fault(self) -> FaultPage:
        """The page of a book that could not be opened."""
        from desktop.pages.fault import FaultPage

        page = FaultPage(self._theme)
        self.pages.addWidget(page)
        return page

    @cached_property
    def help(self) -> HelpPage:
        """The help, made when it is first asked for."""
        from desktop.pages.help import HelpPage

        page = HelpPage(self._theme)
        page.left.connect(self._on_page_left)
        self.pages.addWidget(page)
        return page

    @cached_property
    def backups(self) -> BackupsPage:
        """The page of backups, made when it is first asked for."""
        from desktop.pages.backups import BackupsPage

        page = BackupsPage(self._theme, self._settings)
        page.left.connect(self._on_page_left)
        self.pages.addWidget(page)
        return page

    @cached_property
    def why(self) -> WhyCard:
        """The card that says why a figure is what it is."""
        from desktop.widgets.why import WhyCard

        card = WhyCard(self._theme, self)
        card.more_asked.connect(partial(self.show_help, "sums"))
        return card

    # a book on screen -------------------------------------------------------------------------------------------------

    def show_book(self, session: Session, bench: Any, others: Mapping[str, Callable[[], Any]]) -> None:
        """Shows an open book on its pages: the bench at once, each of the others made when it is first asked for."""
        self.take_book()
        self.session, self.bench, self._makers = session, bench, others
        self._take_page("bench", bench)
        session.turn()
        session.said.connect(self._on_session_said)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._show_title)
        session.ticked.connect(lambda _: self.show_due())
        bench.formula.smelling_asked.connect(lambda vial: self.show_page("shelf").make_smelling(vial))
        bench.mode_changed.connect(self._on_bench_mode_changed)
        bench.drawer_shown.connect(self.commands["drawer"].setChecked)
        self._on_bench_mode_changed(bench.mode)
        self.commands["drawer"].setChecked(bench.drawer.isVisibleTo(bench))
        self._show_page(bench)
        self.show_due()

    def take_book(self) -> None:
        """Takes the pages of a book away before it is closed."""
        for menu in (menu for menus in self._page_menus.values() for menu in menus):
            self.menuBar().removeAction(menu.menuAction())
            menu.deleteLater()
        self._page_menus = {}
        if self.pages.currentWidget() in self._made.values():
            # else the stack brings up whatever page stands beside it, until the next book is there
            self.pages.setCurrentWidget(self.blank)
        for page in self._made.values():
            self.pages.removeWidget(page)
            page.deleteLater()
            # now, not at the next turn of the event loop: a pane must not ask a book that is closed
            QCoreApplication.sendPostedEvents(page, QEvent.Type.DeferredDelete)
        self._made, self._makers = {}, {}
        self._is_reading_shelf = False
        self.session = self.bench = None
        self._trail = []
        self.band.clear()
        self.notice.clear()
        self.due_line.show_items(())

    def page(self, name: str) -> Any:
        """A page of the open book, made now if it is the first time."""
        if name not in self._made:
            self._take_page(name, self._makers[name]())
        return self._made[name]

    def _take_page(self, name: str, page: Any) -> None:
        self._made[name] = page
        self.pages.addWidget(page)
        self.theme.dress(page)
        self._page_menus[page] = []
        for title, own in page.menus():
            menu = QMenu(f"&{title}", self.menuBar())
            menu.addActions(list(own))
            self.menuBar().insertMenu(self._help_menu.menuAction(), menu)
            self._page_menus[page].append(menu)

    def show_page(self, name: str) -> Any:
        """Brings a page of the open book up and returns it."""
        is_new = name not in self._made
        page = self.page(name)
        if self._dress_page(page) or is_new:
            self.theme.turn()
        self._show_page(page)
        if is_new:
            # it stands as long as the book is open
            gc.freeze()
        return page

    def show_first(self) -> None:
        """The page before there is a book."""
        self._show_page(self.bench if self.bench is not None else self.first)

    def show_begin(self) -> None:
        """The first page even while a book is open: to make or open another one."""
        self._show_page(self.first)

    def show_nothing(self) -> None:
        """An empty page, while the book that is wanted is being opened."""
        self._show_page(self.blank)

    def hold_still(self, yes: bool) -> None:
        """While something is waited for: everything is drawn, and nothing can be begun but leaving."""
        if yes:
            self._focus_before = self.focusWidget()
        for part in (self.menuBar(), self.rail, self._top, self.pages):
            part.setEnabled(not yes)
        if not yes and self._focus_before is not None and shiboken6.isValid(self._focus_before):
            self._focus_before.setFocus()

    def show_fault(self) -> None:
        """The page of a book that could not be opened."""
        self._show_page(self.fault)

    def show_about(self, version: str) -> None:
        """What this program is, with its cautions."""
        self.show_help("cautions", version=version)

    def show_help(self, chapter: str = "", section: str = "", *, version: str = "") -> None:
        """The help, at a chapter and a section of it; Escape leads back from it."""
        self._show_over(self.help)
        self.help.open(chapter, section, version=version)

    def show_backups(self) -> None:
        """The page of backups, filled before; Escape leads back from it."""
        self._show_over(self.backups)
        self.backups.take_focus()

    def _show_over(self, page: QWidget) -> None:
        """Shows a page that is left again for the one below it; one that lies below already comes up from there."""
        below = self.pages.currentWidget()
        if below is not page:
            self._trail = [*(one for one in self._trail if one not in (page, below)), below]
        self._show_page(page)

    def tell_why(self) -> None:
        """Says why the figure in focus is what it is."""
        from desktop.widgets.why import why_of

        found = why_of(QApplication.focusWidget())
        if found is None:
            told = tr("Nothing is worked out here. Put the cursor on a figure that is: a %, a ±, a cost, an area.")
            self.notice.say(told, "note")
        else:
            self.why.tell(found)

    def _show_page(self, page: QWidget) -> None:
        # a page that never had the focus gets it where it wants it, not where the stack happens to put it; a new book's Bench
        # begins at its first step
        is_new = page is not self.bench and page.focusWidget() is None
        self._dress_page(page)
        self.pages.setCurrentWidget(page)
        on_bench = self.bench is not None and page is self.bench
        of_book = page in self._page_menus
        self.rail.setVisible(self.bench is not None)
        self._top.setVisible(self.bench is not None)
        for name in PAGES:
            self.commands[f"page_{name}"].setChecked(page is self._made.get(name))
        shown: Any = page
        if of_book and (is_new or not shown.isAncestorOf(self.focusWidget() or self)):
            shown.take_focus()
        for command in actions.COMMANDS:
            if command.book and command.key in self.commands:
                self.commands[command.key].setEnabled(self.bench is not None)
        self.commands["leave_look"].setEnabled(self.session is not None and self.session.book.read_only)
        for key in ("swap_widths", "drawer"):
            self.commands[key].setEnabled(on_bench)
        for owner, menus in self._page_menus.items():
            for menu in menus:
                # a page that is read for a moment leaves the menus of the one below it, which then do nothing
                menu.menuAction().setVisible(owner is page if of_book else owner is self.bench)
                menu.menuAction().setEnabled(owner is page)
        self._show_title()

    def _show_title(self) -> None:
        if self.session is None:
            self.setWindowTitle("Stillroom")
            return
        project, version, book = self.session.project, self.session.version, self.session.book
        shown = " ".join(filter(None, (project and (project.name or project.code), version and version.code)))
        # a book that was restored or copied has the name of the one it came from, and only its file tells them apart
        named = book.name if book.path.stem == book.name else f"{book.name}, {book.path.stem}"
        look = " " + tr("(to look at only)") if book.read_only else ""
        self.setWindowTitle(f"{shown} — {named}{look}" if shown else f"{named}{look}")

    def go_to(self, value: Any) -> None:
        """Shows a value of the book on the page it stands on."""
        assert self.session is not None
        name, shown = finding.place_of(value, self.session.book)
        self.show_page(name).go_to(shown)

    def follow(self, found: Any) -> None:
        """Goes to what was found: a value of the book, a command, a section of the help."""
        if isinstance(found, QAction):
            found.trigger()
        elif isinstance(found, Section):
            self.show_help(found.chapter, found.place)
        else:
            self.go_to(found)

    # commands ---------------------------------------------------------------------------------------------------------

    def _undo(self) -> None:
        field = actions.own_undo(QApplication.focusWidget())
        if field is not None:
            field.undo()
        elif self.session is not None:
            self._travelled = True
            self.session.undo()
            self._travelled = False

    def _redo(self) -> None:
        if self.session is not None:
            self._travelled = True
            self.session.redo()
            self._travelled = False

    def _scale_text(self, scale: float) -> None:
        self._theme.resize_text(round(scale, 2))
        self._settings.keep("look/text", self._theme.scale)

    def _choose_theme(self, choice: str) -> None:
        self._theme.choose(choice)
        self._settings.keep("look/theme", choice)

    def _dress(self) -> None:
        """The parts on the screen; a page is dressed when it is shown."""
        for part in (self.menuBar(), self.rail, self._top, self.band, self.report, self.notice):
            self._theme.dress(part)
        if self.pages.currentWidget() is not None:
            self._theme.dress(self.pages.currentWidget())

    def _dress_page(self, page: QWidget) -> bool:
        """Whether it had to be."""
        is_new = self._theme.dress(page)
        if is_new:
            # what measures itself by its style has to do so again
            self._theme.changed.emit()
        return is_new

    def _show_theme_choice(self) -> None:
        self.commands[f"theme_{self._theme.choice}"].setChecked(True)
        self.rail.fit(self.width())

    @property
    def work(self) -> LongWork | None:
        """What takes long work while a book is open."""
        return None if self.session is None else self.session.work

    def _seek(self, text: str) -> Iterator[tuple[Any, ...]]:
        return iter(((),)) if self.session is None else finding.seeking(text, self.session.book, self.menuBar().actions())

    # what happens -----------------------------------------------------------------------------------------------------

    def _on_session_said(self, sentence: str, tone: str) -> None:
        offer = ""
        if self._travelled and tone == "done" and self.session is not None:
            last = self.session.book.can_redo
            offer = "redo" if last and sentence == steps.undone(last) else "undo"
        self.notice.say(sentence, tone, offer)

    def _on_session_changed(self, change: Change) -> None:
        session = self.session
        if session is None:
            return
        if not self._travelled:
            can = session.book.can_undo == change.what
            self.notice.say(steps.sentence(change.what), "done", "undo" if can else "")
        self.show_due()
        self._show_title()

    def show_due(self) -> None:
        """Says what is due now; what is due on a long shelf when that is read."""
        if self.session is None:
            return
        book, work = self.session.book, self.session.work
        self.due_line.show_items(due_items(book, book.now()))
        if work is not None and not self._is_reading_shelf and not book.bottles.are_near:
            self._is_reading_shelf = True
            work.slices(((0, 0) for _ in book.bottles.reading()), self._on_shelf_read)

    def _on_shelf_read(self, fault: Exception | None) -> None:
        # what is damaged says so where it is shown, and is not read again and again for this line
        self._is_reading_shelf = fault is not None
        if fault is None:
            self.show_due()

    def _on_notice_followed(self, offer: str) -> None:
        if self.session is not None:
            self._travelled = True
            (self.session.undo if offer == "undo" else self.session.redo)()
            self._travelled = False

    def _on_edit_menu_about_to_show(self) -> None:
        book = None if self.session is None else self.session.book
        undo, redo = (book.can_undo, book.can_redo) if book is not None else (None, None)
        self.commands["undo"].setText(tr("Undo {what}", what=steps.told(undo)) if undo else tr("Undo"))
        self.commands["redo"].setText(tr("Redo {what}", what=steps.told(redo)) if redo else tr("Redo"))

    def _on_due_chosen(self, item: DueItem) -> None:
        if self.session is None:
            return
        if item.strip is None:
            self.show_page("shelf").show_state("due")
        else:
            self.read_strip(item.strip)

    def read_strip(self, key: int) -> None:
        """Opens the reading of a strip: beside its formula, or in its sitting while nobody is told what it was dipped from."""
        strip = None if self.session is None else self.session.book.get(Strip, key)
        if strip is None:
            return
        if not strip.bottle:
            self.show_page("smell").read_strip(strip)
            return
        self._show_page(self.bench)
        self.bench.go_to(strip)
        self.bench.strips.read_strip(key)

    def _on_bench_mode_changed(self, mode: str) -> None:
        self.commands["swap_widths"].setChecked(mode == "smelling")

    def _on_page_left(self) -> None:
        if self._trail:
            self._show_page(self._trail.pop())
        else:
            self.show_first()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if not self.was_painted:
            self.was_painted = True
            self.painted.emit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.rail.fit(event.size().width())

    def focusNextPrevChild(self, forward: bool) -> bool:
        return tab_order.step(self.centralWidget(), forward=forward) or super().focusNextPrevChild(forward)

    def closeEvent(self, event: QCloseEvent) -> None:
        self._settings.keep_geometry(self.saveGeometry())
        self._settings.write()
        event.accept()
        self.left.emit()

    def fit_to_screen(self) -> None:
        """Before it is first shown: no larger than its screen leaves room for, so that the foot and the right edge are seen."""
        room = self.screen().availableGeometry().size() - FRAME
        self.setMinimumSize(LEAST.boundedTo(room))
        self.resize(self.size().boundedTo(room))

    def _restore_geometry(self) -> None:
        """As it was left, where a screen still shows enough of it to be seen and moved."""
        self.resize(SIZE)
        kept = self._settings.geometry
        if kept.isEmpty() or not self.restoreGeometry(kept):
            return
        frame = self.frameGeometry()
        seen = [screen.availableGeometry().intersected(frame) for screen in QGuiApplication.screens()]
        if not any(part.width() >= 200 and part.height() >= 100 for part in seen):
            self.resize(SIZE)
            self.move(QGuiApplication.primaryScreen().availableGeometry().topLeft())


def make_window(qt: QApplication, settings: Settings) -> Window:
    """The program's look and its window, not yet shown."""
    qt.setStyle("Fusion")  # the one style that obeys a palette on every system
    qt.setWindowIcon(window_icon())
    theme = Theme(qt, settings.text("look/theme", "system"), settings.number("look/text", 1.0))
    return Window(theme, settings)
