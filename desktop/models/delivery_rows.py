# SPDX-License-Identifier: MIT
"""One bottle of a delivery: what was typed of it, and what that comes to. Pure: what the book knows is handed in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from desktop import figures, wording
from desktop.language import tr
from desktop.models.days import day_in, parse_day
from desktop.models.masses import grams
from perfumery import Bottle, Finding, Refused, parse_number
from perfumery.findings import refuse
from perfumery.vessel import container_cautions

TO_G = {"g": 1.0, "kg": 1000.0, "mg": 0.001}
TO_ML = {"ml": 1.0, "cl": 10.0, "l": 1000.0}
# Nothing a perfumer buys weighs more than this in g/ml: a larger figure was meant in kg/m³.
DENSEST = 25.0
# A net mass this far from what was ordered is worth a second look at gross and tare.
FAR_OFF = 0.1
CELLS = (
    "material", "strength", "code", "ordered", "density", "gross", "tare", "price", "lot", "number", "container", "liner",
    "opened", "place", "remark",
)  # fmt: skip
NUMBERS = ("density", "gross", "tare", "price")
_AMOUNT = re.compile(r"(.*?)\s*(kg|mg|g|ml|cl|l)?\.?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Amount:
    """What was ordered: a figure in g or in ml."""

    value: float
    is_volume: bool = False

    @property
    def text(self) -> str:
        """'50 g', '50 ml'."""
        return figures.unit(figures.parts(self.value), "ml" if self.is_volume else "g")


def parse_amount(text: str) -> Amount:
    """'50', '50 g', '0.5 kg' in g; '50 ml', '1 l' in ml. Raises Refused as `parse_number`, and `mass-not-positive`."""
    match = _AMOUNT.fullmatch(text.strip())
    unit = (match[2] or "g").casefold() if match else "g"
    value = parse_number(match[1] if match else text)
    if not value > 0:
        raise refuse("mass-not-positive", mass_g=value)
    # written as decimals: 0.3 kg is 300 g, not 299.99…
    return Amount(float(f"{value * (TO_G.get(unit) or TO_ML[unit]):.12g}"), unit in TO_ML)


def typed_day(text: str, today: date) -> date:
    """The day a text means; without its year the last one that has come. Raises Refused as `parse_day` does."""
    this = parse_day(text, today.year)
    return this if this <= today or (day_in(text) or (today.year,))[0] else parse_day(text, today.year - 1)


# what the book knows of it ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Known:
    """What the book says of the material of a row: its name, how it was bought last, `priced` the last bottle with a price,
    and (code, lot) of what stands of it already."""

    name: str = ""
    density: float | None = None
    last_strength: float = 1.0
    last_carrier: int | None = None
    last_number: str = ""
    priced: Bottle | None = None
    standing: tuple[tuple[str, str], ...] = ()


# a row ------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DeliveryRow:
    """A bottle as typed: `typed` texts by cell, the material it was taken for (or the name of one still to be made), the
    `code` it has or is offered; and what they come to. Masses in g, `price_per_g` in the book's currency."""

    number: int
    typed: Mapping[str, str] = field(default_factory=dict)
    material: int | None = None
    new_name: str = ""
    code: str = ""
    name: str = ""
    strength: float = 1.0
    carrier: int | None = None
    carrier_name: str = ""
    ordered: Amount | None = None
    stated_g: float | None = None
    density: float | None = None
    gross_g: float | None = None
    tare_g: float | None = None
    mass_g: float | None = None
    estimated: bool = False
    tare_inferred: bool = False
    price: float | None = None
    price_per_g: float | None = None
    opened_on: date | None = None
    problems: tuple[tuple[str, str], ...] = ()
    asks: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    offers: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_blank(self) -> bool:
        """Whether nothing was typed into it."""
        return self.material is None and not self.new_name and not any(self.typed.values())

    @property
    def is_ready(self) -> bool:
        """Whether it can be booked as it stands."""
        return not self.is_blank and not self.problems and not self.asks

    @property
    def wants(self) -> str:
        """The cell to be mended first; empty where none has to."""
        return next((cell for cell, _ in (*self.problems, *self.asks)), "")

    @property
    def waits_for(self) -> str:
        """What has to be mended or said before it can be booked, in sentences."""
        return " ".join(sentence for _, sentence in (*self.problems, *self.asks))

    def wrong_in(self, cell: str) -> str:
        """What is wrong with one cell."""
        return " ".join(sentence for where, sentence in self.problems if where == cell)

    @property
    def strength_text(self) -> str:
        """'neat', '10 % in DPG'."""
        return figures.stock_text(self.strength, self.carrier_name) or tr("neat")

    @property
    def decimals(self) -> int:
        """So many decimals the balance showed."""
        texts = (self.typed.get(cell, "").replace(",", ".") for cell in ("gross", "tare"))
        return max(sum(sign.isdigit() for sign in text.partition(".")[2]) for text in texts)

    def _mass(self, g: float | None) -> str:
        return figures.mass_text(g, 10.0**-self.decimals) if self.decimals else figures.unit(figures.parts(g), "g")

    @property
    def mass_words(self) -> str:
        """What is booked and how it is known, short: '50.08 g', '50 g, tare inferred', '44 g, from ml'."""
        if self.mass_g is None:
            return figures.UNKNOWN
        if not self.estimated:
            return self._mass(self.mass_g)
        shown = figures.unit(figures.neat(self.mass_g) if self.from_ml else figures.parts(self.mass_g), "g")
        if self.tare_inferred:
            return tr("{mass}, tare inferred", mass=shown)
        return tr("{mass}, from ml", mass=shown) if self.from_ml else tr("{mass}, as stated", mass=shown)

    @property
    def from_ml(self) -> bool:
        """Whether its mass is millilitres times a density."""
        return self.estimated and self.ordered is not None and self.ordered.is_volume

    def told(self, currency: str) -> str:
        """What was understood, in one line: 'Lemon oil, neat, 50.08 g weighed, tare 58.18 g, 0.0900 €/g'."""
        name = tr("{name} (a new material)", name=self.name) if self.new_name else self.name or tr("no material yet")
        parts = [name, self.strength_text]
        if self.mass_g is None:
            parts.append(tr("how much is in it is not known"))
        elif not self.estimated:
            parts.append(tr("{mass} weighed", mass=self._mass(self.mass_g)))
        elif self.from_ml and self.ordered is not None:
            at = figures.unit(figures.neat(self.density), "g/ml")
            mass = figures.unit(figures.neat(self.mass_g), "g")
            parts.append(tr("{mass} estimated from {volume} at {density}", mass=mass, volume=self.ordered.text, density=at))
        else:
            parts.append(tr("{mass} as stated", mass=figures.unit(figures.parts(self.mass_g), "g")))
        if self.tare_g is not None and self.tare_inferred:
            parts.append(tr("tare {mass} inferred: gross less what was stated", mass=self._mass(self.tare_g)))
        elif self.tare_g is not None:
            parts.append(tr("tare {mass}", mass=self._mass(self.tare_g)))
        if self.price_per_g is not None:
            parts.append(figures.money(self.price_per_g, currency))
        return ", ".join(parts)


