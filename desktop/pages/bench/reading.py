# SPDX-License-Identifier: MIT
"""The row in which a strip is read: strength, distance, liking, words, a note, all by keyboard, kept at the true time.

What is typed and not kept waits with its strip. Nothing of the strip's earlier figures is shown here.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.counting import counts_told
from desktop.models.moments import Unreadable, moment_text, parse_moment
from desktop.models.scales import Draft, anchor, draft_of, read_distance, read_intensity, read_liking
from desktop.models.strips import StripCard
from desktop.models.vocabulary import Vocabulary
from desktop.session import Session
from desktop.theme import TITLE
from desktop.widgets.field import Field
from desktop.widgets.labels import label
from desktop.widgets.smell_words import SmellWords
from perfumery import Reading, Refused, Word
from perfumery.smelling import answers, elapsed_s

# From this width on everything stands in one line.
WIDE = 700
NO_LIMIT = 16777215  # Qt's own figure for no limit; PySide does not hand it out
# Keeps the line of the anchor word, so that nothing jumps while typing.
NO_ANCHOR = "\u00a0"


class ReadingRow(QFrame):
    """`kept(strip key)` after a reading or its correction stands in the book, `left()` when the row is put away."""

    kept = Signal(int)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._card: StripCard | None = None
        self._corrected: Reading | None = None
        # by strip, and by the reading that is corrected
        self._drafts: dict[tuple[int, int | None], Draft] = {}
        self._wide: bool | None = None
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Reading"))
        self._build()
        self._arrange()
        session.theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed()

    # opening and leaving ----------------------------------------------------------------------------------------------

    @property
    def card(self) -> StripCard | None:
        """The strip that is read; None while the row is put away."""
        return self._card

    @property
    def is_correcting(self) -> bool:
        """Whether an old reading is being corrected."""
        return self._corrected is not None

    def open(self, card: StripCard, reading: Reading | None = None) -> None:
        """Opens the row for a strip, with what was typed and not kept; or filled with a reading to be corrected."""
        self._put_draft_away()
        self._card, self._corrected = card, reading
        own = () if reading is None else tuple(reading.words)
        self.words.set_vocabulary(Vocabulary(self._session.book.all(Word), own))
        self._fill(self._drafts.get(self._place, self._as_found))
        self._keep.setText(tr("Keep this reading") if reading is None else tr("Keep correction"))
        self._withdraw.setVisible(reading is not None)
        for field in self._fields:
            field.say("")
        self._on_intensity_changed(self.intensity.text())
        self._say("")
        self.tick(self._session.book.now())
        self.show()
        self.intensity.setFocus(Qt.FocusReason.OtherFocusReason)
        self.intensity.selectAll()

    def leave(self) -> None:
        """Puts the row away; what was typed waits for the next time."""
        self._put_draft_away()
        self._card = self._corrected = None
        self.hide()
        self.left.emit()

    def _put_draft_away(self) -> None:
        if self._card is None:
            return
        if self.is_begun:
            self._drafts[self._place] = self._draft()
        else:
            self._drafts.pop(self._place, None)

    @property
    def is_begun(self) -> bool:
        """Whether something was typed that is not kept."""
        return self._card is not None and self._draft() != self._as_found

    @property
    def _place(self) -> tuple[int, int | None]:
        assert self._card is not None
        return self._card.key, None if self._corrected is None else self._corrected.key

    @property
    def _as_found(self) -> Draft:
        return Draft() if self._corrected is None else draft_of(self._corrected)

    def _draft(self) -> Draft:
        return Draft(
            self.intensity.text(), self.distance.text(), self.liking.text(), self.words.text, self.note.text(),
            self.read_at.text(),
        )  # fmt: skip

    def _fill(self, draft: Draft) -> None:
        self.intensity.setText(draft.intensity)
        self.distance.setText(draft.distance)
        self.liking.setText(draft.liking)
        self.words.set_text(draft.words)
        self.note.setText(draft.note)
        self.read_at.setText(draft.read_at)

    # what it says -----------------------------------------------------------------------------------------------------

    def tick(self, now: datetime) -> None:
        """Shows the time that a reading kept now would get."""
        if self._card is None:
            return
        strip = self._card.strip
        at = self._corrected.at if self._corrected is not None else self._typed_moment(now) or now
        head = tr("{code} at {time}", code=self._card.code, time=figures.due_text(answers(strip, at)))
        self._head.setText(head if self._corrected is None else " · ".join((head, tr("correcting"))))
        self._elapsed.setText(figures.due_text(elapsed_s(strip, at)) if at >= strip.dipped_at else figures.UNKNOWN)
        counts = "" if self._corrected is not None or at < strip.dipped_at else counts_told(self._card, at, now)
        self._counts.setText(counts)
        self._counts.setVisible(bool(counts))
        described = (self._head.text(), tr("{span} after the dip", span=self._elapsed.text()), counts)
        self.setAccessibleDescription(", ".join(filter(None, described)))

    def _typed_moment(self, now: datetime) -> datetime | None:
        try:
            return parse_moment(self.read_at.text(), now)
        except Unreadable:
            return None

    def _say(self, sentence: str) -> None:
        self._sentence.setText(sentence)
        self._sentence.setVisible(bool(sentence))

    # keeping ----------------------------------------------------------------------------------------------------------

    def keep(self) -> bool:
        """Keeps the reading at the true time, new words with it. Where something cannot be, a sentence stands beside it."""
        if self._card is None:
            return False
        values, first_wrong = self._values()
        typed = self.words.read()
        self._words_field.say(typed.wrong)
        first_wrong = first_wrong or (self._words_field if typed.wrong else None)
        values["words"] = typed.words
        if first_wrong is not None:
            first_wrong.editor.setFocus(Qt.FocusReason.OtherFocusReason)
            return False
        if not any(values[name] not in (None, "", {}) for name in ("intensity", "distance_cm", "liking", "words", "note")):
            self._say(tr("There is nothing to keep yet. Write how strong it is, or any of the others."))
            self.intensity.setFocus(Qt.FocusReason.OtherFocusReason)
            return False
        new_words = tuple(Word(text=text) for text in typed.new)
        done = self._correct(values, new_words) if self._corrected is not None else self._put(values, new_words)
        if not done:
            return False
        key = self._card.key
        self._drafts.pop(self._place, None)
        self._fill(Draft())
        self._card = self._corrected = None
        self.hide()
        self.kept.emit(key)
        return True

    def _put(self, values: dict[str, Any], new_words: tuple[Word, ...]) -> bool:
        assert self._card is not None
        strip, at = self._card.strip, values["at"]
        try:
            reading = Reading(strip=self._card.key, due_s=answers(strip, at), **values)
        except Refused as refused:
            self._say(wording.sentences(refused.findings))
            return False
        return self._session.edit(tr("reading of {code}", code=strip.code), *new_words, reading) is not None

    def _correct(self, values: dict[str, Any], new_words: tuple[Word, ...]) -> bool:
        assert self._card is not None and self._corrected is not None and self._corrected.key is not None
        values.pop("entered_at", None)
        changed = {name: value for name, value in values.items() if getattr(self._corrected, name) != value}
        if "at" in changed:
            changed["due_s"] = answers(self._card.strip, values["at"])
        if not changed:
            self._say(tr("Nothing is different from what stands there."))
            return False
        what = tr("correction of {code}", code=self._card.strip.code)
        if new_words:
            listed = tr("smell words {words}", words=figures.listed(word.text for word in new_words))
            if self._session.edit(listed, *new_words) is None:
                return False
        return self._session.correct(self._corrected.key, what, **changed) is not None

    def withdraw(self) -> None:
        """Takes the reading that is being corrected out of all figures; it stays among the earlier wordings."""
        if self._card is None or self._corrected is None or self._corrected.key is None:
            return
        key = self._card.key
        what = tr("withdrawn reading of {code}", code=self._card.strip.code)
        if self._session.correct(self._corrected.key, what, withdrawn=True) is None:
            return
        self._card = self._corrected = None
        self._fill(Draft())
        self.hide()
        self.kept.emit(key)

    def _values(self) -> tuple[dict[str, Any], Field | None]:
        """(what the fields say, the first field that cannot be read)."""
        assert self._card is not None
        now = self._session.book.now()
        values: dict[str, Any] = {"note": self.note.text().strip()}
        wrong: list[Field] = []

        def take(name: str, field: Field, read: Callable[[str], Any]) -> None:
            values[name] = self._read(field, read)
            if field.is_wrong:
                wrong.append(field)

        take("intensity", self._intensity_field, read_intensity)
        take("distance_cm", self._distance_field, read_distance)
        take("liking", self._liking_field, read_liking)
        take("at", self._read_at_field, lambda text: self._moment(text, now))
        if values.get("at") is not None and values["at"] != now and self._corrected is None:
            values["entered_at"] = now
        return values, wrong[0] if wrong else None

    @staticmethod
    def _read(field: Field, read: Callable[[str], Any]) -> Any:
        """What a field holds; None where it cannot be read, which is then said beside it."""
        editor = field.editor
        assert isinstance(editor, QLineEdit)
        try:
            value = read(editor.text())
        except Refused as refused:
            field.say(wording.sentences(refused.findings))
        except Unreadable as sentence:
            field.say(str(sentence))
        else:
            if field.is_wrong:
                field.say("")
            return value
        return None

    def _moment(self, text: str, now: datetime) -> datetime:
        assert self._card is not None
        if self._corrected is not None and text == moment_text(self._corrected.at):
            return self._corrected.at
        at = parse_moment(text, now)
        if at < self._card.strip.dipped_at:
            dipped = figures.moment(self._card.strip.dipped_at, now)
            raise Unreadable(tr("{code} was dipped only at {time}. Check the time.", code=self._card.code, time=dipped))
        return at

    # building ---------------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        self._head = QLabel()
        self._head.setProperty("role", "caption")
        self._elapsed = QLabel()
        self._counts = label("", "amber", wrap=True)
        self._counts.setParent(self)
        self._counts.hide()
        self.intensity, self.distance, self.liking = QLineEdit(), QLineEdit(), QLineEdit()
        self.note, self.read_at = QLineEdit(), QLineEdit()
        self.words = SmellWords(self._session.theme)
        self._intensity_field = Field(tr("intensity, {scale}", scale="0–6"), self.intensity, tip=tr("0 to 6 in half steps: 3,5"))
        self._distance_field = Field(tr("cm"), self.distance, tip=tr("distance at which it is first noticed"))
        scale = tr("{least} to {most}", least="\u22124", most="+4")
        self._liking_field = Field(tr("liking, {scale}", scale="\u22124\u2060…\u2060+4"), self.liking, tip=scale)
        self._words_field = Field(tr("words"), self.words)
        self._note_field = Field(tr("note"), self.note)
        on_paper = tr("empty: now. For a reading written on paper: 14:30, 19 Mar 14:30, 20 min ago")
        self._read_at_field = Field(tr("read at"), self.read_at, tip=on_paper)
        self._fields = (
            self._intensity_field, self._distance_field, self._liking_field, self._words_field, self._note_field,
            self._read_at_field,
        )  # fmt: skip
        for field, read in (
            (self._intensity_field, read_intensity),
            (self._distance_field, read_distance),
            (self._liking_field, read_liking),
        ):
            field.editor.editingFinished.connect(partial(self._read, field, read))
        self.distance.setAccessibleName(tr("distance in cm"))
        self.read_at.setPlaceholderText(tr("now"))
        self._keep = QPushButton(tr("Keep this reading"))
        self._keep.setProperty("role", "primary")
        self._keep.setToolTip(tr("Enter in the last field, or Ctrl+Enter"))
        self._withdraw = QPushButton(tr("Withdraw"))
        self._withdraw.setProperty("role", "link")
        self._withdraw.setToolTip(tr("Takes this reading out of all figures; its wording stays to be seen"))
        self._leave = QPushButton(tr("Later"))
        self._leave.setProperty("role", "link")
        self._leave.setToolTip(tr("What is typed waits (Escape)"))
        self._sentence = QLabel()
        self._sentence.setProperty("role", "wrong")
        self._sentence.setWordWrap(True)
        self._sentence.hide()
        self._keep.clicked.connect(self.keep)
        self._withdraw.clicked.connect(self.withdraw)
        self._leave.clicked.connect(self.leave)
        self.intensity.textChanged.connect(self._on_intensity_changed)
        self.read_at.textChanged.connect(lambda: self.tick(self._session.book.now()))
        self.words.line.textChanged.connect(self._on_words_changed)
        self.words.finished.connect(lambda: self.note.setFocus(Qt.FocusReason.TabFocusReason))
        for editor in (self.intensity, self.distance, self.liking, self.words.line, self.note, self.read_at):
            editor.installEventFilter(self)
        self._lay_out()

    def _lay_out(self) -> None:
        self._title = QWidget()
        head = QVBoxLayout(self._title)
        head.setContentsMargins(0, 0, 0, 0)
        head.setSpacing(0)
        head.addWidget(self._head)
        head.addWidget(self._elapsed)
        buttons = QHBoxLayout()
        buttons.setSpacing(16)
        for button in (self._leave, self._withdraw):
            buttons.addWidget(button)
        buttons.addStretch(1)
        buttons.addWidget(self._keep)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(4)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(4)
        column.addWidget(self._counts)
        column.addLayout(self._grid)
        column.addWidget(self._sentence)
        column.addLayout(buttons)

    def tab_stops(self) -> tuple[QWidget, ...]:
        """Keeping comes right after the fields, though it stands at the end."""
        return (
            self.intensity, self.distance, self.liking, self.words.line, self.note, self.read_at, self._keep,
            self._withdraw, self._leave,
        )  # fmt: skip

    def _arrange(self) -> None:
        """Puts the fields into one line where there is room, else into four."""
        wide = self.width() >= WIDE
        if wide == self._wide:
            return
        self._wide = wide
        grid, px, top = self._grid, self._session.theme.px, Qt.AlignmentFlag.AlignTop
        for part in (self._title, *self._fields):
            grid.removeWidget(part)
        for place in range(8):
            grid.setColumnStretch(place, 0)
            grid.setColumnMinimumWidth(place, 0)
        if wide:
            places = ((0, 1), (0, 2), (0, 3), (0, 4, 1, 2), (1, 1, 1, 4), (1, 5))
            grid.addWidget(self._title, 0, 0, 2, 1, top)
            grid.setColumnStretch(4, 1)
            for place, width in ((0, 130), (1, 110), (2, 64), (3, 84), (5, 120)):
                grid.setColumnMinimumWidth(place, px(width))
        else:
            places = ((1, 0, 1, 3), (1, 3, 1, 2), (1, 5, 1, 3), (2, 0, 1, 8), (3, 0, 1, 8), (0, 4, 1, 4))
            grid.addWidget(self._title, 0, 0, 1, 4, top)
            for place in range(8):
                grid.setColumnStretch(place, 1)
        for field, place in zip(self._fields, places, strict=True):
            grid.addWidget(field, *place, top)
        for field, width in ((self._intensity_field, 110), (self._distance_field, 64), (self._liking_field, 84)):
            field.setMaximumWidth(px(width) if wide else NO_LIMIT)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    # keys -------------------------------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            return self._handle_key(watched, event)
        return super().eventFilter(watched, event)

    def _handle_key(self, watched: QObject, event: QKeyEvent) -> bool:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
            return True
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            return False
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier or watched in (self.note, self.read_at):
            self.keep()
            return True
        scales = {
            self.intensity: (self._intensity_field, read_intensity, self.distance),
            self.distance: (self._distance_field, read_distance, self.liking),
            self.liking: (self._liking_field, read_liking, self.words.line),
        }
        for editor, (field, read, after) in scales.items():
            if watched is editor:
                self._read(field, read)
                if field.is_wrong:
                    # what is said now is put right here, not on the way back
                    editor.selectAll()
                else:
                    after.setFocus(Qt.FocusReason.TabFocusReason)
                return True
        return False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)

    def _on_words_changed(self) -> None:
        """What was said of the words goes as soon as it is put right."""
        if self._words_field.is_wrong:
            self._words_field.say(self.words.wrong)

    def _on_intensity_changed(self, text: str) -> None:
        try:
            value = read_intensity(text)
        except (Refused, Unreadable):
            self._intensity_field.say(NO_ANCHOR, "caption")
            return
        self._intensity_field.say(NO_ANCHOR if value is None else anchor(value), "caption")

    def _on_theme_changed(self) -> None:
        self._elapsed.setFont(self._session.theme.font(TITLE * 0.9, bold=True))
