# SPDX-License-Identifier: MIT
"""The card of a bottle: what it holds, what is left, what it lost, what comes due, where it came from and what left it."""

from __future__ import annotations

from dataclasses import replace
from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from db import BottleRow
from desktop import figures
from desktop.help_text import tips
from desktop.language import tr
from desktop.models.bottles import off_label_text
from desktop.models.shown import BOTTLES, shown
from desktop.pages.notes import Notes
from desktop.pages.shelf import bottle_text as words
from desktop.session import Session
from desktop.theme import CAPTION
from desktop.widgets.emptied import take_out
from perfumery import Bottle, Material, Note, service
from perfumery.ledger import months_after

MOVES_SHOWN = 6
CONTENTS_SHOWN = 4
STATES_SHOWN = 3
VERBS_ACROSS = 3


class BottleCard(QScrollArea):
    """One bottle. `asked(verb)` for what is done with it ('edit', 'reweigh', 'draw', 'dilute', 'change', 'top up', 'discard',
    'set right'), `move_picked(key)` to correct a line of its ledger, `bottle_picked(key)` to go to another bottle."""

    asked = Signal(str)
    move_picked = Signal(int)
    bottle_picked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.row: BottleRow | None = None
        self._all_moves = False
        self._all_contents = False
        self._asking = ""
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        sheet = QFrame()
        sheet.setProperty("role", "sheet")
        self.name = self._label(tr("Bottle"))
        self.name.setProperty("role", "heading")
        self.contents = self._label(tr("What it holds"), links=True)
        self.masses = QGridLayout()
        self.masses.setHorizontalSpacing(16)
        self.masses.setVerticalSpacing(0)
        self.drift = self._label(tr("What it lost"), links=True)
        self.dates = self._label(tr("What comes due"), links=True)
        worked_out = {self.contents: "true-strength", self.drift: "drift-of-a-bottle", self.dates: "dates-on-the-shelf"}
        for part, sum_ in worked_out.items():
            part.setToolTip(tips(sum_))
            part.setAccessibleDescription(f"{part.accessibleDescription()}. {part.toolTip()}")
        self.facts = self._label(tr("Where it comes from"))
        self.cautions = self._label(tr("Cautions"))
        self.notes = Notes(session, "bottle")
        self.history = self._label(tr("History"), links=True)
        self.buttons = {
            verb: self._button(text, tip, sheet)
            for verb, text, tip in (
                ("reweigh", tr("Weigh again"), "Ctrl+W"), ("draw", tr("Draw from it"), "Ctrl+Shift+W"),
                ("dilute", tr("Dilute it"), "Ctrl+D"), ("accord", tr("Make it up again"), ""),
                ("change", tr("Strengthen or weaken"), ""), ("edit", tr("Edit"), "Ctrl+Enter"),
                ("set right", tr("Set the book right"), ""), ("discard", tr("Throw away"), ""),
            )
        }  # fmt: skip
        for verb, button in self.buttons.items():
            button.clicked.connect(lambda _=False, verb=verb: self._on_button_clicked(verb))
        self.sure = QLabel()
        self.sure.setWordWrap(True)
        self.sure.setProperty("role", "amber")
        self.sure_button = QPushButton()
        self.not_sure_button = QPushButton(tr("Leave it"))
        self.sure_button.clicked.connect(self._on_sure_clicked)
        self.not_sure_button.clicked.connect(lambda: self._ask(""))
        column = QVBoxLayout(sheet)
        column.setContentsMargins(16, 12, 16, 16)
        column.setSpacing(8)
        column.addWidget(self.name)
        column.addWidget(self.contents)
        column.addLayout(self.masses)
        for part in (self.drift, self.dates):
            column.addWidget(part)
        self._verbs = QGridLayout()
        self._verbs.setHorizontalSpacing(14)
        self._verbs.setVerticalSpacing(0)
        self._verbs.setColumnStretch(VERBS_ACROSS, 1)
        column.addLayout(self._verbs)
        for part in (self.sure, self.sure_button, self.not_sure_button):
            column.addWidget(part, 0, Qt.AlignmentFlag.AlignLeft if part is not self.sure else Qt.AlignmentFlag(0))
        for part in (self.facts, self.cautions, self.notes, self.history):
            column.addWidget(part)
        column.addStretch(1)
        self.setWidget(sheet)
        self.show_bottle(None)

    def show_bottle(self, key: int | None) -> None:
        """Shows a bottle as it stands in the book, None an empty card."""
        if self.row is None or key != self.row.key:
            self._all_moves = self._all_contents = False
            self._asking = ""
            self.verticalScrollBar().setValue(0)
        row = self.row = None if key is None else self._session.book.bottles.row(key)
        self.widget().setVisible(row is not None)
        self.notes.show_for(None if row is None else row.key)
        if row is None:
            return
        book, now = self._session.book, self._session.book.now()
        shares = book.contents(row.key)
        u = book.bottles.uncertainty(row.key)
        gone = tr("gone since {day}", day=figures.day(row.bottle.gone_on, now)) if row.bottle.gone_on else ""
        known = " · ".join(filter(None, (shown(BOTTLES, row.bottle.kind), row.bottle.place, gone)))
        self.name.setText(f"{escape(row.bottle.code)} · {escape(words.head(row))}")
        most = None if self._all_contents or len(shares) <= CONTENTS_SHOWN + 1 else CONTENTS_SHOWN
        held = escape(words.contents(book, shares, u, row.bottle.material, most))
        if most is not None:
            held += f" {self._link('contents:all', tr('and {number} more', number=len(shares) - most))}"
        off = "" if row.bottle.gone_on else off_label_text(row, book.bottles.habits())
        lines = (held, self._amber(escape(off)) if off else "", self._quiet(escape(known)))
        self.contents.setText("<br>".join(filter(None, lines)))
        self._show_masses(row)
        self._set(self.drift, self._drift_text(row))
        self._set(self.dates, "<br>".join(self._date(*date) for date in words.dates(row, now)))
        self._set(self.facts, self._quiet("<br>".join(escape(line) for line in words.facts(row, book, now))))
        cautions = (tr("Caution: {caution}", caution=line) for line in words.cautions(row))
        self._set(self.cautions, self._quiet("<br>".join(escape(line) for line in cautions)))
        self._set(self.history, self._history(row))
        standing = row.bottle.gone_on is None
        for verb, button in self.buttons.items():
            button.setVisible(standing or verb == "edit")
        thinned = row.bottle.material is not None or row.bottle.kind == "trial"
        self.buttons["dilute"].setVisible(standing and bool(shares) and thinned)
        self.buttons["accord"].setVisible(row.bottle.kind == "accord")
        self.buttons["change"].setVisible(standing and bool(shares) and row.bottle.carrier is not None)
        self._fit_verbs()
        self._ask(self._asking if standing else "")

    @property
    def can_settle(self) -> bool:
        """Whether more is missing than the balance's noise, and it can have been carrier."""
        row = self.row
        return (
            row is not None and row.bottle.gone_on is None and row.bottle.carrier is not None
            and row.drift is not None and not row.drift.is_noise
        )  # fmt: skip

    def _fit_verbs(self) -> None:
        """As many beside each other as there is room for, so that none is cut."""
        shown = [button for button in self.buttons.values() if not button.isHidden()]
        widest = max((button.sizeHint().width() for button in shown), default=1) + self._verbs.horizontalSpacing()
        across = min(max((self.viewport().width() - 32) // widest, 1), VERBS_ACROSS)
        for place, button in enumerate(shown):
            self._verbs.addWidget(button, place // across, place % across, Qt.AlignmentFlag.AlignLeft)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_verbs()

    # parts ------------------------------------------------------------------------------------------------------------

    def _label(self, name: str, *, links: bool = False) -> QLabel:
        label = QLabel()
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.RichText)
        label.setAccessibleDescription(name)  # a name would be read out in the place of the text
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        if links:
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
            label.linkActivated.connect(self._on_link_activated)
        return label

    def _button(self, text: str, tip: str, parent: QWidget) -> QPushButton:
        # with its parent from the start: shown without one it would be a window of its own for a moment
        button = QPushButton(text, parent)
        button.setProperty("role", "link")
        button.setAutoDefault(False)
        button.setToolTip(tip)
        return button

    def _set(self, label: QLabel, text: str) -> None:
        label.setText(text)
        label.setVisible(bool(text))

    def _show_masses(self, row: BottleRow) -> None:
        take_out(self.masses)
        masses = [(tr("left"), row.left_g)]
        if row.found_g is not None:
            found = tr("found {day}", day=figures.day(row.found_at, self._session.book.now()))
            masses += [(tr("by the book"), row.book_g), (found, row.found_g)]
        for at, (caption, mass) in enumerate(masses):
            head = QLabel(caption)
            head.setProperty("role", "caption")
            figure = QLabel(figures.mass_text(mass))
            figure.setProperty("role", "strong")
            self.masses.addWidget(head, 0, at)
            self.masses.addWidget(figure, 1, at)
        for at in range(4):
            self.masses.setColumnStretch(at, int(at == len(masses)))

    def _drift_text(self, row: BottleRow) -> str:
        drift = row.drift
        if drift is None or drift.missing_g <= 0 or row.bottle.gone_on is not None:
            return ""
        now = self._session.book.now()
        if drift.is_noise:
            mass, noise = figures.mass_text(drift.missing_g), figures.mass_text(drift.noise_g)
            return self._quiet(tr("{mass} less than booked: within what the balance sees (± {noise}).", mass=mass, noise=noise))
        text = escape(words.drift_text(row, drift, now))
        if row.bottle.carrier is None:
            return self._quiet(text)
        passed = drift.risen > self._session.book.bottles.habits()["drift tolerance"]
        strength, added = figures.percent_text(drift.strength_high), figures.mass_text(row.top_up_g)
        links = (
            self._link("do:relabel", tr("Label it {strength}", strength=strength)),
            self._link("do:top up", tr("Top up {mass} {carrier}", mass=added, carrier=row.carrier_name)),
            self._link("do:discard", tr("Throw it away")),
        )
        return f"{self._amber(text) if passed else text}<br>{' · '.join(links)}"

    def _date(self, text: str, token: str, verb: str) -> str:
        said = self._amber(escape(text)) if token == "amber" else self._quiet(escape(text))
        gone = self.row is not None and self.row.bottle.gone_on is not None
        if gone or not verb:
            return said
        link = self._link(f"do:{verb}", {"good": tr("smelled, still good"), "cap": tr("changed today")}[verb])
        return f"{said} · {link}"

    def _history(self, row: BottleRow) -> str:
        book, now = self._session.book, self._session.book.now()
        moves = list(reversed(book.bottles.moves(row.key)))
        codes: dict[int, str] = {}

        def code(key: int | None) -> str:
            if key is None:
                return figures.UNKNOWN
            if key not in codes:
                other = book.get(Bottle, key)
                codes[key] = figures.UNKNOWN if other is None else other.code
            return codes[key]

        told = moves if self._all_moves else moves[:MOVES_SHOWN]
        lines = []
        for move in told:
            # what was poured without weighing booked no mass, so that there is no figure to put right
            fixed = move.kind == "lost" or (move.kind == "pour" and not move.mass_g)
            tail = [] if fixed else [self._link(f"move:{move.key}", tr("correct"))]
            other = move.from_bottle if move.to_bottle == row.key else move.to_bottle
            if move.kind == "pour" and other is not None:
                tail.append(self._link(f"bottle:{other}", tr("show")))
            line = escape(words.move_text(move, row.key, code, now)).replace("  ", "&nbsp;&nbsp;")
            lines.append(f"{line} {self._small(' · '.join(tail))}" if tail else line)
        if len(moves) > len(told):
            lines.append(self._link("moves:all", tr("and {number} earlier", number=len(moves) - len(told))))
        states = book.bottles.states(row.key)
        if len(states) > 1:
            latest = states[::-1] if self._all_moves else states[: -STATES_SHOWN - 1 : -1]
            lines += [self._quiet(escape(words.state_text(book, state, row.bottle.material, now))) for state in latest]
        if not lines:
            return self._quiet(tr("Nothing was ever booked on it."))
        return "<br>".join((self._quiet(tr("history")), *lines))

    def _quiet(self, text: str) -> str:
        token = self._session.theme.token("quiet")
        return self._small(f"<span style='color:{token}'>{text}</span>") if text else ""

    def _small(self, text: str) -> str:
        return f"<span style='font-size:{self._session.theme.px(CAPTION)}px'>{text}</span>"

    def _amber(self, text: str) -> str:
        return f"<span style='color:{self._session.theme.token('amber')}'>{text}</span>" if text else ""

    def _link(self, target: str, text: str) -> str:
        style = f"color:{self._session.theme.token('juniper')}; text-decoration:none"
        return f"<a style='{style}' href='{escape(target)}'>{escape(text)}</a>"

    # what is done -----------------------------------------------------------------------------------------------------

    def still_good(self) -> None:
        """Renews the re-test from today, and notes why."""
        row = self.row
        if row is None or row.retest_on is None:
            return
        book, today = self._session.book, self._session.book.now().date()
        material = None if row.bottle.material is None else book.get(Material, row.bottle.material)
        months = None if material is None else service.retest_months(material, book.bottles.habits())
        bottle = replace(row.bottle, retest_on=months_after(today, months or 12))
        note = Note(text="smelled, still good", bottle=row.key)
        self._session.edit(tr("{code} smelled, still good", code=bottle.code), bottle, note)

    def cap_changed(self) -> None:
        """A new dropper cap from today."""
        if self.row is not None:
            bottle = replace(self.row.bottle, dropper_on=self._session.book.now().date())
            self._session.edit(tr("dropper cap of {code}", code=bottle.code), bottle)

    def relabel(self) -> None:
        """The strength it has risen to becomes its label, once it was said what that means."""
        if self.can_settle:
            self._ask("relabel")
            self.not_sure_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _ask(self, verb: str) -> None:
        """Says what cannot be taken back before it is done; '' asks nothing."""
        self._asking = verb
        row = self.row
        if row is not None and verb == "discard":
            code = row.bottle.code
            what = tr("{code} with {mass}", code=code, mass=figures.mass_text(row.left_g)) if row.left_g else code
            self.sure.setText(
                tr("{bottle} goes to waste and off the lists; its history stays. Never down the drain.", bottle=what)
            )
            self.sure_button.setText(tr("Throw it away"))
        elif row is not None and verb == "relabel" and row.drift is not None:
            strength = figures.percent_text(row.drift.strength_high)
            self.sure.setText(tr(
                "{mass} are written off as {carrier} that evaporated, and {code} counts as {strength} from then on. Trials "
                "weighed before keep what they were weighed with. If a draw was never booked, book that instead.",
                mass=figures.mass_text(row.drift.missing_g), carrier=row.carrier_name, code=row.bottle.code, strength=strength,
            ))  # fmt: skip
            self.sure_button.setText(tr("Label it {strength}", strength=strength))
        for part in (self.sure, self.sure_button, self.not_sure_button):
            part.setVisible(bool(verb))

    def _on_sure_clicked(self) -> None:
        verb, self._asking = self._asking, ""
        bottles = self._session.book.bottles
        if self.row is not None and verb:
            self._session.attempt(bottles.discard if verb == "discard" else bottles.relabel, self.row.key)

    def _on_button_clicked(self, verb: str) -> None:
        if verb == "discard":
            self._ask("discard")
            self.not_sure_button.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.asked.emit(verb)

    def _on_link_activated(self, link: str) -> None:
        verb, _, rest = link.partition(":")
        acts = {"relabel": self.relabel, "good": self.still_good, "cap": self.cap_changed,
                "discard": lambda: self._ask("discard")}  # fmt: skip
        if verb == "move":
            self.move_picked.emit(int(rest))
        elif verb == "bottle":
            self.bottle_picked.emit(int(rest))
        elif verb in ("moves", "contents"):
            self._all_moves |= verb == "moves"
            self._all_contents |= verb == "contents"
            self.show_bottle(None if self.row is None else self.row.key)
        elif rest in acts:
            acts[rest]()
        else:
            self.asked.emit(rest)
