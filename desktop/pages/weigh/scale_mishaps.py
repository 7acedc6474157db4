# SPDX-License-Identifier: MIT
"""What goes another way than planned at the balance: spilled, the bottle ends, drops are counted, another bottle is at hand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from desktop import figures, wording
from desktop.language import tr
from desktop.models.answers import from_bottle, split
from desktop.models.right_bottle import of_stock, wrong_bottle
from desktop.models.scale_text import is_figure, shown_mass
from desktop.models.weigh import PlanRow
from perfumery import Bottle, Material, Refused, drops_mass, parse_number
from perfumery.drops import STANDARD_PER_ML
from perfumery.findings import refuse
from perfumery.vessel import density_of

if TYPE_CHECKING:
    from desktop.pages.weigh.scale import ScaleView

VESSEL, WAY, DROPS, FIGURE = "vessel", "way", "drops", "figure"
# reasons that stand in the book
WHY_MORE = "more in the bottle than booked, found at the balance"
GIVEN_UP = "given up"
HOW_TAKEN_UP = tr("Every accepted figure is kept. Go on with it from its line at the top of Weigh.")
KNOWN_SHARE = 0.5  # of a mixture, by mass, whose density must be known before the rest is taken to be like it


class Mishaps:
    """Each is one line of the book, booked by name; what changes shares is answered like a figure that is off."""

    def __init__(self, view: ScaleView) -> None:
        self._view = view
        self._asked: dict[str, int] = {}
        self._drops = 0.0

    # the right bottle -----------------------------------------------------------------------------------------------------

    def take_code(self, row: PlanRow, text: str) -> None:
        """The code of a bottle, typed or scanned: the right one, another one of the stock, or refused in words."""
        view, book = self._view, self._view.session.book
        assert row.bottle is not None
        code = row.bottle.bottle.code
        found = next((each for each in of_stock(book, row) if each.bottle.code.casefold() == text.casefold()), None)
        if found is None:
            if not text or is_figure(text):
                without = view.link("unchecked:", tr("weigh it without"))
                said = tr("Which bottle is it? Type or scan its code first: {code}. Or {skip}.", code=code, skip=without)
            else:
                said = wrong_bottle(book, row, text)
            view.say(said, "wrong")
            view.figure.selectAll()
            return
        if found.key != row.bottle.key:
            plan = [each.planned for each in view.plan.rows]
            at = view.at
            assert at is not None
            plan[at] = from_bottle(row, found)
            if row.is_done:
                # what came from the first one stays its own row
                plan[at : at + 1] = split(row, plan[at])
                at += 1
            view.take_plan(plan, tr("{code} instead of {planned}.", code=found.bottle.code, planned=code), at)
        view.bottle_seen(found.key)

    # spilled --------------------------------------------------------------------------------------------------------------

    def ask_spill(self) -> None:
        """What was spilled, and where."""
        view = self._view
        if view.making is None:
            return
        last = view.last_row
        sources = [row.bottle for row in (view.row, last) if row is not None and row.bottle is not None]
        self._asked = {f"{WAY}{each.key}": each.key for each in sources}
        choices = [(f"{WAY}{each.key}", tr("on the way from {code}", code=each.bottle.code)) for each in sources]
        choices = list(dict(choices).items())
        if view.plan.in_vessel_g > 0:
            choices.append((VESSEL, tr("out of the vessel")))
        if choices:
            view.ask.ask(tr("Spilled, g"), choices)

    def answer(self, key: str, text: str) -> None:
        """What was asked for in place is answered."""
        view = self._view
        try:
            if key == DROPS:
                self._keep_rate(text)
                return
            mass = shown_mass(text)
            if key == FIGURE:
                self._correct_figure(mass)
            elif key == VESSEL:
                self._spill_vessel(mass)
            else:
                self._spill_way(self._asked[key], mass)
        except Refused as fault:
            view.ask.say(wording.sentences(fault.findings))

    def _spill_way(self, bottle: int, mass: float) -> None:
        view, book = self._view, self._view.session.book
        vessel = book.get(Bottle, view.making.into_bottle) if view.making is not None else None
        into = "" if vessel is None else f" into {vessel.code}"
        move = view.session.do(book.bottles.draw, bottle, "spill", mass, remark=f"spilled on the way{into}")
        if move is None:
            return
        view.ask.leave()
        view.refresh()
        source = book.get(Bottle, bottle)
        left = book.left(bottle).get(bottle)
        code = "" if source is None else source.code
        lacking = [finding for finding in view.plan.findings if finding.code == "too-little"]
        short = [wording.sentence(finding) for finding in lacking if finding.data["code"] == code]
        spilled = figures.mass_text(mass, view.step())
        said = tr("{mass} of {code} was spilled on the way: no part of what is in the vessel.", mass=spilled, code=code)
        if left is not None:
            said = tr(
                "{mass} of {code} was spilled on the way: no part of what is in the vessel; {left} are left in it.",
                mass=spilled, code=code, left=figures.mass_text(left, view.step()),
            )
        view.say(" ".join((said, *short)), "amber" if short else "quiet")

    def _spill_vessel(self, mass: float) -> None:
        view = self._view
        making = view.making
        assert making is not None
        before = {at: row.read_g for at, row in enumerate(view.plan.rows) if row.is_done}
        inside = view.held_g
        remark = f"spilled while {making.code or 'it'} was weighed"
        move = view.session.do(view.session.book.bottles.draw, making.into_bottle, "spill", mass, remark=remark)
        if move is None:
            return
        view.ask.leave()
        view.refresh()
        step = view.step()
        part = mass / inside * 100
        told = tr(
            "{mass} spilled, {part} % of all that was in: {left} are left, as they were mixed.",
            mass=figures.mass_text(mass, step), part=figures.short(part, 3), left=figures.mass_text(view.held_g, step),
        )
        if view.row is None:
            # every line lost the same share, so each is on its target as it was before
            kept = 1 - mass / inside
            plan = [replace(row.planned, target_g=round(row.planned.target_g * kept, 9)) for row in view.plan.rows]
            view.take_plan(plan, "")
            same = tr("Nothing else is to come, so no share changes.")
            view.say(f"{told} {same}", "quiet")
            return
        too_much = tr("What is still to come would be too much.")
        view.say(f"{told} {too_much}", "amber")
        view.off_figure.tell(min(before), before=before)

    # mistyped -------------------------------------------------------------------------------------------------------------

    def ask_figure(self) -> None:
        """What the balance showed where another figure was typed; only the last one, which the others do not build on."""
        row = self._view.last_row
        if row is not None:
            # a total was taken apart when it was accepted
            question = tr("{name} alone, g", name=row.name) if self._view.is_running else tr("{name} truly, g", name=row.name)
            self._view.ask.ask(question, [(FIGURE, tr("Correct it"))], hint=figures.mass(row.read_g, self._view.step()))

    def _correct_figure(self, mass: float) -> None:
        """A line of the book that replaces the last figure."""
        view, book, making = self._view, self._view.session.book, self._view.making
        assert making is not None and making.key is not None
        last = book.weighings.poured(making.key)[-1]
        fields: dict[str, float] = {} if last.estimated else {"read_g": mass}
        if view.session.do(book.correct, last.key, tr("figure corrected"), mass_g=mass, **fields) is None:
            return
        view.ask.leave()
        view.off_figure.dismiss()
        view.refresh()
        view.say("", "quiet")
        view.tell_last(always=True)

    # the bottle ends ------------------------------------------------------------------------------------------------------

    def empty(self) -> None:
        """The bottle ends early: what came is its figure, and the book is set right by name."""
        view, row, making = self._view, self._view.row, self._view.making
        if row is None or row.bottle is None or making is None or making.key is None:
            return
        place, book = view.at, view.session.book
        text = view.figure.text().strip()
        came = 0.0
        if text:
            try:
                mass = view.mass_shown(row)
            except Refused as fault:
                view.say(wording.sentences(fault.findings), "wrong")
                return
            if mass is None:
                return
            came = mass
        bottle = row.bottle.key
        left = book.left(bottle).get(bottle)
        why = f"empty while {making.code or 'a bottle'} was weighed"
        if left is not None and came > left:
            view.session.attempt(book.bottles.correct_mass, bottle, round(came - left, 9), f"{why}: there was more")
        if came and view.booked(row, came) is None:
            return
        rest = book.left(bottle).get(bottle)
        if rest is not None and rest > 1e-9:
            view.session.attempt(book.bottles.correct_mass, bottle, -round(rest, 9), f"{why}: there was less")
        view.at = place if not came else None
        view.off_figure.dismiss()
        view.refresh()
        assert place is not None
        if came:
            view.last_row = view.plan.rows[place]
        step, code = view.step(), row.bottle.bottle.code
        told = [tr("{code} is empty: nothing came.", code=code)]
        if came:
            wanted = figures.mass_text(row.planned.target_g, step)
            told = [tr("{code} is empty: {mass} of {wanted} came.", code=code, mass=figures.mass_text(came, step), wanted=wanted)]
        if rest and rest > 1e-9:
            back = view.link(f"again:{bottle}:{rest!r}", tr("Not empty: put it back"))
            rest_text = figures.mass_text(rest, step)
            told.append(tr("By the book {mass} more were in it: set right. {undo}.", mass=rest_text, undo=back))
        view.say(" ".join(told), "amber")
        if came and not view.plan.rows[place].is_outside(view.tolerance, view.balance):
            return
        view.off_figure.tell(place, empty=True)

    def fill_again(self, bottle: str, grams: str) -> None:
        """It was not empty after all: what was written off is in it again, as a line of its own."""
        view = self._view
        moved = view.session.attempt(view.session.book.bottles.correct_mass, int(bottle), float(grams), "not empty after all")
        if moved is None:
            return
        view.off_figure.dismiss()
        view.refresh()
        view.say(tr("{mass} are in it again by the book.", mass=figures.mass_text(float(grams), view.step())), "quiet")
        view.focus_figure()

    # drops ----------------------------------------------------------------------------------------------------------------

    def drops(self, row: PlanRow, count: float) -> float | None:
        """About how many g so many drops of a row's bottle are; None where it was asked how large they are. Raises Refused
        `density-unknown`."""
        view = self._view
        assert row.bottle is not None
        rate = view.session.settings.number(self._rate_key(row.bottle.key), 0.0)
        density = self._density(row)
        if rate > 0:
            return round(drops_mass(count, rate, density), 6)
        self._drops, self._asked = count, {DROPS: row.bottle.key}
        question = tr("Drops of {code} in 1\u2009ml", code=row.bottle.bottle.code)
        view.ask.ask(question, [(DROPS, tr("Keep for this bottle"))], hint=f"{STANDARD_PER_ML:g}")
        return None

    def _keep_rate(self, text: str) -> None:
        view = self._view
        rate = parse_number(text)
        if not rate > 0:
            raise refuse("mass-not-positive", mass_g=rate)
        view.session.settings.keep(self._rate_key(self._asked[DROPS]), rate)
        view.ask.leave()
        view.confirm()

    def _rate_key(self, bottle: int) -> str:
        return f"drops/{self._view.session.book.uid}/{bottle}"

    def _density(self, row: PlanRow) -> float:
        """g/ml of what a bottle truly holds, from the densities of its materials."""
        book = self._view.session.book
        assert row.bottle is not None
        shares = book.contents(row.bottle.key)
        densities: dict[int, float | None] = {}
        for key in shares:
            material = book.get(Material, key)
            data = () if material is None else material.properties
            found = next((each.value for each in data if each.kind == "density_kg_m3" and each.value), None)
            densities[key] = None if found is None else found / 1000
        known = sum(share for key, share in shares.items() if densities[key])
        density = density_of(shares, densities)
        if density is None or known < KNOWN_SHARE:
            raise refuse("density-unknown", code=row.bottle.bottle.code, name=row.name)
        return density
