# SPDX-License-Identifier: MIT
"""How this perfumer works: months to a re-test, when a bottle is low, what drift is still the written strength, bench hours."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.forms import form_text
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Habit, Refused, parse_hour, parse_number
from perfumery.values import HABITS

# (habit, its words, the factor from what is shown to what is kept)
_SHOWN: tuple[tuple[str, str, float], ...] = (
    ("drift tolerance", tr("drift that still counts as the written strength, %"), 0.01),
    ("low share", tr("low when less is left than, % of what came"), 0.01),
    ("weigh again months", tr("weigh a bottle again after, months"), 1.0),
    ("dropper cap months", tr("change dropper caps after, months"), 1.0),
    ("head space", tr("free room above a dilution, % of the vessel"), 0.01),
    ("dissolve days", tr("days a solid takes to dissolve"), 1.0),
)
_RETEST = "re-test months "
# (habit, its words); figures of hours are shown and typed as a clock shows them
_BENCH: tuple[tuple[str, str], ...] = (
    ("bench opens hour", tr("bench opens at")),
    ("bench closes hour", tr("bench closes at")),
    ("reading minutes", tr("one reading, min")),
)


class HabitsSheet(Sheet):
    """Every habit with its figure; an empty field goes back to where it began."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep"), parent)
        self.title.setText(tr("Habits of this bench"))
        self.tell(tr(
            "These figures are our own, a place to begin: no standard fixes them. Changing droppers yearly is common practice."
        ))  # fmt: skip
        self.fields: dict[str, tuple[Field, float]] = {}
        for name, caption, factor in _SHOWN:
            edit, field = self.line(caption, width=90)
            edit.setAccessibleName(caption)
            self.fields[name] = field, factor
        self._rows_of_three(
            tr(
                "No two readings of a stand begin nearer than one takes. What comes due while the bench is closed is told on the "
                "desktop when it opens. Closing before opening is over midnight, the same hour twice all day."
            ),
            _BENCH,
        )
        self._rows_of_three(
            tr("months from opening to the next re-test, where a material has none of its own"),
            [(name, form_text(name.removeprefix(_RETEST))) for name in HABITS if name.startswith(_RETEST)],
        )

    def _rows_of_three(self, about: str, named: Sequence[tuple[str, str]]) -> None:
        head = QLabel(about)
        head.setProperty("role", "caption")
        head.setWordWrap(True)
        self.column.addWidget(head)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        for at, (name, caption) in enumerate(named):
            edit = QLineEdit()
            field = Field(caption, edit, tip=tr("an hour, as 8:30") if name.endswith("hour") else "")
            edit.returnPressed.connect(self.confirm)
            self.fields[name] = field, 1.0
            grid.addWidget(field, at // 3, at % 3, Qt.AlignmentFlag.AlignTop)
            grid.setColumnStretch(at % 3, 1)
        self.column.addLayout(grid)

    def start(self) -> None:
        """Begins with the figures in force."""
        known = self._session.book.bottles.habits()
        for name, (field, factor) in self.fields.items():
            assert isinstance(field.editor, QLineEdit)
            shown = figures.hour(known[name]) if name.endswith("hour") else figures.parts(float(f"{known[name] / factor:.12g}"))
            field.editor.setText(shown)
            field.say("")
        self.say("")
        first = next(iter(self.fields.values()))[0].editor
        first.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keep(self) -> bool:
        """Puts what differs, as one step."""
        book = self._session.book
        known, own = book.bottles.habits(), {habit.name: habit for habit in book.all(Habit)}
        wanted = []
        for name, (field, factor) in self.fields.items():
            figure = self.read(field, parse_hour if name.endswith("hour") else parse_number)
            value = HABITS[name] if figure is None else float(f"{figure * factor:.12g}")
            if value != known[name]:
                try:
                    wanted.append(Habit(name, value, key=own[name].key if name in own else None))
                except Refused as fault:
                    field.say(wording.sentences(fault.findings))
                    field.editor.setFocus()
                    return False
        return not wanted or self._session.put(tr("habits of this bench"), *wanted) is not None
