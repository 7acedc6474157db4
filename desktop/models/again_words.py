# SPDX-License-Identifier: MIT
"""Whether a version can be made again today, in words: the headline, the figures, one line in full, and the proof offered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.again import bottle_text, is_quiet, said_of
from desktop.models.blind_tests import effort_told
from desktop.models.shown import MODES, shown
from desktop.models.sittings import AGE_SHARE, are_matched
from perfumery import Effort, Finding, trials
from perfumery.again import AgainToday, Vial
from perfumery.again_line import AgainLine
from perfumery.methods import METHODS, TRIANGLE

# Clauses of the headline; more would be a list that nobody reads.
MOST_NAMED = 4
# A remake for a proof: enough for a smelling dilution and its papers.
PROOF_G = 2.0
NOT_WEIGHED = "not weighed"
# A triangle for the proof: a difference that half of the answers tell is noticed four times in five at least, at a risk of one in
# twenty.
SHARE, POWER, RISK, PAPERS = 0.5, 0.8, 0.05, 3

NONE_KEPT = tr("No vial of it is kept, so a remake can be held against notes and curves only. Keep a little of the next one.")

_TO_DO = {
    "again-none": tr("Order it, or exchange the line on the Bench."),
    "again-relabelled": tr("Exchange the stock on the Bench, bring the bottle back on the Shelf, or make a new dilution."),
    "again-prepare": tr("Make it on the Shelf: “Make a dilution”."),
    "again-dissolve": tr("Begin it on the Shelf: “Make a dilution”."),
    "too-little": tr("Take less, or make up more of it first."),
    "again-unsmelled": tr("Dip a strip of each in one sitting before you trust it."),
    "again-smelled-open": tr("Dip both at one strength in one sitting, and read them at the same times."),
    "again-retest-due": tr("Smell it, and say on the Shelf that it is still good."),
}


def headline(found: AgainToday) -> str:
    """'20 of 21 lines identical; K19 is 5 % strong: weigh 0.095 g for 0.100 g.'"""
    count, is_compared = len(found.lines), found.trial is not None
    clauses = [_clause(one) for one in found.findings]
    if is_compared and count:
        same = found.identical
        if same == count:
            clauses.insert(0, tr_count(count, "all {n} line identical", "all {n} lines identical"))
        else:
            clauses.insert(0, tr_count(count, "{same} of {n} line identical", "{same} of {n} lines identical", same=same))
    elif count:
        ready = sum(is_quiet(line, is_compared=False) for line in found.lines)
        clauses.append(tr_count(
            count, "{ready} of {n} line ready to be weighed", "{ready} of {n} lines ready to be weighed", ready=ready
        ))  # fmt: skip
    graves = [_clause(one) for line in found.lines for one in line.graves]
    more = len(graves) - MOST_NAMED
    if more > 0:
        graves = [*graves[: MOST_NAMED - 1], tr_count(more + 1, "{n} more thing", "{n} more things")]
    clauses += graves
    return _sentence("; ".join(clauses))


def _clause(finding: Finding) -> str:
    return wording.sentence(finding).removesuffix(".")


def trial_named(found: AgainToday) -> str:
    """'T-027', or what was filled where it was no trial; '' for one that was never weighed."""
    if found.trial is None:
        return ""
    if found.trial.code:
        return found.trial.code
    bottle = next((vial.bottle for vial in found.vials if vial.trial == found.trial), None)
    return tr("the last making") if bottle is None else bottle.code


def in_figures(found: AgainToday, currency: str) -> str:
    """What it is compared with, the largest amount, and the cost then and today."""
    said = []
    if found.trial is not None:
        said.append(tr(
            "Compared with {trial} of {day}.", trial=trial_named(found), day=figures.day(found.trial.finished_at)
        ))  # fmt: skip
    back = found.held_back_by
    if back is not None and found.largest_g is not None:
        by = back.name
        if back.today is not None and back.today.code != back.name:
            by = f"{back.name} ({back.today.code})"
        if found.largest_g > 0:
            most = figures.mass_text(found.largest_g)
            said.append(tr("At most {mass} on hand, held back by {bottle}.", mass=most, bottle=by))
        else:
            said.append(tr("Nothing can be made now, held back by {bottle}.", bottle=by))
    prices = _then_and_today(
        None if cost is None else figures.money(cost, currency, at_least=bool(lacks))
        for cost, lacks in ((found.cost_then, found.unpriced[0]), (found.cost_now, found.unpriced[1]))
    )
    if prices:
        said.append(tr("Concentrate {prices}, at what these bottles cost.", prices=prices))
    lacking = list(dict.fromkeys((*found.unpriced[0], *found.unpriced[1])))
    if lacking:
        said.append(tr("No price is known for {names}.", names=figures.listed(lacking)))
    return " ".join(said)


def _then_and_today(prices: Iterable[str | None]) -> str:
    """'1.20 €/g then, 1.35 €/g today'; what is not known is left out."""
    then, today = prices
    told = (then and tr("{price} then", price=then), today and tr("{price} today", price=today))
    return ", ".join(filter(None, told))


def told_of(line: AgainLine, currency: str, *, is_compared: bool) -> str:
    """All that there is to say of one line, and what to do."""
    noticed = said_of(line, is_compared=is_compared)
    to_do = [_TO_DO[one.code] for one in line.findings if one.code in _TO_DO]
    facts = []
    for used in line.then:
        mass = tr("in an accord") if used.mass_g is None else figures.mass_text(used.mass_g)
        facts.append(tr("then {mass} of {bottle}", mass=mass, bottle=bottle_text(used.bottle, opened=True)))
    if line.today is not None:
        mass, bottle = figures.mass_text(line.weigh_g), bottle_text(line.today, opened=True)
        if line.left_g is None:
            facts.append(tr("today {mass} of {bottle}, nobody knows how much is left", mass=mass, bottle=bottle))
        else:
            left = figures.mass_text(line.left_g)
            facts.append(tr("today {mass} of {bottle}, {left} left", mass=mass, bottle=bottle, left=left))
        if line.needs_g > line.weigh_g + 1e-9:
            facts.append(tr("all its lines take {mass}", mass=figures.mass_text(line.needs_g)))
    prices = _then_and_today(
        None if price is None else figures.money(price, currency) for price in (line.price_then, line.price_now)
    )
    if prices:
        facts.append(tr("cost {prices}", prices=prices))
    strong = [_drifted(line, one) for one in line.findings if one.code == "again-strong" and one.data.get("missing_g")]
    named = noticed if noticed.startswith(line.name) else f"{line.name}: {noticed}"
    parts = (named, *strong, " ".join(to_do), _sentence("; ".join(facts)))
    return "\n".join(filter(None, (_sentence(parts[0]), *parts[1:])))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].removesuffix('.')}." if text else ""


def _drifted(line: AgainLine, finding: Finding) -> str:
    """What a strength rests on that only a re-weighing told."""
    return tr(
        "{mass} are missing from it; if that was carrier, it holds {strength}. Topped up on the Shelf it is as "
        "written again; until then Weigh reckons with what the book says it holds.",
        mass=figures.mass_text(finding.data["missing_g"]), strength=figures.percent_text(line.strength),
    )  # fmt: skip


# the proof ----------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Proof:
    """The proof that is offered, in words: `kept` is the vial to smell against, `remake` a newer one where it is made."""

    text: str
    kept: Vial | None = None
    remake: Vial | None = None


def proof(found: AgainToday, now: datetime) -> Proof:
    """A little remade, against the vial that was kept."""
    if not found.vials:
        return Proof(NONE_KEPT)
    sets = tr("To notice a difference that every second answer can tell: {sets}", sets=effort_told(_effort(), PAPERS))
    if len(found.vials) > 1:
        remake, kept = found.vials[:2]
        smell = tr("The proof: smell {remake} against {kept} in a triangle test.", remake=_named(remake), kept=_named(kept))
        return Proof("\n".join((smell, sets, _ages(kept, remake, now))), kept, remake)
    kept = found.vials[0]
    amount = figures.mass_text(PROOF_G, 1.0)
    smell = tr("The proof: remake {amount} and smell it against {kept} in a triangle test.", amount=amount, kept=_named(kept))
    remade = f"{smell} {_smallest(found)}".rstrip()
    return Proof("\n".join((remade, sets, _ages(kept, None, now))), kept)


@cache
def _effort() -> Effort:
    return trials(TRIANGLE, discriminators=SHARE, alpha=RISK, power=POWER, block=len(METHODS[TRIANGLE].orders))


def _named(vial: Vial) -> str:
    """'V027 (T-027, 4.005 g left)'; one that was made without weighing says so, for nobody knows what its figures were."""
    made = shown(MODES, vial.trial.mode) if vial.trial.mode == NOT_WEIGHED else ""
    left = "" if vial.left_g is None else tr("{mass} left", mass=figures.mass_text(vial.left_g))
    more = ", ".join(filter(None, (vial.trial.code, made, left)))
    return f"{vial.bottle.code} ({more})" if more else vial.bottle.code


def _smallest(found: AgainToday) -> str:
    """The smallest line of the remake, for whoever knows the balance."""
    line = min(found.lines, key=lambda one: one.weigh_g, default=None)
    if line is None:
        return ""
    mass = figures.mass_text(line.weigh_g * PROOF_G / found.amount_g)
    return tr("Its smallest line, {name}, is then {mass}.", name=line.name, mass=mass)


def _ages(kept: Vial, remake: Vial | None, now: datetime) -> str:
    """How much younger the remake is, and until when a difference may be one of age."""
    old_at, new_at = _made_at(kept), now if remake is None else _made_at(remake)
    apart = new_at - old_at
    days = figures.elapsed(round(apart / timedelta(days=1)) * 24)
    if are_matched(now - old_at, now - new_at):
        return tr("Their ages match.")
    until = figures.day(alike_on(old_at, new_at))
    if remake is None:
        return tr("A remake of today is {days} younger: until {day} a difference may be one of age.", days=days, day=until)
    code = remake.bottle.code
    return tr("{code} is {days} younger: until {day} a difference may be one of age.", code=code, days=days, day=until)


def alike_on(old_at: datetime, new_at: datetime) -> date:
    """The day from which two mixes count as of one age: what is between them is so small a share of the older one's age."""
    return (old_at + (new_at - old_at) / AGE_SHARE).date()


def _made_at(vial: Vial) -> datetime:
    return vial.trial.finished_at or vial.trial.started_at