# what was typed, reckoned -----------------------------------------------------------------------------------------------


def reckoned(row: DeliveryRow, known: Known, today: date) -> DeliveryRow:
    """The row with every figure that follows from what was typed, what is wrong, what is asked, and what is worth a look.

    Its material, strength and code are settled before; their problems are kept.
    """
    problems, asks = list(row.problems), list(row.asks)
    read: dict[str, float | None] = dict.fromkeys(NUMBERS)
    for cell in NUMBERS:
        text = row.typed.get(cell, "")
        if text:
            try:
                parse = grams if cell in ("gross", "tare") else parse_number
                read[cell] = _not_negative(parse(text), zero=cell == "price")
            except Refused as fault:
                problems.append((cell, wording.sentences(fault.findings)))
    ordered, opened = None, None
    try:
        ordered = parse_amount(row.typed["ordered"]) if row.typed.get("ordered") else None
    except Refused as fault:
        problems.append(("ordered", wording.sentences(fault.findings)))
    try:
        opened = typed_day(row.typed["opened"], today) if row.typed.get("opened") else None
    except Refused as fault:
        problems.append(("opened", wording.sentences(fault.findings)))
    density = read["density"] if read["density"] is not None else known.density
    density = density / 1000 if density is not None and density > DENSEST else density
    row = replace(row, ordered=ordered, density=density, opened_on=opened, gross_g=read["gross"], price=read["price"])
    row = replace(row, stated_g=_stated(ordered, density), problems=tuple(problems), asks=tuple(asks))
    row = _weighed(row, read["tare"])
    # the net mass ordered is what was paid for; where only the balance knows it, its figure stands in
    paid_for = row.stated_g or row.mass_g
    price_per_g = row.price / paid_for if row.price is not None and paid_for else None
    row = replace(row, price_per_g=price_per_g)
    return replace(row, cautions=_cautions(row), others=_others(row, known), offers=_offers(row, known))


