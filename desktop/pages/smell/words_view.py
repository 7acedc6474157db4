# SPDX-License-Identifier: MIT
"""Words: the perfumer's own list at the left, at the right where they stand in months of readings and notes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from db import Change, Found
from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.led import Led
from desktop.models.shown import STRIPS
from desktop.models.words import Hit, HitsModel, WordLine, WordsModel, hits_of, rewritten, word_lines
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import clearable, label
from desktop.widgets.panes import Panes
from perfumery import BlindTest, Bottle, Material, Note, Project, Reading, Refused, Sitting, Strip, Version, Word
from perfumery.text import fold

EMPTY = tr(
    "No reading or note says anything in words yet. Words are written with each reading of a strip, on the Bench or in a sitting."
)
NOTHING = tr(
    "Nothing in the readings and notes says that. Try a shorter text, a word of the same family, or less narrow choices."
)
RAW = "raw"
_SPANS = ((tr("all the time"), None), (tr("30 days"), 30), (tr("90 days"), 90), (tr("a year"), 365))
_KINDS = ((tr("paper and skin"), None), *((shown, kind) for kind, shown in STRIPS.items()))
ALSO_IN = 8
COUNTING = tr("The newest are shown, and all are being counted.")


class WordsView(QWidget):
    """A word that is chosen at the left is looked for at the right; Enter opens what was found. `asked(value)` for what
    stands on another page."""

    asked = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._subjects: dict[int, str] = {}
        self._also: list[Material | Version] = []
        self.own = QLineEdit(self)
        self.own.setPlaceholderText(tr("type to find, Enter adds a new one"))
        clearable(self.own)
        tip = tr("A word, what also means it and its family are edited in the list (F2)")
        self.own_field = Field(tr("your words"), self.own, self, tip=tip)
        self._counted: dict[str, int] = {}
        self._uncounted: list[str] = []
        self._is_counting = False
        self._led = Led(session)
        self._found = Found()
        self.words = WordsModel(self._times, self._on_word_rewritten, self)
        self.list = Grid(session.theme, session.settings, "words", "also", self)
        self.list.setAccessibleName(tr("Smell words"))
        self.list.show_model(self.words)
        self.sought = QLineEdit(self)
        self.sought.setPlaceholderText(tr("a smell word, its synonym, a family, or any words of a note"))
        clearable(self.sought)
        self.sought_field = Field(tr("find in readings and notes"), self.sought, self)
        self.of, self.since, self.kind = QComboBox(self), QComboBox(self), QComboBox(self)
        self.of_field = Field(tr("on strips of"), self.of, self)
        self.since_field = Field(tr("since"), self.since, self)
        self.kind_field = Field(tr("on"), self.kind, self)
        for box, choices in ((self.since, _SPANS), (self.kind, _KINDS)):
            for text, value in choices:
                box.addItem(text, value)
        self.told = label("", wrap=True)
        self.told.setAccessibleDescription(tr("What was found"))
        self.also_in = QLabel(self)
        self.also_in.setTextFormat(Qt.TextFormat.RichText)
        flags = Qt.TextInteractionFlag
        self.also_in.setTextInteractionFlags(flags.LinksAccessibleByMouse | flags.LinksAccessibleByKeyboard)
        self.also_in.setWordWrap(True)
        self.also_in.setAccessibleDescription(tr("Also in"))
        self.hits = HitsModel(self._subject, self)
        self.grid = Grid(session.theme, session.settings, "word hits", "said", self)
        self.grid.setAccessibleName(tr("Readings and notes found"))
        self.grid.enter_edits = False
        self.grid.show_model(self.hits)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        left, right = QWidget(self), QWidget(self)
        own = QVBoxLayout(left)
        own.setContentsMargins(0, 0, 8, 0)
        own.setSpacing(8)
        own.addWidget(self.own_field)
        own.addWidget(self.list, 1)
        row = QHBoxLayout()
        row.setSpacing(12)
        row.addWidget(self.sought_field, 1)
        for field, width in ((self.of_field, 130), (self.since_field, 104), (self.kind_field, 124)):
            field.setMinimumWidth(self._session.theme.px(width))
            row.addWidget(field, 0, Qt.AlignmentFlag.AlignTop)
        found = QVBoxLayout(right)
        found.setContentsMargins(8, 0, 0, 0)
        found.setSpacing(8)
        found.addLayout(row)
        found.addWidget(self.told)
        found.addWidget(self.also_in)
        found.addWidget(self.grid, 1)
        self.split = Panes(self._session.theme, self._session.settings, "words panes", (left, right), (392, 788), grows=1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 16, 8)
        column.addWidget(self.split)

    def _connect(self) -> None:
        self.own.textChanged.connect(lambda _: self._show_list())
        self.own.returnPressed.connect(self._on_own_entered)
        adding = QAction(tr("Add this word"), self.own)
        adding.setShortcuts([QKeySequence("Ctrl+Return"), QKeySequence("Ctrl+Enter")])
        adding.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        adding.triggered.connect(lambda _=False: self._add())
        self.own.addAction(adding)
        self.sought.textChanged.connect(lambda _: self._show_found())
        self.sought.returnPressed.connect(lambda: self.grid.setFocus(Qt.FocusReason.ShortcutFocusReason))
        for box in (self.of, self.since, self.kind):
            box.currentIndexChanged.connect(lambda _: self._show_found())
        self.list.selectionModel().currentRowChanged.connect(lambda index, _: self._on_word_chosen(index.row()))
        self.list.entered.connect(self._on_word_chosen)
        self.grid.entered.connect(self._open)
        self.grid.doubleClicked.connect(lambda index: self._open(index.row()))
        self.also_in.linkActivated.connect(lambda place: self.asked.emit(self._also[int(place)]))
        self._session.changed.connect(self._on_session_changed)
        self._session.theme.changed.connect(self._show_also)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """Nothing of its own in the menu."""
        return ()

    def take_focus(self) -> None:
        """The focus to what is looked for."""
        self.sought.setFocus(Qt.FocusReason.OtherFocusReason)
        self.sought.selectAll()

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads words, choices and hits anew."""
        self._is_stale = False
        self._subjects.clear()
        self._fill_of()
        self._show_list()
        self._counted.clear()
        self.words.forget_times()
        self._show_found()

    def _fill_of(self) -> None:
        kept = self.of.currentText()
        choices: list[tuple[str, object]] = [(tr("everything"), None), (tr("raw materials"), RAW)]
        for project in self._session.book.all(Project):
            choices.append((f"{project.code} {project.name}".strip(), ("project", project.key)))
            if project.key is not None and project.key == self._session.project_key:
                heads = self._session.book.version_heads(project.key)
                choices += [(head.code, ("version", head.key)) for head in heads if not head.retired]
        self.of.blockSignals(True)
        self.of.clear()
        for text, value in choices:
            self.of.addItem(text, value)
        self.of.setCurrentIndex(max(self.of.findText(kept), 0))
        self.of.blockSignals(False)

    def _times(self, word: str) -> str:
        """How often a word was written; what is not counted yet is counted between the turns of the event loop."""
        work = self._session.work
        if work is None:
            return str(self._session.book.words.times(word))
        if word not in self._counted:
            self._uncounted.append(word)
            if not self._is_counting:
                self._is_counting = True
                work.slices(self._counting(), lambda _: None)
        return str(self._counted.get(word, ""))

    def _counting(self) -> Iterator[tuple[int, int]]:
        try:
            while self._uncounted:
                word = self._uncounted.pop(0)
                if word not in self._counted:
                    self._counted[word] = self._session.book.words.times(word)
                self.words.forget_times(word)
                yield 0, 0
        finally:
            self._is_counting = False

    def _show_list(self) -> None:
        lines = word_lines(self._session.book.all(Word), self.own.text())
        self.words.show_rows(lines)
        key, new = "Ctrl+Enter" if lines else "Enter", self._new_word
        self.own_field.say(tr("{key} adds “{word}” to your words.", key=key, word=new) if new else "", "quiet")

    @property
    def _new_word(self) -> str:
        """What stands in the line at the left where it is no word yet, '' where it is one."""
        text = " ".join(self.own.text().split())
        is_known = any(fold(text) in map(fold, (line.word.text, *line.also)) for line in self.words.rows)
        return "" if is_known else text

    def _finding(self) -> Iterator[Found]:
        """What the line and the choices find, in pieces."""
        book, of = self._session.book, self.of.currentData()
        days = self.since.currentData()
        return book.words.finding(
            self.sought.text(),
            since=None if days is None else book.now() - timedelta(days=days),
            kind=self.kind.currentData(),
            project=of[1] if isinstance(of, tuple) and of[0] == "project" else None,
            versions=[of[1]] if isinstance(of, tuple) and of[0] == "version" else None,
            raw=of == RAW,
        )

    def _show_found(self) -> None:
        """Shows the newest that is found at once, and all of it when it is counted: a word of years is long to count."""
        self._led.lead(self._finding_on(), lambda: self.told.setText(self._told(self._found)))
        if self._led.is_going:
            self.told.setText(COUNTING)
        text = self.sought.text().strip()
        self._also = []
        if text:
            *_, values = self._session.book.searching(text, ALSO_IN, (Material, Version))
            self._also = list(values)
        self._show_also()

    def _finding_on(self) -> Iterator[None]:
        shown = None
        for found in self._finding():
            self._found = found
            if found.hits != shown:
                shown = found.hits
                self._show_hits(found)
            yield

    def _show_hits(self, found: Found) -> None:
        hits = hits_of(found)
        self._name_subjects(hits)
        self.hits.show_rows(hits)

    def _told(self, found: Found) -> str:
        if not fold(self.sought.text()):
            return tr("The newest readings that say something in words.") if found.hits else EMPTY
        if not found.hits:
            return NOTHING
        parts = []
        if found.paper:
            readings = tr_count(found.paper, "{n} reading", "{n} readings")
            strips = tr_count(found.papers, "{n} paper strip", "{n} paper strips")
            parts.append(tr("{readings} on {strips}", readings=readings, strips=strips))
        if found.skin:
            parts.append(tr("{number} on skin", number=found.skin))
        if found.notes:
            parts.append(tr_count(found.notes, "{n} note", "{n} notes"))
        others = [word for word in found.meanings if word != fold(self.sought.text())]
        told = [f"{figures.listed(parts)}."]
        if others:
            told.append(tr("Counted with {words}.", words=figures.listed(others, most=6)))
        return " ".join(told)

    def _show_also(self) -> None:
        colour = self._session.theme.token("juniper")
        names = [one.short if isinstance(one, Material) else f"{one.code} {one.name}".strip() for one in self._also]
        links = [f'<a href="{at}" style="color: {colour}">{escape(name)}</a>' for at, name in enumerate(names)]
        self.also_in.setText(tr("Also in: {names}", names=" · ".join(links)) if links else "")
        self.also_in.setVisible(bool(links))

    def _name_subjects(self, hits: Iterable[Hit]) -> None:
        """Reads what the strips of these were dipped in."""
        bottles = {hit.strip.bottle for hit in hits if hit.strip is not None and hit.strip.bottle} - self._subjects.keys()
        book = self._session.book
        for bottle, origin in book.origins(bottles).items():
            held = origin.bottle
            material = None if held is None or held.material is None else book.get(Material, held.material)
            named = origin.version.code if origin.version is not None else "" if held is None else held.label or held.code
            self._subjects[bottle] = material.short if material is not None else named

    def _subject(self, hit: Hit) -> str:
        """What a strip was dipped in, or a note is about."""
        book = self._session.book
        if isinstance(hit.value, Note):
            note = hit.value
            about = ((Material, note.material), (Bottle, note.bottle), (Version, note.version), (Project, note.project))
            value = next((book.get(kind, key) for kind, key in about if key is not None), None)
            return "" if value is None else value.short if isinstance(value, Material) else value.code
        return self._subjects[hit.strip.bottle] if hit.strip is not None and hit.strip.bottle else tr("under seal")

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_word_chosen(self, place: int) -> None:
        # a list that only follows the line above it has no word chosen
        if 0 <= place < len(self.words.rows) and self.list.hasFocus():
            self.sought.setText(self.words.row(place).word.text)

    def _on_own_entered(self) -> None:
        if self.words.rows:
            self.list.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.list.go_to(self.words.index(0, 0))
        else:
            self._add()

    def _add(self) -> None:
        text = self._new_word
        if text and self._session.edit(tr("word {word}", word=text), Word(text)) is not None:
            self.own.selectAll()

    def _on_word_rewritten(self, line: WordLine, column: str, text: str) -> bool:
        act = rewritten(self._session.book, line, column, text)
        if act is None:
            return True
        try:
            self._session.do(act)
        except Refused as fault:
            self._session.said.emit(wording.sentences(fault.findings), "refused")
            return False
        return True

    def _open(self, place: int) -> None:
        hit = self.hits.row(place)
        self.asked.emit(hit.value if hit.strip is None else hit.strip)

    def _on_session_changed(self, change: Change) -> None:
        if not change.touches(Word, Reading, Note, Strip, Sitting, BlindTest, Version, Project, Bottle, Material):
            return
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()
