# SPDX-License-Identifier: MIT
"""Bringing liquids together: what is to be weighed, what it will hold, and how far the readings bear that out.

A plan is worked out anew from what stands in the fields; nothing of it is kept. Masses in g, strengths 0..1. Targets follow
from what each source truly holds, so that a stock that came out a little strong does not pass its error on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from db import VIALS, Book, BottleRow
from desktop import figures
from desktop.language import tr
from desktop.models.mix_known import Known
from perfumery import (
    Balance,
    Bottle,
    Finding,
    Line,
    Material,
    Project,
    Version,
    resolved,
    weighing,
)
from perfumery.dilution import (
    Pour,
    dilute,
    labelled,
    largest_total_g,
    made_up_g,
    mixed,
    strengthen,
    true_strength,
    weaken,
)
from perfumery.findings import refuse
from perfumery.ledger import without_carrier
from perfumery.preparing import SAME_STRENGTH, is_stock
from perfumery.vessel import ROUGH_DENSITY, container_cautions, density_of, fit, handling

READABILITY_G = 0.001
# The ways to ask for an amount: key, sentence, caption of the one figure.
WAYS = (
    ("total", tr("so much in total"), tr("total wanted, g")),
    ("thinned", tr("so much in total, from a stronger dilution"), tr("total wanted, g")),
    ("source", tr("all the material there is"), tr("material there is, g")),
    ("carrier", tr("the carrier is poured already"), tr("carrier poured, g")),
)
# Sums of binary figures differ by less than this, g.
_DUST_G = 1e-9


@dataclass(frozen=True, slots=True)
class Lack:
    """A bottle that is asked for and does not stand on the shelf: a stock, or an accord."""

    name: str
    material: int | None = None
    strength: float = 1.0
    carrier: int | None = None
    accord: int | None = None


@dataclass(frozen=True, slots=True)
class Leg:
    """One liquid to be weighed in. `strength` is what it adds to the strength that is told, `strength_u` how far that is
    known, None where it cannot be told; `unbooked` a bottle that is written into the book just before; `gone` the code of one
    that was chosen and is not offered any more, so that none is."""

    name: str
    code: str
    target_g: float
    bottle: int | None = None
    shares: Mapping[int, float] = field(default_factory=dict)
    strength: float = 0.0
    strength_u: float | None = 0.0
    left_g: float | None = None
    line: int | None = None
    unbooked: Bottle | None = None
    lack: Lack | None = None
    choices: tuple[BottleRow, ...] = ()
    gone: str = ""

    @property
    def source(self) -> int | None:
        """The bottle it comes from: 0 one that is not in the book yet, None where none is chosen."""
        return 0 if self.unbooked is not None else self.bottle

    @property
    def called(self) -> str:
        """'Ambroxide M19-1'."""
        return f"{self.name} {self.code}".strip()


@dataclass(frozen=True, slots=True)
class Plan:
    """What is brought together. `strength` is the one wanted, None for an accord; `before` what is in the bottle already,
    with `before_strength` and how far that is known; `poured` says that the first liquid is in the vessel already."""

    kind: str
    legs: tuple[Leg, ...]
    strength: float | None = None
    subject: int | None = None
    version: int | None = None
    before: Pour | None = None
    before_strength: float = 0.0
    before_u: float | None = None
    poured: bool = False
    into: Bottle | None = None
    solids: tuple[Material, ...] = ()

    @property
    def before_g(self) -> float:
        """Mass that is in the bottle already."""
        return 0.0 if self.before is None else self.before.mass_g

    @property
    def total_g(self) -> float:
        """Mass there will be."""
        return math.fsum((self.before_g, *(leg.target_g for leg in self.legs)))

    @property
    def is_whole(self) -> bool:
        """Whether every liquid of it stands on the shelf and is known."""
        return bool(self.legs) and all(leg.shares for leg in self.legs)

    def contents(self, reads: Sequence[float] | None = None) -> dict[int, float]:
        """{material: share} to come, from the targets or from what was read; empty where a source is not known."""
        if not self.is_whole:
            return {}
        masses = [leg.target_g for leg in self.legs] if reads is None else reads
        pours = [] if self.before is None else [self.before]
        return mixed([*pours, *(Pour(leg.shares, mass) for leg, mass in zip(self.legs, masses, strict=True))])


@dataclass(frozen=True, slots=True)
class Truth:
    """What the readings come to: the strength told and its standard uncertainty, None where it cannot be told."""

    total_g: float
    strength: float | None
    u: float | None


def truth(plan: Plan, reads: Sequence[float], balance: Balance | None) -> Truth:
    """The strength that the masses really read give, with k = 1 uncertainty where the balance is known."""
    total = math.fsum((plan.before_g, *reads))
    if plan.strength is None or not total > 0:
        return Truth(total, None, None)
    net, found = (None, None) if balance is None else (weighing.net_u(balance), weighing.found_u(balance))
    pours = [(leg.strength, leg.strength_u, read, net) for leg, read in zip(plan.legs, reads, strict=True)]
    if plan.before is not None:
        pours.append((plan.before_strength, plan.before_u, plan.before_g, found))
    return Truth(total, *true_strength(pours))


def made_up(plan: Plan, first_g: float) -> float | None:
    """g of the second liquid that bring the strength wanted about once so much of the first was really read; None where that
    is no question."""
    if plan.strength is None or plan.before is not None or len(plan.legs) != 2 or not first_g > 0:
        return None
    first, second = plan.legs
    return made_up_g(first_g, first.strength, second.strength, plan.strength)


class Mixing:
    """Plans against one book."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self.known = Known(book)

    # what can be poured -----------------------------------------------------------------------------------------------

    def sources(self, material: int | None, strength: float | None = None) -> tuple[BottleRow, ...]:
        """Bottles of a material that are stronger than a strength, by what they hold and by their label."""
        if material is None:
            return ()
        least = 0.0 if strength is None else strength
        return tuple(
            row for row in self.known.rows_of(material)
            if row.bottle.strength > least and (row.strength is None or row.strength > least)
        )  # fmt: skip

    def carriers(self, material: int | None) -> tuple[BottleRow, ...]:
        """Bottles of a carrier as it is."""
        return tuple(row for row in self.sources(material) if row.bottle.strength == 1)

    def of_version(self, version: int | None, *, vials: bool = False) -> tuple[BottleRow, ...]:
        """Bottles that hold a version undiluted."""
        rows = () if version is None else self.known.rows_of_version(version)
        return tuple(row for row in rows if row.bottle.strength == 1 and (vials or row.bottle.kind not in VIALS))

    def carrier_name(self, key: int | None) -> str:
        """A carrier as it is written behind a strength."""
        value = self.known.material(key)
        return "" if value is None else value.carrier_name

    def unbooked(self, material: int) -> Bottle:
        """A bottle of a neat material that the book does not have yet, under the next code of its own."""
        known = self.known.material(material)
        assert known is not None
        return Bottle(code=self.known.next_code(self.known.stem(material)), label=known.short, material=material,
                      remark="no delivery in the book: its mass is not known")  # fmt: skip

    # plans ------------------------------------------------------------------------------------------------------------

    def dilution(
        self, material: int, strength: float, way: str, amount_g: float, source: BottleRow | None, carrier: BottleRow | None,
        carrier_material: int,
    ) -> Plan:  # fmt: skip
        """A dilution of a material; None for a bottle means one that the book does not have yet."""
        known = self.known.material(material)
        assert known is not None
        if material == carrier_material:
            raise refuse("carrier-itself")
        first = self._leg(known.short, 0.0, source, material, material)
        if strength >= first.strength:
            raise refuse("strength-out-of-reach", wanted=strength, most=first.strength)
        form = {"source": "source_g", "carrier": "carrier_g"}.get(way, "total_g")
        sums = dilute(strength, source_strength=first.strength, **{form: amount_g})
        first = replace(first, target_g=sums.source_g)
        second = self._leg(self.carrier_name(carrier_material), sums.carrier_g, carrier, carrier_material, material)
        legs = (second, first) if way == "carrier" else (first, second)
        neat = source is None or source.bottle.strength == 1
        return Plan("dilution", _coded(legs), strength, material, poured=way == "carrier", solids=(known,) if neat else ())

    def accord(self, version: Version, amount_g: float, chosen: Mapping[int, int | None]) -> Plan:
        """A version made up: a liquid for each line. `chosen` names the bottle of a line, 0 one not in the book yet."""
        if not amount_g > 0:
            raise refuse("mass-not-positive", mass_g=amount_g)
        lines = [line for line in resolved(version) if line.parts > 0]
        total = math.fsum(line.parts for line in lines)
        if not total > 0:
            raise refuse("no-lines")
        legs = tuple(self._line_leg(line, amount_g * line.parts / total, chosen.get(line.key or 0)) for line in lines)
        neat = (self.known.material(line.material) for line in lines if line.strength == 1)
        solids = tuple(value for value in neat if value is not None and value.is_solid)
        return Plan("accord", _coded(legs), version=version.key, solids=solids)

    def smelling(self, vial: BottleRow, strength: float, amount_g: float, carrier: BottleRow | None, material: int) -> Plan:
        """So much of a vial's liquid thinned to a strength for smelling."""
        if strength >= vial.bottle.strength:
            raise refuse("strength-out-of-reach", wanted=strength, most=vial.bottle.strength)
        sums = dilute(strength, source_g=amount_g, source_strength=vial.bottle.strength)
        legs = (
            replace(self._leg("", sums.source_g, vial, None, None), strength=vial.bottle.strength, strength_u=0.0),
            self._leg(self.carrier_name(material), sums.carrier_g, carrier, material, None),
        )
        return Plan("smelling", _coded(legs), strength, version=vial.bottle.version)

    def change(self, row: BottleRow, wanted: float, with_row: BottleRow | None, material: int | None, *,
               settle: bool = False) -> Plan:  # fmt: skip
        """What to add to a bottle so that it comes to a strength; `settle` first takes what is missing for carrier."""
        bottle, now = row.bottle, self.strength_now(row, settle=settle)
        shares = self.known.contents(row.key)
        if settle and row.drift is not None and bottle.carrier is not None:
            shares = without_carrier(shares, bottle.carrier, row.drift.missing_g, row.drift.book_g)
        if not shares:
            raise refuse("contents-unknown", code=bottle.code)
        if row.left_g is None or not row.left_g > 0:
            raise refuse("left-unknown", code=bottle.code)
        if math.isclose(wanted, now, rel_tol=1e-9):
            raise refuse("strength-out-of-reach", wanted=wanted, most=now)
        telling = bottle.material
        if wanted < now:
            leg = self._leg(self.carrier_name(material), 0.0, with_row, material, telling)
            grams = weaken(row.left_g, now, wanted)
        else:
            leg = self._leg("" if with_row is None else with_row.what, 0.0, with_row, material, telling)
            if telling is None and with_row is not None:
                leg = replace(leg, strength=with_row.bottle.strength, strength_u=0.0)
            grams = strengthen(row.left_g, now, wanted, leg.strength)
        known = None if settle or telling is None else self._known_u(row, telling)
        carrier = bottle.carrier if bottle.carrier is not None or wanted > now else material
        return Plan(
            "top-up", (replace(leg, target_g=grams),), wanted, telling, before=Pour(shares, row.left_g), before_strength=now,
            before_u=known, into=replace(bottle, strength=wanted, carrier=carrier),
        )  # fmt: skip

    def strength_now(self, row: BottleRow, *, settle: bool = False) -> float:
        """How strong a bottle is: by what it holds, else by its label; with `settle` as it has risen."""
        if settle and row.drift is not None:
            return row.drift.strength_high
        return row.bottle.strength if row.strength is None else row.strength

    # their parts ------------------------------------------------------------------------------------------------------

    def _leg(self, name: str, target_g: float, row: BottleRow | None, material: int | None, telling: int | None) -> Leg:
        """A liquid from a bottle, or, without one, from a neat bottle of the material that is not in the book yet."""
        if row is None:
            if material is None:
                return Leg(name, "", target_g, lack=Lack(name))
            fresh = self.unbooked(material)
            return Leg(name, fresh.code, target_g, shares={material: 1.0}, strength=float(material == telling), unbooked=fresh)
        shares = self.known.contents(row.key)
        if not shares and row.bottle.kind == "bought":
            shares = labelled(row.bottle.strength, row.bottle.material, row.bottle.carrier)
        held = 0.0 if telling is None else shares.get(telling, 0.0 if shares else row.bottle.strength)
        u: float | None = 0.0
        if telling is not None and held > 0:
            u = self._known_u(row, telling)
        return Leg(name, row.bottle.code, target_g, row.key, shares, held, u, row.left_g)

    def _known_u(self, row: BottleRow, telling: int) -> float | None:
        """How far the share of a material in a bottle is known; what was bought counts as exact."""
        own = {} if row.bottle.kind == "bought" else self.known.uncertainty(row.key)
        return None if own is None else own.get(telling, 0.0)

    def _line_leg(self, line: Line, target_g: float, chosen: int | None) -> Leg:
        """The liquid of one line of a formula, from the bottle chosen for it, else the one offered first; open where the one
        chosen is not offered any more."""
        if line.accord is not None:
            inner = self.known.version(line.accord)
            name = tr("accord") if inner is None else inner.name or inner.code
            rows, lack = self.of_version(line.accord), Lack(name, accord=line.accord)
        else:
            known = self.known.material(line.material)
            assert known is not None and line.material is not None
            stock = figures.stock_text(line.strength, self.carrier_name(line.carrier))
            name = f"{known.short} {stock}".strip()
            own = self.known.rows_of(line.material)
            rows = tuple(row for row in own if is_stock(row.bottle, line.material, line.strength, line.carrier))
            lack = Lack(name, line.material, line.strength, line.carrier)
        row = rows[0] if rows and chosen is None else next((row for row in rows if row.key == chosen), None)
        if row is None and rows and chosen:
            gone = self.known.row(chosen)
            return Leg(name, "", target_g, line=line.key, choices=rows, gone="?" if gone is None else gone.bottle.code)
        if row is None and chosen == 0 and line.material is not None and line.strength == 1:
            return replace(self._leg(name, target_g, None, line.material, None), line=line.key, choices=rows)
        if row is None:
            return Leg(name, "", target_g, line=line.key, lack=lack)
        return replace(self._leg(name, target_g, row, line.material, None), line=line.key, choices=rows)

    # checks -----------------------------------------------------------------------------------------------------------

    def checks(self, plan: Plan, bottle: Bottle, balance: Balance | None) -> list[Finding]:
        """What is worth knowing before anything is weighed."""
        found = too_little(plan)
        densities: dict[int, float | None] = {}
        shares = plan.contents()
        for key in shares:
            known = self.known.material(key)
            datum = next((p.value for p in known.properties if p.kind == "density_kg_m3"), None) if known else None
            densities[key] = None if datum is None else datum / 1000
        if shares:
            head_space = self.known.habits()["head space"]
            found += fit(plan.total_g, density_of(shares, densities) or ROUGH_DENSITY, bottle.volume_ml, head_space)
        found += [one for leg in plan.legs for one in weighing.readable(leg.target_g, balance)]
        found += [one for solid in plan.solids for one in handling(solid)]
        if plan.kind != "top-up":
            found += container_cautions(bottle)
        return found

    # booking ----------------------------------------------------------------------------------------------------------