def _not_negative(value: float, *, zero: bool) -> float:
    if value < 0 or (value == 0 and not zero):
        raise refuse("mass-not-positive", mass_g=value) if not zero else refuse("number-unreadable", text=figures.parts(value))
    return value


def _stated(ordered: Amount | None, density: float | None) -> float | None:
    """g of what was ordered; None where that is not known."""
    if ordered is None:
        return None
    if not ordered.is_volume:
        return ordered.value
    return None if density is None else float(f"{ordered.value * density:.9g}")


def _weighed(row: DeliveryRow, tare: float | None) -> DeliveryRow:
    """Gross less tare where both were given; else what was stated, the tare reckoned from it where the gross is known."""
    gross, stated = row.gross_g, row.stated_g
    problems, asks = list(row.problems), list(row.asks)
    wrong = {cell for cell, _ in problems}
    is_open = row.ordered is not None and row.ordered.is_volume and stated is None and "density" not in wrong
    if gross is not None and tare is not None:
        net = float(f"{gross - tare:.12g}")
        if net > 0:
            return replace(row, mass_g=net, tare_g=tare)
        problems.append(("tare", tr(
            "A tare of {tare} leaves nothing of {gross} gross. Look at both figures again.",
            tare=figures.unit(figures.parts(tare), "g"), gross=figures.unit(figures.parts(gross), "g"),
        )))  # fmt: skip
        return replace(row, problems=tuple(problems))
    if is_open and row.ordered is not None:
        asks.append(("density", tr("{volume} in g? Type the density in g/ml, or gross and tare.", volume=row.ordered.text)))
    if stated is None:
        if gross is not None and not is_open and "ordered" not in wrong and "tare" not in wrong:
            asks.append(("tare", tr("The gross alone does not say what is in it: type the tare, or what was ordered.")))
        return replace(row, tare_g=tare, problems=tuple(problems), asks=tuple(asks))
    if gross is None or "tare" in wrong:
        return replace(row, mass_g=stated, estimated=True, tare_g=tare)
    inferred = float(f"{gross - stated:.12g}")
    if inferred <= 0:
        finding = Finding("tare-implausible", {"tare_g": inferred})
        problems.append(("gross", wording.sentence(finding)))
        return replace(row, problems=tuple(problems))
    return replace(row, mass_g=stated, estimated=True, tare_g=inferred, tare_inferred=True)


def _cautions(row: DeliveryRow) -> tuple[str, ...]:
    """What forbids nothing and is worth a look: the container and its cap, a net mass far from what was ordered."""
    said = []
    bottle = Bottle(code="-", container=row.typed.get("container", ""), liner=row.typed.get("liner", ""))
    if row.mass_g is not None and not row.estimated and row.stated_g and abs(row.mass_g / row.stated_g - 1) > FAR_OFF:
        said.append(tr(
            "{weighed} were weighed, but {ordered} ordered: look at gross and tare again.",
            weighed=row.mass_words, ordered=row.ordered.text if row.ordered else "",
        ))  # fmt: skip
    return (*said, *(wording.sentence(finding) for finding in container_cautions(bottle)))


def _others(row: DeliveryRow, known: Known) -> tuple[str, ...]:
    """The codes of bottles of the same material that stand with another lot."""
    own = row.typed.get("lot", "").casefold()
    return tuple(code for code, lot in known.standing if own and lot and lot.casefold() != own)


def _offers(row: DeliveryRow, known: Known) -> dict[str, str]:
    """{cell: text} of what the last order of the material says and nothing was typed against; taken only by asking."""
    offers = {}
    if known.last_number and not row.typed.get("number"):
        offers["number"] = known.last_number
    amount = row.stated_g or row.mass_g
    last = known.priced
    if last is not None and (last.strength, last.carrier) == (row.strength, row.carrier) and not row.typed.get("price"):
        if amount and last.price_per_g is not None:
            offers["price"] = figures.mass(last.price_per_g * amount, 0.01)
    return offers
