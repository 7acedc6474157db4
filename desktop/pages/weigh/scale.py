# SPDX-License-Identifier: MIT
"""One line at a time at the balance: a figure to read from afar, a field that always has the focus, two large keys.

Every accepted figure is on disk before the next line is shown. Nothing here is modal; what is outside its tolerance is asked
about below, and may be left as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.plan_rows import views
from desktop.models.right_bottle import in_more_strengths, of_stock
from desktop.models.scale_text import difference, drops_of, is_far, is_figure, shown_mass, slipped
from desktop.models.weigh import TOLERANCE, Plan, PlanRow, taken_up, waiting
from desktop.pages.weigh.scale_face import EVERY_BOTTLE, LINK_KEY, ScaleFace, link_in
from desktop.pages.weigh.scale_line import LineShown, weighing_text
from desktop.pages.weigh.scale_mishaps import GIVEN_UP, HOW_TAKEN_UP, WHY_MORE, Mishaps
from desktop.pages.weigh.scale_off import OffFigure
from desktop.pages.weigh.strip_side import StripSide, due_now
from desktop.session import Session
from desktop.widgets.emptied import empty
from perfumery import Balance, Making, Move, Planned, Refused, weighing

BETWEEN = 1.5  # a tare-each figure this close to vessel plus target is taken for a balance that was not tared
OWN_KEYS = (Qt.Key.Key_F2, Qt.Key.Key_F4, Qt.Key.Key_F6, Qt.Key.Key_F7, Qt.Key.Key_F9)
ANSWERS = 5


class ScaleView(ScaleFace):
    """`left` when the weighing is put by; `finished(vial key)` when its last figure is in and it was closed."""

    left = Signal()
    finished = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self.balance: Balance | None = None
        super().__init__(session, parent)
        self.making: Making | None = None
        self.plan = Plan(())
        self.at: int | None = None
        self.tolerance = TOLERANCE
        self.last_row: PlanRow | None = None
        self.line, self.off_figure, self.mishaps = LineShown(self), OffFigure(self), Mishaps(self)
        self._asked = ""
        self._asks_code = False
        self._seen: tuple[int | None, int] | None = None
        self._strips: StripSide | None = None
        self._due: int | None = None
        self._connect()

    def _connect(self) -> None:
        for button, slot in (
            (self.accept, self.confirm), (self.later, self.put_later), (self.put_by, self.put_away),
            (self.finish, self.close_weighing), (self.give_up, self.ask_give_up), (self.spilled, self.mishaps.ask_spill),
            (self.emptied, self.mishaps.empty), (self.mistyped, self.mishaps.ask_figure), (self.due, self.read_strip),
        ):  # fmt: skip
            button.clicked.connect(slot)
        self.figure.returnPressed.connect(self.confirm)
        self.figure.textEdited.connect(self._on_figure_edited)
        self.every_bottle.toggled.connect(self._on_every_bottle_toggled)
        self.said.linkActivated.connect(self._on_link_activated)
        self.answers.chosen.connect(self._on_answer_chosen)
        self.ask.answered.connect(self.mishaps.answer)
        self.ask.left.connect(self.focus_figure)
        self.grid.entered.connect(self._go_to_row)
        self.grid.doubleClicked.connect(lambda index: self._go_to_row(index.row()))
        self.session.ticked.connect(self._on_session_ticked)
        own = Qt.ShortcutContext.WidgetWithChildrenShortcut
        QShortcut(QKeySequence(LINK_KEY), self, self._on_link_key_activated, context=own)
        for number in range(1, ANSWERS + 1):
            QShortcut(QKeySequence(f"Alt+{number}"), self, lambda number=number: self.answers.take(number), context=own)

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, making: int) -> None:
        """Takes a weighing up where it stands."""
        book = self.session.book
        self.making = book.get(Making, making)
        assert self.making is not None
        self.balance = None if self.making.balance is None else book.get(Balance, self.making.balance)
        self.at = self.last_row = self._seen = None
        self._asked = ""
        self.off_figure.dismiss()
        self.ask.hide()
        self.say("", "quiet")
        self.refresh()
        self.cable.watch(self.balance, self.making.mode)
        self.tell_last()
        self.focus_figure()

    def tell_last(self, *, always: bool = False) -> None:
        """What became of the last figure, with its answers where it is off: also when the weighing is taken up again."""
        done = [(row.moves[-1].at, row.moves[-1].key or 0, place) for place, row in enumerate(self.plan.rows) if row.moves]
        if not done:
            return
        place = max(done)[-1]
        self.last_row = self.plan.rows[place]
        is_off = self.last_row.is_outside(self.tolerance, self.balance)
        if is_off or always:
            self.say(*self.off_figure.said_of(place))
        if is_off:
            self.off_figure.tell(place)

    def refresh(self) -> None:
        """Reads the figures anew and shows the line that is to be weighed next."""
        if self.making is None or self.making.key is None:
            return
        book = self.session.book
        self.making = book.get(Making, self.making.key)
        assert self.making is not None and self.making.key is not None
        self.plan = _with_what_is_in(taken_up(book, self.making), book.weighings.inside(self.making.key))
        if self.at is None or self.at >= len(self.plan.rows) or self.plan.rows[self.at].is_done:
            self.at = self.plan.current
        self._show_rows()
        self._show_line()
        self._on_session_ticked(book.now())

    def _show_line(self) -> None:
        row = self.row
        self._asks_code = row is not None and (self.every_bottle.isChecked() or in_more_strengths(self.session.book, row))
        self.line.show()
        self.fit()

    def _show_rows(self) -> None:
        today = self.session.book.now().date()
        self.model.show_rows(views(self.plan.rows, self.balance, self.at, self.tolerance, today))
        if self.at is not None:
            self.grid.scrollTo(self.model.index(self.at, 0))

    @property
    def row(self) -> PlanRow | None:
        """The line that is being weighed."""
        return None if self.at is None else self.plan.rows[self.at]

    @property
    def is_running(self) -> bool:
        """Whether the balance is not tared between lines, and shows the total."""
        return self.making is not None and self.making.mode == "running total"

    @property
    def is_difference(self) -> bool:
        """Whether a boat or pipette is weighed before and after; what stays in it goes to waste, never back."""
        return self.making is not None and self.making.mode == "by difference"

    @property
    def held_g(self) -> float:
        """g in the vessel by the book; what a bottle that is topped up held before is in it too."""
        vessel = None if self.making is None else self.making.into_bottle
        return 0.0 if vessel is None else self.session.book.left(vessel).get(vessel, 0.0)

    @property
    def asks_code(self) -> bool:
        """Whether the code of the bottle has to be typed or scanned before a figure is taken."""
        row = self.row
        return self._asks_code and row is not None and row.bottle is not None and not self.is_seen

    @property
    def is_seen(self) -> bool:
        """Whether the code of the line's bottle was typed or scanned."""
        row = self.row
        return row is not None and row.bottle is not None and self._seen == (self.at, row.bottle.key)

    def not_ready(self, row: PlanRow) -> str:
        """What speaks against the bottle of a line that may not be used yet, '' nothing."""
        found = None if row.bottle is None else waiting(row.bottle.bottle, self.session.book.now().date())
        return "" if found is None else wording.sentence(found)

    def step(self) -> float:
        """The smallest step of the balance, g."""
        return 0.001 if self.balance is None else self.balance.d_g

    # what is done -----------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Accepts the figure: on disk at once. One that looks as if the balance was not tared is asked about first."""
        row, making = self.row, self.making
        if row is None or making is None or making.key is None:
            return
        if row.bottle is None:
            stock = f"{row.name} {row.stock}".strip()
            self.say(tr("No bottle holds {stock}. Put it by and make one on the Shelf.", stock=stock), "wrong")
            return
        text = self.figure.text().strip()
        if self.asks_code or (text and not is_figure(text) and self._is_code(row, text)):
            self.mishaps.take_code(row, text)
            return
        try:
            drops = drops_of(text)
            mass = self.mass_shown(row) if drops is None else self.mishaps.drops(row, drops)
        except Refused as fault:
            self.say(wording.sentences(fault.findings), "wrong")
            return
        if mass is not None and not (drops is None and self._asks_if_meant(row, mass, text)):
            self._take(row, mass, estimated=drops is not None)

    def _asks_if_meant(self, row: PlanRow, mass: float, text: str) -> bool:
        """Whether a figure far from its target is asked about first; Enter again takes it."""
        target = row.planned.target_g - row.read_g
        noise = 0.0 if self.balance is None else weighing.K * weighing.net_u(self.balance)
        if self._asked == text or not is_far(mass, target, noise):
            return False
        self._asked = text
        likely = None if self.is_running else slipped(mass, target)
        shown, meant = figures.mass_text(mass, self.step()), figures.mass_text(target, self.step())
        if likely is None:
            self.say(tr("{shown} for a target of {target}? Enter again keeps it.", shown=shown, target=meant), "amber")
            return True
        take = self.link(f"take:{likely!r}", tr("take {mass}", mass=figures.mass_text(likely, self.step())))
        said = tr(
            "{shown} for a target of {target}? If the point slipped: {take}. Enter again keeps it.",
            shown=shown, target=meant, take=take,
        )  # fmt: skip
        self.say(said, "amber")
        return True

    def _is_code(self, row: PlanRow, text: str) -> bool:
        return any(each.bottle.code.casefold() == text.casefold() for each in of_stock(self.session.book, row))

    def mass_shown(self, row: PlanRow) -> float | None:
        """The net mass of the figure typed; None where it has to be asked about first. Raises Refused."""
        text = self.figure.text()
        shown = difference(text) if self.is_difference else shown_mass(text)
        inside = self.plan.in_vessel_g
        if self.is_running:
            mass = round(shown - inside, 9)
            if mass <= 0:
                held = figures.mass_text(inside, self.step())
                self.say(tr("{mass} are in already; the total cannot be less.", mass=held), "wrong")
                return None
            return mass
        target = row.planned.target_g - row.read_g
        untared = round(shown - inside, 9)
        near = max(target * TOLERANCE, BETWEEN * self.step())
        looks = inside and not self.is_difference and abs(untared - target) <= near < abs(shown - target)
        if looks and untared > 0 and self._asked != text:
            self._asked = text
            less, read = figures.mass_text(untared, self.step()), figures.mass_text(shown, self.step())
            take = self.link(f"take:{untared!r}", tr("take {mass}", mass=less))
            said = tr("Not tared? Then it is {mass}: {take}. Enter again keeps {shown}.", mass=less, take=take, shown=read)
            self.say(said, "amber")
            return None
        return shown

    def booked(self, row: PlanRow, mass: float, *, estimated: bool = False) -> Move | None:
        """The figure in the book; None where it was refused, which was then said."""
        making = self.making
        assert making is not None and making.key is not None and row.bottle is not None
        try:
            move: Move | None = self.session.do(
                self.session.book.weighings.accept, making.key, row.bottle.key, mass, line=row.planned.line,
                target_g=row.planned.target_g, estimated=estimated,
            )  # fmt: skip
        except Refused as fault:
            self._refused(row, mass, fault, estimated=estimated)
            return None
        if move is not None:
            self.cable.accepted()
        return move

    def _take(self, row: PlanRow, mass: float, *, estimated: bool = False) -> None:
        if self.booked(row, mass, estimated=estimated) is None:
            return
        self._asked = ""
        place, self.at = self.at, None
        self.off_figure.dismiss()
        self.refresh()
        if place is not None:
            self.last_row = self.plan.rows[place]
            self.say(*self.off_figure.said_of(place))
            if self.last_row.is_outside(self.tolerance, self.balance):
                self.off_figure.tell(place)
        self.focus_figure()

    def focus_figure(self) -> None:
        """The focus to where a figure is typed; when all are in, to what is to be decided of the last one, else to Finish."""
        if self.row is not None:
            super().focus_figure()
            return
        open_ = self.answers.buttons.values() if self.off_figure.off is not None else ()
        next(iter(open_), self.finish).setFocus(Qt.FocusReason.OtherFocusReason)

    def _refused(self, row: PlanRow, mass: float, fault: Refused, *, estimated: bool) -> None:
        """More than the book says is in the bottle: the balance is right, so the book is set right by name, in place."""
        said = wording.sentences(fault.findings)
        if any(finding.code == "beyond-left" for finding in fault.findings) and row.bottle is not None:
            verb = "about" if estimated else "more"
            more = self.link(f"{verb}:{mass!r}", tr("There was more: book it so, and accept the figure"))
            said = f"{said} {more}"
        self.say(said, "wrong")

    def take_plan(self, plan: Sequence[Planned], said: str, place: int | None = None) -> None:
        """Another plan for what is still to come; `place` is weighed next."""
        if self.making is None or self.making.key is None:
            return
        self.session.attempt(self.session.book.weighings.replan, self.making.key, tuple(plan))
        self.at = place
        self.refresh()
        self.say(said, "quiet")
        self.focus_figure()

    def weigh_again(self, place: int) -> None:
        """Back to a line that is in, for what it lacks."""
        self._drop_question()
        self.at = place
        self._show_rows()
        self._show_line()
        self.focus_figure()

    def bottle_seen(self, bottle: int) -> None:
        """The code of the bottle was right: the figure may come."""
        row = self.row
        self._seen = self.at, bottle
        # what was said of the code goes with it
        self.say("", "quiet")
        empty(self.figure)
        if row is not None:
            self.line.show_bottle(row)

    def put_later(self) -> None:
        """This line after all the others."""
        if self.at is None or self.making is None or self.making.key is None:
            return
        plan = list(self.making.plan)
        plan.append(plan.pop(self.at))
        self._drop_question()
        self.at = None
        self.off_figure.dismiss()
        self.session.attempt(self.session.book.weighings.replan, self.making.key, plan)
        self.refresh()

    def _drop_question(self) -> None:
        """What was asked about a figure is of its line: its links must do nothing to another one."""
        self._asked = ""
        if link_in(self.told) is not None:
            self.say("", "quiet")

    def step_back(self) -> None:
        """What is open is closed first, one thing a press; with nothing open the weighing is put by."""
        if self.ask.isVisibleTo(self):
            self.ask.leave()
        elif self.side.currentWidget() is not self.grid:
            self._on_strips_left()
        elif self._asks:
            self._drop_question()
            self.focus_figure()
        elif self.figure.text() and not self.cable.is_own:
            # what a cable filled in would stand there again at once
            empty(self.figure)
            if self._told[1] == "wrong" or self._asked:
                self.say("", "quiet")
            self._asked = ""
        else:
            self.put_away()

    @property
    def _asks(self) -> bool:
        """Whether the sentence below the figure asks something; what it only offers asks nothing."""
        link = link_in(self.told)
        return link is not None and not link.startswith("again:")

    def put_away(self) -> None:
        """The weighing waits; how it is taken up again is said."""
        making = self.making
        if making is not None:
            waits = tr("{weighing} waits to be finished.", weighing=weighing_text(self, making))
            if self.row is not None:
                waits = tr("{weighing} waits at {place}.", weighing=weighing_text(self, making), place=self.line.place())
            self.session.said.emit(f"{waits} {HOW_TAKEN_UP}", "note")
        self.left.emit()

    def close_weighing(self) -> None:
        """The weighing is done: what the vial holds is told from what was read."""
        if self.making is None or self.making.key is None:
            return
        vial = self.session.attempt(self.session.book.weighings.finish, self.making.key)
        if vial is not None:
            inside = figures.mass_text(self.plan.in_vessel_g, self.step())
            code = self.making.code or vial.code
            said = tr("{code} is weighed: {mass} in {vial}.", code=code, mass=inside, vial=vial.code)
            self.session.said.emit(said, "done")
            self.making = None
            self.finished.emit(vial.key)

    def ask_give_up(self) -> None:
        """Asks once before what is in goes to waste."""
        inside = figures.mass_text(self.plan.in_vessel_g, self.step())
        if self.making is not None and self.making.kind == "top-up":
            end = self.link("give up:", tr("End it here"))
            self.say(tr("What came in so far, {mass}, stays in the bottle. {end}, or go on.", mass=inside, end=end), "amber")
            return
        discard = self.link("give up:", tr("Throw it away"))
        said = tr("{mass} would go to waste; the figures stay in the book. {discard}, or go on.", mass=inside, discard=discard)
        self.say(said, "amber")

    # a strip that is due ----------------------------------------------------------------------------------------------

    def read_strip(self) -> None:
        """Opens the reading of the strip that is due, beside; what is typed here stays."""
        if self._due is None:
            return
        if self._strips is None:
            self._strips = StripSide(self.session, self)
            self._strips.left.connect(self._on_strips_left)
            self.side.addWidget(self._strips)
        if self._strips.open(self._due):
            self.side.setCurrentWidget(self._strips)
            self._strips.reading.intensity.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_strips_left(self) -> None:
        self.side.setCurrentWidget(self.grid)
        self._on_session_ticked(self.session.book.now())
        self.focus_figure()

    def _on_session_ticked(self, now: Any) -> None:
        if not self.isVisible():
            return
        found = due_now(self.session.book, now)
        self._due = None if found is None else found[0]
        self.due.setText("" if found is None else tr("{strip} is due", strip=found[1]))
        self.due.setVisible(found is not None)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._on_session_ticked(self.session.book.now())

    # slots ------------------------------------------------------------------------------------------------------------

    def _go_to_row(self, place: int) -> None:
        if 0 <= place < len(self.plan.rows) and not self.plan.rows[place].is_done:
            if place != self.at:
                self._drop_question()
            self.at = place
            self.refresh()
        self.focus_figure()

    def _on_figure_edited(self, text: str) -> None:
        if text != self._asked:
            self._asked = ""

    def _on_every_bottle_toggled(self, on: bool) -> None:
        self.session.settings.keep(EVERY_BOTTLE, on)
        row = self.row
        if row is not None:
            self._asks_code = on or in_more_strengths(self.session.book, row)
            self.line.show_bottle(row)
        self.focus_figure()

    def _on_answer_chosen(self, kind: str) -> None:
        self.off_figure.choose(kind)

    def _on_link_key_activated(self) -> None:
        link = link_in(self.told)
        if link is not None:
            self._on_link_activated(link)

    def _on_link_activated(self, link: str) -> None:
        verb, _, rest = link.partition(":")
        row = self.row
        if verb == "take" and row is not None:
            self._take(row, float(rest))
        elif verb in ("more", "about") and row is not None and row.bottle is not None:
            book, mass = self.session.book, float(rest)
            left = book.left(row.bottle.key).get(row.bottle.key, 0.0)
            self.session.attempt(book.bottles.correct_mass, row.bottle.key, round(mass - left, 9), WHY_MORE)
            self._take(row, mass, estimated=verb == "about")
        elif verb == "unchecked" and row is not None and row.bottle is not None:
            self.bottle_seen(row.bottle.key)
            self.focus_figure()
        elif verb == "again":
            self.mishaps.fill_again(*rest.split(":"))
        elif verb == "give up" and self.making is not None and self.making.key is not None:
            self.session.attempt(self.session.book.weighings.abandon, self.making.key, GIVEN_UP)
            self.making = None
            self.left.emit()

    def event(self, event: QEvent) -> bool:
        # these keys mean something else on the other pages; while a line is weighed they are its own
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and event.key() in OWN_KEYS:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        own = {
            Qt.Key.Key_Escape: self.step_back, Qt.Key.Key_F9: self.put_later, Qt.Key.Key_F7: self.mishaps.ask_spill,
            Qt.Key.Key_F6: self.mishaps.empty, Qt.Key.Key_F4: self.read_strip, Qt.Key.Key_F2: self.mishaps.ask_figure,
        }  # fmt: skip
        act = own.get(Qt.Key(event.key()))
        if act is not None:
            act()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.row is None:
            # what is off is decided first: a hand that goes on with Enter must not make it final
            (self.close_weighing if self.off_figure.off is None else self.focus_figure)()
        else:
            super().keyPressEvent(event)


def _with_what_is_in(plan: Plan, inside: dict[int, float]) -> Plan:
    """The plan with what is still in the vessel of every figure; less where something was spilled out of it."""
    rows = []
    for row in plan.rows:
        moves = tuple(replace(move, mass_g=inside.get(move.key or 0, move.mass_g)) for move in row.moves)
        rows.append(row if moves == row.moves else replace(row, moves=moves))
    return replace(plan, rows=tuple(rows))