def _coded(legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    """The legs with one bottle not in the book yet a material, each under a code of its own."""
    taken: dict[int | None, Bottle] = {}
    made = []
    for leg in legs:
        if leg.unbooked is None:
            made.append(leg)
            continue
        fresh = taken.get(leg.unbooked.material)
        if fresh is None:
            code = leg.unbooked.code
            while code in {bottle.code for bottle in taken.values()}:
                stem = code.rstrip("0123456789")
                code = f"{stem}{int(code[len(stem):] or 0) + 1:0{len(code) - len(stem)}d}"
            fresh = taken[leg.unbooked.material] = replace(leg.unbooked, code=code)
        made.append(replace(leg, unbooked=fresh, code=fresh.code))
    return tuple(made)


def too_little(plan: Plan) -> list[Finding]:
    """Which bottles do not hold what is wanted of them, each with the largest total that works."""
    found = []
    for leg in plan.legs:
        if leg.left_g is None or leg.target_g <= leg.left_g + _DUST_G:
            continue
        if plan.before is not None:
            found.append(Finding("beyond-left", {"code": leg.code, "left_g": leg.left_g, "wanted_g": leg.target_g}))
            continue
        most = largest_total_g(plan.total_g, leg.target_g, leg.left_g)
        facts = {"code": leg.code, "left_g": leg.left_g, "needs_g": leg.target_g, "most_g": most}
        found.append(Finding("too-little", facts))
    return found


def is_true_to_label(row: BottleRow) -> bool:
    """Whether what a bottle holds is what is written on it, to the figures a label has."""
    return row.strength is None or math.isclose(row.strength, row.bottle.strength, rel_tol=SAME_STRENGTH)


def project_of(book: Book, version: int | None) -> Project | None:
    """The project a version belongs to."""
    found: Any = None if version is None else book.get(Version, version)
    return None if found is None else book.get(Project, found.project)


def last_vessel(book: Book, kinds: Iterable[str]) -> Bottle | None:
    """The bottle that was filled last, for its container."""
    return book.bottles.last_of(kinds)
