# SPDX-License-Identifier: MIT
"""One line at a time at the balance: a figure to read from afar, a field that always has the focus, two large keys.

Every accepted figure is on disk before the next line is shown. Nothing here is modal; what is outside its tolerance is asked
about below, and may be left as it is.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.models.plan_rows import PlanModel, views
from desktop.models.weigh import TOLERANCE, Plan, PlanRow, scaled, taken_up, topped_up
from desktop.pages.masses import mass_of
from desktop.pages.weigh.by_cable import ByCable
from desktop.session import Session
from desktop.theme import WEIGHING
from desktop.widgets.grid import Grid
from perfumery import Balance, Bottle, Cure, Making, Planned, Refused, Version, cures
from perfumery.overpour import KEEP, SCALE, TOP_UP

BIG, LARGE_KEY = 28, 44
BESIDE = ("mark", "name", "bottle", "place", "target", "read")
JUNIPER = "@juniper"  # stands in a sentence for the colour of its links
BETWEEN = 1.5  # a tare-each figure this close to vessel plus target is taken for a balance that was not tared


class ScaleView(QWidget):
    """`left` when the weighing is put by; `finished(vial key)` when its last figure is in and it was closed."""

    left = Signal()
    finished = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.making: Making | None = None
        self.plan = Plan(())
        self._at: int | None = None
        self._balance: Balance | None = None
        self._asked = ""
        self._told = "", "quiet"
        self._off: int | None = None
        self._offered: Cure | None = None
        self.head = QLabel(self)
        self.head.setProperty("role", "quiet")
        self.name = QLabel(self)
        self.where = QLabel(self)
        self.caption = QLabel(self)
        self.caption.setProperty("role", "quiet")
        self.target = QLabel(self)
        self.target.setAccessibleName("Target")
        self.figure = QLineEdit(self)
        self.figure.setAccessibleName("What the balance shows, g")
        self.figure.setPlaceholderText("figure, g")
        self.figure.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.cable = ByCable(session, self.figure, self)
        self.said = QLabel(self)
        self.said.setWordWrap(True)
        self.said.setTextFormat(Qt.TextFormat.RichText)
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self.said.linkActivated.connect(self._on_link_activated)
        self.accept = QPushButton("Accept", self)
        self.accept.setProperty("role", "primary")
        self.accept.setToolTip("Enter")
        self.later = QPushButton("Later", self)
        self.later.setToolTip("F9: this line after the others")
        self.put_by = QPushButton("Put it by", self)
        self.put_by.setToolTip("Esc: every accepted figure is kept; it is taken up again from the first view")
        self.finish = QPushButton("Finish", self)
        self.finish.setProperty("role", "primary")
        self.give_up = QPushButton("Give it up…", self)
        self.give_up.setProperty("role", "link")
        self.model = PlanModel(self._step, self)
        self.grid = Grid(session.theme, session.settings, "weighing", "name", self)
        self.grid.setAccessibleName("The plan")
        self.grid.enter_edits = False
        self.grid.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.grid.show_model(self.model)
        self.grid.show_only(BESIDE)
        for button, slot in ((self.accept, self.confirm), (self.later, self.put_later), (self.put_by, self.left),
                             (self.finish, self.close_weighing), (self.give_up, self._ask_give_up)):  # fmt: skip
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        for key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            # a button of a page is not clicked by Enter; the hand that accepted twenty figures by it expects that
            enter = QShortcut(QKeySequence(key), self.finish)
            enter.setContext(Qt.ShortcutContext.WidgetShortcut)
            enter.activated.connect(self.close_weighing)
        self.figure.returnPressed.connect(self.confirm)
        self.figure.textEdited.connect(self._on_figure_edited)
        self.grid.entered.connect(self._go_to_row)
        self.grid.doubleClicked.connect(lambda index: self._go_to_row(index.row()))
        self._build()
        self.restyle()
        session.theme.changed.connect(self.restyle)

    def _build(self) -> None:
        keys = QHBoxLayout()
        keys.setSpacing(12)
        for button in (self.accept, self.finish, self.later, self.put_by):
            keys.addWidget(button)
        keys.addStretch(1)
        keys.addWidget(self.give_up)
        big = QVBoxLayout()
        big.setContentsMargins(24, 12, 24, 16)
        big.setSpacing(6)
        for part in (self.head, self.name, self.where):
            big.addWidget(part)
        big.addStretch(1)
        typed = QHBoxLayout()
        typed.setSpacing(12)
        typed.addWidget(self.figure, 3)
        typed.addWidget(self.cable, 2)
        for part in (self.caption, self.target):
            big.addWidget(part)
        big.addLayout(typed)
        big.addWidget(self.said)
        big.addStretch(2)
        big.addLayout(keys)
        left = QWidget(self)
        left.setLayout(big)
        left.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(left, 3)
        row.addWidget(self.grid, 2)

    def restyle(self) -> None:
        """Takes the sizes from the theme anew: the figures are read from 80 cm."""
        theme = self._session.theme
        self.name.setFont(theme.font(BIG, bold=True))
        self.where.setFont(theme.font(BIG))
        self.target.setFont(theme.font(WEIGHING, bold=True))
        self.figure.setFont(theme.font(48))
        self.figure.setMaximumWidth(theme.px(420))
        self.figure.setMinimumHeight(theme.px(72))
        for button in (self.accept, self.later, self.put_by, self.finish):
            button.setMinimumSize(theme.px(LARGE_KEY * 3), theme.px(LARGE_KEY))
            button.setFont(theme.font(16))
        self.caption.setFont(theme.font(16))
        self.said.setFont(theme.font(16))
        self._say(*self._told)

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, making: int) -> None:
        """Takes a weighing up where it stands."""
        book = self._session.book
        self.making = book.get(Making, making)
        assert self.making is not None
        self._balance = None if self.making.balance is None else book.get(Balance, self.making.balance)
        self._at = None
        self._asked = ""
        self._say("", "quiet")
        self.refresh()
        self.cable.watch(self._balance, self.making.mode)
        self.figure.setFocus(Qt.FocusReason.OtherFocusReason)

    def refresh(self) -> None:
        """Reads the figures anew and shows the line that is to be weighed next."""
        if self.making is None or self.making.key is None:
            return
        book = self._session.book
        self.making = book.get(Making, self.making.key)
        assert self.making is not None
        self.plan = taken_up(book, self.making)
        if self._at is None or self._at >= len(self.plan.rows) or self.plan.rows[self._at].is_done:
            self._at = self.plan.current
        self.model.show_rows(views(self.plan.rows, self._balance, self._at, TOLERANCE))
        if self._at is not None:
            self.grid.scrollTo(self.model.index(self._at, 0))
        self._show_line()

    @property
    def row(self) -> PlanRow | None:
        """The line that is being weighed."""
        return None if self._at is None else self.plan.rows[self._at]

    @property
    def is_running(self) -> bool:
        """Whether the balance is not tared between lines, and shows the total."""
        return self.making is not None and self.making.mode == "running total"

    @property
    def is_difference(self) -> bool:
        """Whether a boat or pipette is weighed before and after; what stays in it goes to waste, never back."""
        return self.making is not None and self.making.mode == "by difference"

    def _step(self) -> float:
        return 0.001 if self._balance is None else self._balance.d_g

    def _show_line(self) -> None:
        making, row = self.making, self.row
        assert making is not None
        book = self._session.book
        vial, version = book.get(Bottle, making.into_bottle), making.version and book.get(Version, making.version)
        of = "" if not version else f" of {version.code}"
        balance = "" if self._balance is None else f" · {self._balance.name}"
        count = len(self.plan.rows)
        at = count if self._at is None else self._at + 1
        code, label = ("", "") if vial is None else (vial.code, vial.label)
        named = f"{making.code}{of} in {code}" if making.code else f"{code} {label}".strip()
        self.head.setText(f"{named} · line {at} of {count} · {making.mode}{balance}")
        done = row is None
        for part in (self.accept, self.later, self.figure, self.target):
            part.setVisible(not done)
        self.finish.setVisible(done)
        step = self._step()
        inside = figures.mass_text(self.plan.in_vessel_g, step)
        if row is None:
            self.name.setText("All lines are in")
            self.where.setText(f"{inside} in {code}")
            self.caption.setText(self._summary())
            self.finish.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        self.name.setText(" ".join(filter(None, (row.name, row.stock))))
        bottle = row.bottle
        place = "" if bottle is None or not bottle.bottle.place else f" · {bottle.bottle.place}"
        self.where.setText("no bottle" if bottle is None else f"{bottle.bottle.code}{place}")
        target = row.planned.target_g - row.read_g
        if self.is_running:
            stop = self.plan.in_vessel_g + target
            self.caption.setText(f"stop at, g   ·   {figures.mass_text(target, step)} of it, {inside} in the vessel")
            self.target.setText(figures.mass(stop, step))
        else:
            gross = ""
            if self.plan.in_vessel_g and vial is not None and vial.tare_g is not None:
                gross = f" · gross {figures.mass_text(vial.tare_g + self.plan.in_vessel_g, step)}"
            how = "   ·   type before − after, as 12.345-12.045" if self.is_difference else ""
            self.caption.setText(f"target, g   ·   {inside} in the vessel{gross}{how}")
            self.target.setText(figures.mass(target, step))
        self.figure.clear()

    def _summary(self) -> str:
        off = [row.name for row in self.plan.rows if row.is_outside(TOLERANCE, self._balance)]
        if not off:
            return "Every figure is within its tolerance."
        return f"Outside their tolerance: {figures.listed(off)}. It stays on record as it was weighed."

    # what is done -----------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Accepts the figure: on disk at once. One that looks as if the balance was not tared is asked about first."""
        row, making = self.row, self.making
        if row is None or making is None or making.key is None:
            return
        if row.bottle is None:
            self._say(f"No bottle holds {row.name} {row.stock}. Put it by and make one on the Shelf.", "wrong")
            return
        try:
            shown = self._shown()
            mass = self._mass_of(shown, row)
        except Refused as fault:
            self._say(wording.sentences(fault.findings), "wrong")
            return
        if mass is None:
            return
        self._take(row, mass)

    def _shown(self) -> float:
        """The figure typed; by difference the boat or pipette before, less after: '12.345 - 12.045'. Raises Refused."""
        text = self.figure.text()
        before, minus, after = text.replace("−", "-").partition("-")
        if self.is_difference and minus and before.strip():
            return round(mass_of(before) - mass_of(after), 9)
        return mass_of(text)

    def _mass_of(self, shown: float, row: PlanRow) -> float | None:
        """The net mass of a figure shown; None where it has to be asked about first."""
        inside = self.plan.in_vessel_g
        if self.is_running:
            mass = round(shown - inside, 9)
            if mass <= 0:
                self._say(f"{figures.mass_text(inside, self._step())} are in already; the total cannot be less.", "wrong")
                return None
            return mass
        target = row.planned.target_g
        if self.is_difference:
            if shown <= 0:
                self._say("Before is more than after: look at both figures again.", "wrong")
                return None
            return shown
        untared = round(shown - inside, 9)
        near = max(target * TOLERANCE, BETWEEN * self._step())
        if inside and abs(untared - target) <= near < abs(shown - target) and self._asked != self.figure.text():
            self._asked = self.figure.text()
            link = self._link(f"take:{untared!r}", f"take {figures.mass_text(untared, self._step())}")
            self._say(f"Not tared? Then it is {figures.mass_text(untared, self._step())}: {link}. Enter again keeps "
                      f"{figures.mass_text(shown, self._step())}.", "amber")  # fmt: skip
            return None
        return shown

    def _take(self, row: PlanRow, mass: float) -> None:
        making = self.making
        assert making is not None and making.key is not None and row.bottle is not None
        try:
            move = self._session.do(
                self._session.book.weighings.accept, making.key, row.bottle.key, mass, line=row.planned.line,
                target_g=row.planned.target_g,
            )  # fmt: skip
        except Refused as fault:
            self._refused(row, mass, fault)
            return
        if move is None:
            return
        self.cable.accepted()
        self._asked = ""
        place = self._at
        self._at = None
        self.refresh()
        self._tell(place)
        if self.row is not None:
            self.figure.setFocus(Qt.FocusReason.OtherFocusReason)

    def _refused(self, row: PlanRow, mass: float, fault: Refused) -> None:
        """More than the book says is in the bottle: the balance is right, so the book is set right by name, in place."""
        said = wording.sentences(fault.findings)
        if any(finding.code == "beyond-left" for finding in fault.findings) and row.bottle is not None:
            said = f"{said} {self._link(f'more:{mass!r}', 'There was more: book it so, and accept the figure')}"
        self._say(said, "wrong")

    def _tell(self, place: int | None) -> None:
        """What became of the figure just accepted."""
        self._off = self._offered = None
        if place is None:
            self._say("", "quiet")
            return
        row = self.plan.rows[place]
        step = self._step()
        off = figures.signed(round(row.off_g, 6))
        if row.is_outside(TOLERANCE, self._balance):
            part = abs(row.off_g) / row.planned.target_g * 100
            self._say(f"{row.name}: {figures.mass_text(row.read_g, step)} is {off} g, {part:.3g} % off its target. "
                      f"{self._answers(place)}", "amber")  # fmt: skip
        else:
            self._say(f"{row.name}: {figures.mass_text(row.read_g, step)} is in ({off} g).", "quiet")

    def _cures(self, *, search: bool) -> dict[str, Cure]:
        """The answers to the figure that is off, by kind."""
        if self._off is None or self._balance is None:
            return {}
        book, rows = self._session.book, self.plan.rows
        prices = [None if row.bottle is None else book.bottles.price(row.bottle.key)[0] for row in rows]
        found = cures(
            [row.planned.target_g for row in rows], [row.read_g for row in rows], self._off, self._balance, TOLERANCE, prices,
            search=search,
        )  # fmt: skip
        return {cure.kind: cure for cure in found}

    def _answers(self, place: int) -> str:
        """What can be done about a figure that is off, each with what it costs."""
        row = self.plan.rows[place]
        if row.off_g < 0:
            return f"Leave it so, or {self._link(f'again:{place}', 'add what is missing')}."
        self._off = place
        found = self._cures(search=False)
        keep, scale = found.get(KEEP), found.get(SCALE)
        if keep is None or scale is None:
            factor = row.read_g / row.planned.target_g
            whole = figures.mass_text(self.plan.total_g * factor, self._step())
            return f"Leave it so, or {self._link('scale:', f'scale all the others × {factor:.4g} ({whole} in all)')}."
        factor = row.read_g / row.planned.target_g
        whole = figures.mass_text(scale.total_g, self._step())
        parts = figures.per_thousand(row.read_g / keep.total_g * 1000)
        wasted = figures.mass_text(self.plan.in_vessel_g, self._step())
        return (
            f"Leave it so: {parts} of 1000 in the end. "
            f"{self._link('scale:', f'Scale all the others × {factor:.4g}')}: {whole} in all{self._costs(scale)}. "
            f"{self._link('fewest:', 'As few additions as will do')}. {self._link('ask:', 'Throw it away')}: {wasted} wasted."
        )

    def _costs(self, cure: Cure) -> str:
        """', 1.188 g more for 0.14 €, 4 further weighings of which 3 are too small: worse than the fault'."""
        text = f", {figures.mass_text(cure.extra_g, self._step())} more"
        if cure.extra_cost is not None:
            text += f" for {figures.money(cure.extra_cost, self._session.book.currency, per='')}"
        if cure.weighings:
            text += f", {figures.count(cure.weighings, 'further weighing')}"
        if cure.too_small:
            small = "is" if cure.too_small == 1 else "are"
            text += f" of which {cure.too_small} {small} too small for this balance: worse than the fault"
        return text

    def _seek_fewest(self) -> None:
        """Shows the fewest additions that bring every share within its tolerance."""
        found = self._cures(search=True).get(TOP_UP)
        if found is None:
            self._say("No cure worth making: accept it, or throw it away.", "amber")
            return
        self._offered = found
        named = [f"{self.plan.rows[at].name} {figures.mass_text(mass, self._step())}" for at, mass in found.additions.items()]
        self._say(f"Add {figures.listed(named)}{self._costs(found)}; every share is then within {TOLERANCE * 100:g} %. "
                  f"{self._link('top up:', 'Put that into the plan')}.", "amber")  # fmt: skip

    def _take_plan(self, plan: tuple[Planned, ...], said: str) -> None:
        if self.making is None or self.making.key is None:
            return
        self._session.attempt(self._session.book.weighings.replan, self.making.key, plan)
        self._at = self._off = None
        self.refresh()
        self._say(said, "quiet")
        self.figure.setFocus(Qt.FocusReason.OtherFocusReason)

    def _link(self, target: str, text: str) -> str:
        return f"<a style='color:{JUNIPER}' href='{target}'>{text}</a>"

    def put_later(self) -> None:
        """This line after all the others."""
        if self._at is None or self.making is None or self.making.key is None:
            return
        plan = list(self.making.plan)
        plan.append(plan.pop(self._at))
        self._at = None
        self._session.attempt(self._session.book.weighings.replan, self.making.key, plan)
        self.refresh()

    def close_weighing(self) -> None:
        """The weighing is done: what the vial holds is told from what was read."""
        if self.making is None or self.making.key is None:
            return
        vial = self._session.attempt(self._session.book.weighings.finish, self.making.key)
        if vial is not None:
            inside = figures.mass_text(self.plan.in_vessel_g, self._step())
            self._session.said.emit(f"{self.making.code or vial.code} is weighed: {inside} in {vial.code}.", "done")
            self.making = None
            self.finished.emit(vial.key)

    def _ask_give_up(self) -> None:
        inside = figures.mass_text(self.plan.in_vessel_g, self._step())
        link = self._link("give up:", "Throw it away")
        self._say(f"{inside} would go to waste; the figures stay in the book. {link}, or go on.", "amber")

    def _go_to_row(self, place: int) -> None:
        if 0 <= place < len(self.plan.rows) and not self.plan.rows[place].is_done:
            self._at = place
            self.refresh()
        self.figure.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_figure_edited(self, text: str) -> None:
        if text != self._asked:
            self._asked = ""

    def _on_link_activated(self, link: str) -> None:
        verb, _, rest = link.partition(":")
        row = self.row
        if verb == "take" and row is not None:
            self._take(row, float(rest))
        elif verb == "more" and row is not None and row.bottle is not None:
            left = self._session.book.left(row.bottle.key).get(row.bottle.key, 0.0)
            mass = float(rest)
            why = "more in the bottle than booked, found at the balance"
            self._session.attempt(
                self._session.book.bottles.correct_mass, row.bottle.key, round(mass - left, 9), why
            )  # fmt: skip
            self._take(row, mass)
        elif verb == "scale" and self._off is not None:
            factor = self.plan.rows[self._off].read_g / self.plan.rows[self._off].planned.target_g
            self._take_plan(scaled(self.plan, self._off), f"Scaled × {factor:.4g}; what is in and short stands at the end.")
        elif verb == "ask":
            self._ask_give_up()
        elif verb == "fewest":
            self._seek_fewest()
        elif verb == "top up" and self._offered is not None:
            self._take_plan(topped_up(self.plan, self._offered.additions), "The additions stand in the plan.")
        elif verb == "again":
            self._at = int(rest)
            self.model.show_rows(views(self.plan.rows, self._balance, self._at, TOLERANCE))
            self._show_line()
            self.figure.setFocus(Qt.FocusReason.OtherFocusReason)
        elif verb == "give up" and self.making is not None and self.making.key is not None:
            self._session.attempt(self._session.book.weighings.abandon, self.making.key, "given up")
            self.making = None
            self.left.emit()

    def _say(self, text: str, role: str) -> None:
        """Shows a sentence below the figure; colours are those of the theme in force, whenever it is switched."""
        self._told = text, role
        theme = self._session.theme
        colour = theme.token({"wrong": "brick", "amber": "amber", "quiet": "quiet"}[role])
        inked = text.replace(JUNIPER, theme.token("juniper"))
        self.said.setText(f"<span style='color:{colour}'>{inked}</span>" if text else "")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() == Qt.Key.Key_F9:
            self.put_later()
        else:
            super().keyPressEvent(event)
