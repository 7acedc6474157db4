# SPDX-License-Identifier: MIT
"""The things a bench book holds, as frozen values.

Keyword arguments throughout; `key` is None until the book has put the value; references are integer keys. Masses are in g,
strengths and shares fractions 0..1, prices per g in the book's currency. Fields named `at` or `…_at` are aware datetimes,
fields named `…_on` calendar days; both take ISO text too. A value that breaks a rule it can see by itself raises Refused.

Editable: Material, Bottle, Project, Version, Balance, Word, Habit, Limit, Constituent. Logged (written once, never undone):
Making, Sitting, Strip, BlindTest. Records (corrected only by a dated row that replaces): Contents, Move, BenchCheck, Reading,
Answer, Note, Decision. What is smelled stands in `perfumery.smelled`, limits in `perfumery.limited`; both are reached from here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeAlias

from perfumery.base import Base, empty, one_of, reading_times_wrong, strength_wrong
from perfumery.findings import Finding
from perfumery.limited import Constituent as Constituent
from perfumery.limited import Limit as Limit
from perfumery.smelled import INTENSITY_MAX as INTENSITY_MAX
from perfumery.smelled import LIKING_MAX as LIKING_MAX
from perfumery.smelled import STRIP_KINDS as STRIP_KINDS
from perfumery.smelled import TEST_METHODS as TEST_METHODS
from perfumery.smelled import WORD_WEIGHT_MAX as WORD_WEIGHT_MAX
from perfumery.smelled import Answer as Answer
from perfumery.smelled import BlindTest as BlindTest
from perfumery.smelled import Reading as Reading
from perfumery.smelled import Sitting as Sitting
from perfumery.smelled import Strip as Strip
from perfumery.smelled import Word as Word

BOTTLE_KINDS = (
    "bought", "dilution", "accord", "trial", "smelling", "batch", "product", "retained", "benchmark",
)  # fmt: skip
FORMS = (
    "liquid", "viscous liquid", "crystals", "powder", "paste", "resinoid", "absolute", "concrete", "tincture",
    "essential oil", "isolate", "solvent",
)  # fmt: skip
SOLID_WORDS = ("crystal", "powder", "solid")
# Forms that are many substances at once (essential oil, absolute, resinoid, concrete: ISO 9235; tincture: as used there).
MIXTURE_WORDS = ("oil", "absolute", "resinoid", "concrete", "tincture", "extract", "balsam")
# Forms that are one substance, or nearly, though a plant is named as where it came from (menthol crystals, say).
PURE_WORDS = ("isolate", "crystal", "solvent")
MAKING_KINDS = ("dilution", "accord", "trial", "smelling", "top-up", "batch", "fill")
WEIGHING_MODES = ("tare each", "running total", "by difference", "not weighed")
MOVE_KINDS = (
    "received", "pour", "strip", "used", "spill", "lost", "found", "discard", "given", "correction", "withdrawn",
)  # fmt: skip
CONTENTS_REASONS = ("bought", "made", "topped up", "drift", "correction")
MOST_MONTHS, MOST_DAYS = 1200.0, 3650.0
_MOST = {"months": MOST_MONTHS, "days": MOST_DAYS, "hour": 24.0, "minutes": 60.0}
# How this perfumer works, each with where it starts; all of it our own choice or common practice, no source.
HABITS: Mapping[str, float] = {
    "drift tolerance": 0.05, "low share": 0.15, "head space": 0.1,
    "weigh again months": 6, "dropper cap months": 12, "dissolve days": 1,
    "re-test months essential oil": 18, "re-test months absolute": 24, "re-test months concrete": 36,
    "re-test months resinoid": 36, "re-test months tincture": 24, "re-test months isolate": 24, "re-test months liquid": 24,
    "re-test months viscous liquid": 24, "re-test months paste": 24, "re-test months crystals": 36,
    "re-test months powder": 36, "re-test months solvent": 36,
    "bench opens hour": 8, "bench closes hour": 22, "reading minutes": 3,
}  # fmt: skip
SIGN_LENGTH = 4


# shelf ----------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Property:
    """One physical datum of a material: a figure or a text, with its source and how well it is known (basis)."""

    kind: str
    value: float | None = None
    text: str = ""
    source: str = ""
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Material(Base):
    """A raw material. `words` are its smell words, `retest_months` the months from opening to the next re-test."""

    name: str
    cas: str = ""
    form: str = "liquid"
    is_carrier: bool = False
    bench_name: str = ""
    inci: str = ""
    botanical: str = ""
    synonyms: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    properties: tuple[Property, ...] = ()
    retest_months: int | None = None
    storage: str = ""
    retired_on: date | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.name, "name-empty")
        if self.retest_months is not None and not 0 <= self.retest_months <= MOST_MONTHS:
            wrong.append(Finding("habit-range", {"value": self.retest_months, "most": MOST_MONTHS}))
        return wrong

    @property
    def short(self) -> str:
        """The bench name, or the full name where none was given."""
        return self.bench_name or self.name

    @property
    def carrier_name(self) -> str:
        """The name as it is written behind a strength: a sign of capitals where it has one ('10 % in DPG'), else the short
        name as in running text, its own strength left out ('12 % in ethanol')."""
        signs = [text for text in self.synonyms if text.isupper() and len(text) <= SIGN_LENGTH and text.isalpha()]
        if signs:
            return min(signs, key=len)
        name = re.sub(r"\s+[\d.,]+\s*%.*$", "", self.short)
        return name if name[:2].isupper() else name[:1].lower() + name[1:]

    @property
    def is_solid(self) -> bool:
        """Whether the form says crystals or powder: such a material is weighed as a dilution, never by default neat."""
        return any(word in self.form.casefold() for word in SOLID_WORDS)

    @property
    def is_mixture(self) -> bool:
        """Whether it holds many substances of its own, so that what it holds has to be known before a limit can be kept.

        The form says so; else a plant named does, unless the form is that of one substance: a botanical name stands where
        something was pressed, distilled or extracted, and what came over is not known to be nothing.
        """
        form = self.form.casefold()
        if any(word in form for word in MIXTURE_WORDS):
            return True
        return bool(self.botanical.strip()) and not any(word in form for word in PURE_WORDS)


@dataclass(frozen=True, slots=True)
class Bottle(Base):
    """Anything that holds liquid. `strength` in `carrier` is what its label says; what it truly holds are its Contents.

    `material` or `version` is what it was meant to hold; both None means not known (a bought benchmark). `tare_inferred` says
    that the tare was not weighed but reckoned as gross less the net mass stated; `ready_on` is the day a solid put to dissolve
    may first be used.
    """

    code: str
    kind: str = "bought"
    label: str = ""
    material: int | None = None
    version: int | None = None
    price_per_g: float | None = None
    tare_g: float | None = None
    strength: float = 1.0
    carrier: int | None = None
    lot: str = ""
    supplier: str = ""
    supplier_no: str = ""
    received_on: date | None = None
    opened_on: date | None = None
    container: str = ""
    liner: str = ""
    dropper_on: date | None = None
    retest_on: date | None = None
    place: str = ""
    remark: str = ""
    gone_on: date | None = None
    tare_inferred: bool = False
    volume_ml: float | None = None
    ready_on: date | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.code, "code-empty") + one_of(self.kind, BOTTLE_KINDS) + strength_wrong(self.strength)
        if self.material is not None and self.version is not None:
            wrong.append(Finding("line-one-of"))
        if self.tare_g is not None and not self.tare_g > 0:
            wrong.append(Finding("mass-not-positive", {"mass_g": self.tare_g}))
        if self.price_per_g is not None and self.price_per_g < 0:
            wrong.append(Finding("price-negative", {"price": self.price_per_g}))
        if self.volume_ml is not None and not self.volume_ml > 0:
            wrong.append(Finding("volume-not-positive", {"volume_ml": self.volume_ml}))
        return wrong


@dataclass(frozen=True, slots=True)
class Contents(Base):
    """What a bottle holds from `at` on: {material key: mass share}. No shares means not known. A record."""

    bottle: int
    at: datetime
    shares: Mapping[int, float] = field(default_factory=dict)
    reason: str = "made"
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = one_of(self.reason, CONTENTS_REASONS)
        total = math.fsum(self.shares.values())
        if self.shares and (abs(total - 1) > 1e-9 or any(not 0 < share <= 1 for share in self.shares.values())):
            wrong.append(Finding("share-sum", {"total": total}))
        return wrong


# formulas -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Project(Base):
    """One idea: its brief, its benchmark bottle, its price ceiling per g, the strength and carrier it is finished at.

    `reading_times` are the due points of its strips in seconds after the dip; empty means the book's default times; `category`
    is the kind of product it becomes, by which limits are kept.
    """

    code: str
    name: str = ""
    brief: str = ""
    benchmark: int | None = None
    price_ceiling: float | None = None
    strength: float | None = None
    carrier: int | None = None
    amount_g: float = 5.0
    reading_times: tuple[float, ...] = ()
    started_on: date | None = None
    retired_on: date | None = None
    category: str = ""
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.code, "code-empty") + ([] if self.strength is None else strength_wrong(self.strength))
        wrong += reading_times_wrong(self.reading_times)
        if not self.amount_g > 0:
            wrong.append(Finding("mass-not-positive", {"mass_g": self.amount_g}))
        return wrong


@dataclass(frozen=True, slots=True)
class Line(Base):
    """One line of a formula: a material neat, a material at a strength in a carrier, or one accord version.

    `parts` of the fill-up line are not kept: they are the version's wanted total less all others. `as_carrier` overrides the
    material's own carrier mark; None leaves it.
    """

    parts: float = 0.0
    material: int | None = None
    accord: int | None = None
    strength: float = 1.0
    carrier: int | None = None
    fill_up: bool = False
    held: bool = False
    as_carrier: bool | None = None
    remark: str = ""
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong: list[Finding] = []
        if not math.isfinite(self.parts):
            wrong.append(Finding("parts-not-finite"))
        elif self.parts < 0:
            wrong.append(Finding("parts-negative", {"parts": self.parts}))
        if (self.material is None) == (self.accord is None):
            wrong.append(Finding("line-one-of"))
        wrong += strength_wrong(self.strength)
        if self.accord is not None and self.strength != 1:
            wrong.append(Finding("accord-strength"))
        if self.strength < 1 and self.carrier is None and self.accord is None:
            wrong.append(Finding("carrier-missing"))
        if self.strength == 1 and self.carrier is not None:
            wrong.append(Finding("carrier-unneeded"))
        if self.carrier is not None and self.carrier == self.material:
            wrong.append(Finding("carrier-itself"))
        return wrong


@dataclass(frozen=True, slots=True)
class Version(Base):
    """One version of a formula; also an accord when another version holds it in a line.

    `total` is the wanted total in parts of the fill-up line. `frozen_at` is set when it is first weighed; from then on its
    lines, parts, strengths and carriers never change. `name`, `note`s and `starred` stay editable.
    """

    project: int
    code: str
    lines: tuple[Line, ...] = ()
    parent: int | None = None
    reason: str = ""
    takes_from: int | None = None
    name: str = ""
    total: float = 1000.0
    made_at: datetime | None = None
    frozen_at: datetime | None = None
    starred: bool = False
    retired_on: date | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.code, "code-empty")
        if not (math.isfinite(self.total) and self.total > 0):
            wrong.append(Finding("total-not-positive", {"total": self.total}))
        filling = [line for line in self.lines if line.fill_up]
        if len(filling) > 1:
            wrong.append(Finding("fill-up-twice"))
        elif filling:
            others = math.fsum(line.parts for line in self.lines if not line.fill_up)
            excess = float(f"{others - self.total:.12g}")
            # 3 × 0.1 sums to a little over 0.3: that is no excess, `compose` fills up with nothing
            if excess > 1e-9 * self.total:
                wrong.append(Finding("fill-up-excess", {"total": self.total, "others": others, "excess": excess}))
        return wrong

    @property
    def is_frozen(self) -> bool:
        """Whether it has been weighed, itself or inside a version that was."""
        return self.frozen_at is not None


@dataclass(frozen=True, slots=True)
class Habit(Base):
    """A figure of how this perfumer works, in place of the one in `HABITS`; shares 0..1, masses g."""

    name: str
    value: float
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = one_of(self.name, tuple(HABITS))
        most = next((most for word, most in _MOST.items() if word in self.name), None)
        if most is not None:
            if not 0 <= self.value <= most:
                wrong.append(Finding("habit-range", {"value": self.value, "most": most}))
        elif not 0 <= self.value <= 1 or (self.name == "drift tolerance" and not self.value):
            # within a tolerance of nothing every bottle is drifting
            wrong.append(Finding("habit-share", {"value": self.value, "most": 1.0}))
        return wrong


# mass moved -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Balance(Base):
    """A balance: readability d, repeatability s of a net weighing, stated accuracy and capacity, all in g."""

    name: str
    d_g: float
    s_g: float | None = None
    max_g: float | None = None
    accuracy_g: float | None = None
    retired_on: date | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.name, "name-empty")
        if not self.d_g > 0:
            wrong.append(Finding("readability-not-positive", {"step": self.d_g}))
        return wrong


@dataclass(frozen=True, slots=True)
class BenchCheck(Base):
    """What a balance showed for a known weight: one reading for a check of the day, ten for its repeatability. A record.

    Each reading is net, zeroed before it; `level_ok` and `warm_up_min` as far as they were looked at.
    """

    balance: int
    at: datetime
    weight_g: float
    readings: tuple[float, ...]
    level_ok: bool | None = None
    warm_up_min: float | None = None
    remark: str = ""
    replaces: int | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        if self.weight_g > 0 and self.readings and all(math.isfinite(g) for g in self.readings):
            return []
        return [Finding("mass-not-positive", {"mass_g": self.weight_g})]


@dataclass(frozen=True, slots=True)
class Planned:
    """One liquid that a making plans to weigh: of which line, from which bottle (None: still to be chosen), how much, g."""

    target_g: float
    line: int | None = None
    bottle: int | None = None


@dataclass(frozen=True, slots=True)
class Making(Base):
    """One act of making: a trial of a version, a dilution, an accord, a batch. Its moves are the masses. Logged.

    `plan` is what is to be weighed, in the order it is to be weighed in; it may change until the making is finished.
    """

    kind: str
    into_bottle: int
    started_at: datetime
    code: str | None = None
    version: int | None = None
    balance: int | None = None
    mode: str = "not weighed"
    target_g: float | None = None
    finished_at: datetime | None = None
    remark: str = ""
    plan: tuple[Planned, ...] = ()
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        return one_of(self.kind, MAKING_KINDS) + one_of(self.mode, WEIGHING_MODES)


@dataclass(frozen=True, slots=True)
class Move(Base):
    """Mass that moved: received, poured from bottle to bottle, left on a strip, spilled, found at a re-weighing. A record.

    `mass_g` is what left or arrived; `read_g` what the balance showed; `contents` the source's state in force at that hour.
    A move of kind 'found' states the mass found at a re-weighing and changes no book mass; one of kind 'correction' says in its
    remark why the book was wrong. `estimated` marks a mass that no balance showed, such as millilitres times a density.
    """

    at: datetime
    kind: str
    mass_g: float
    from_bottle: int | None = None
    to_bottle: int | None = None
    target_g: float | None = None
    read_g: float | None = None
    u_g: float | None = None
    making: int | None = None
    line: int | None = None
    contents: int | None = None
    replaces: int | None = None
    remark: str = ""
    estimated: bool = False
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = one_of(self.kind, MOVE_KINDS)
        if self.kind == "correction" and not self.remark.strip():
            wrong.append(Finding("correction-unnamed"))
        if not (math.isfinite(self.mass_g) and self.mass_g >= 0):
            wrong.append(Finding("mass-not-positive", {"mass_g": self.mass_g}))
        if self.from_bottle is None and self.to_bottle is None:
            wrong.append(Finding("from-and-to"))
        if self.kind == "pour" and (self.from_bottle is None or self.to_bottle is None):
            wrong.append(Finding("from-and-to"))
        return wrong


# words about things, decisions -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Note(Base):
    """A dated note about one material, bottle, version or project; `stage` says when on the strip ('fresh', '1 h'). A record."""

    text: str
    at: datetime | None = None
    material: int | None = None
    bottle: int | None = None
    version: int | None = None
    project: int | None = None
    stage: str = ""
    replaces: int | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        about = [k for k in (self.material, self.bottle, self.version, self.project) if k is not None]
        return [] if len(about) == 1 else [Finding("line-one-of")]


@dataclass(frozen=True, slots=True)
class Decision(Base):
    """What was decided in a project on a day: the versions chosen, why, and the rejected with their reasons. A record.

    `evidence` are the strips it stands on, `costs` {version: price per g of concentrate on that day}.
    """

    project: int
    made_on: date
    chosen: tuple[int, ...] = ()
    reason: str = ""
    rejected: Mapping[int, str] = field(default_factory=dict)
    code: str = ""
    replaces: int | None = None
    evidence: tuple[int, ...] = ()
    costs: Mapping[int, float] = field(default_factory=dict)
    key: int | None = None


Value: TypeAlias = (
    Material | Bottle | Habit | BenchCheck | Contents | Project | Version | Balance | Making | Move
    | Sitting | Strip | Reading | BlindTest | Answer | Word | Note
    | Decision | Limit | Constituent
)  # fmt: skip


def describe(value: Any) -> str:
    """A short name of a value for messages: its code, name or text."""
    for attribute in ("code", "name", "text"):
        found = getattr(value, attribute, "")
        if found:
            return str(found)
    return type(value).__name__.casefold()
