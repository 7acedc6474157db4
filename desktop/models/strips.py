# SPDX-License-Identifier: MIT
"""The strips of a project as ready cards: what each is, how it stands now, its curve, and the sentences about it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from db import NO_BOTTLE, Book, Change, Origin
from desktop import figures
from desktop.language import tr
from desktop.models.conditions import MARKS
from perfumery import Bottle, Making, Material, Project, Reading, Sitting, Strip, Version
from perfumery.curves import Below, strip_figures
from perfumery.instants import hours
from perfumery.smelling import (
    DuePoint,
    at_due,
    due_points,
    elapsed_s,
    in_force,
    lateness_s,
    next_due,
    series,
)

# {how a strip stands that runs no more: as it is shown}
_ENDED = {"done": tr("done"), "closed": tr("closed")}
# Half of "strong": where a strip has stopped carrying. The figure under which the curves of this house are compared.
LEVEL = 2.5
HOUR_S = 3600.0
# So many strips are read in one piece.
AT_ONCE = 40
_NOWHERE = Origin()


@dataclass(frozen=True, slots=True)
class StripCard:
    """One strip with all that is shown of it.

    `code` is what may be shown (the blind code while its sitting is sealed; then `blind`), `subject` what it was dipped in: a
    version's code, a material's name, the benchmark's label. `state` is 'late', 'due', '' (waiting), 'done' or 'closed'.
    Nothing is told of its `origin` under seal.
    """

    strip: Strip
    code: str
    subject: str
    source: str
    version: int | None
    blind: bool
    origin: Origin
    readings: tuple[Reading, ...] = ()
    points: tuple[DuePoint, ...] = ()
    state: str = ""
    elapsed_h: float = 0.0
    revealed_at: datetime | None = None

    @property
    def key(self) -> int:
        """The strip's key."""
        assert self.strip.key is not None
        return self.strip.key

    @property
    def label(self) -> str:
        """Code and subject: 'P06 SR-4'."""
        return f"{self.code} {self.subject}".strip()

    @property
    def due(self) -> DuePoint | None:
        """The point to read now, or the next one ahead; None for a closed or finished strip."""
        return next((p for p in self.points if p.state in ("due", "ahead")), None) if self.state != "closed" else None

    @property
    def last_intensity(self) -> float | None:
        """The intensity read last; None where none was."""
        return next((r.intensity for r in reversed(self.readings) if r.intensity is not None), None)

    @property
    def series(self) -> tuple[tuple[float, float], ...]:
        """((elapsed hours, intensity), …) by time."""
        return series(self.readings, self.strip)

    @property
    def is_read(self) -> bool:
        """Whether any reading states an intensity."""
        return any(reading.intensity is not None for reading in self.readings)

    @property
    def words(self) -> tuple[tuple[str, ...], ...]:
        """The words of each point of `series`, heaviest first."""
        return tuple(by_weight(r.words) for r in self.readings if r.intensity is not None)

    @property
    def liking(self) -> tuple[tuple[float, float], ...]:
        """((elapsed hours, liking), …) by time."""
        return tuple((hours(self.strip.dipped_at, r.at), float(r.liking)) for r in self.readings if r.liking is not None)

    def state_text(self, now: datetime) -> str:
        """How it stands in words: '41 min late', 'due now', '8 h in 12 min', 'closed', 'done'."""
        if self.due is None or self.state in ("late", "due"):
            return self.when_text(now)
        return tr("{time} {ahead}", time=figures.due_text(self.due.due_s), ahead=self.when_text(now))

    def when_text(self, now: datetime) -> str:
        """When its next reading is: '41 min late', 'due now', 'in 12 min', 'closed', 'done'."""
        if self.due is None:
            return _ENDED[self.state or "done"]
        behind = lateness_s(self.strip, now, self.due.due_s)
        if self.state == "late":
            return figures.lateness(behind)
        if self.state == "due":
            return tr("due now")
        ahead, passed = figures.ahead(-behind), next((p for p in self.points if p.state == "passed"), None)
        return ahead if passed is None else tr("{ahead}, {time} unread", ahead=ahead, time=figures.due_text(passed.due_s))


def by_weight(words: Mapping[str, int]) -> tuple[str, ...]:
    """Smell words, heaviest first; of equal weight as they were written."""
    return tuple(sorted(words, key=lambda word: -words[word]))


def standing(card: StripCard, now: datetime) -> StripCard:
    """The card as it stands at an instant."""
    points = due_points(card.strip, card.readings, now)
    since_h = elapsed_s(card.strip, now) / HOUR_S
    if card.strip.closed_at is not None:
        state, shown = "closed", _last_read_h(card, hours(card.strip.dipped_at, card.strip.closed_at))
    else:
        due = next_due(card.strip, card.readings, now)
        # a finished strip no longer grows older on screen: its last reading is what it tells
        state, shown = ("done", _last_read_h(card, since_h)) if due is None else ("", since_h)
        if due is not None and due.state == "due":
            state = "late" if due.late else "due"
    return replace(card, points=points, state=state, elapsed_h=shown)


def _last_read_h(card: StripCard, otherwise: float) -> float:
    return hours(card.strip.dipped_at, card.readings[-1].at) if card.readings else otherwise


@dataclass(frozen=True, slots=True)
class _Source:
    """What the liquid of a bottle is, the code of its trial or bottle, its version, and where it came from."""

    subject: str = ""
    code: str = ""
    version: int | None = None
    origin: Origin = _NOWHERE


class StripsModel:
    """The cards of one project's strips, newest first. It asks the book only for what a Change touched."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._project: int | None = None
        self._sources: dict[int, _Source] = {NO_BOTTLE: _Source()}
        self._sittings: dict[int, Sitting] = {}
        self.cards: tuple[StripCard, ...] = ()

    def load(self, project: int | None, now: datetime) -> None:
        """Reads all strips of a project."""
        deque(self.loading(project, now), maxlen=0)

    def loading(self, project: int | None, now: datetime) -> Iterator[None]:
        """Reads all strips of a project in pieces of some ms. Their cards stand at its end, until then those of the same project
        as before and none of another one."""
        if project != self._project:
            self.cards = ()
        self._project = project
        strips = () if project is None else self._book.strips(project)
        yield
        extra = self._running_materials(now) if project is not None else []
        yield from self._making((*strips, *(s for s in extra if s.key not in {known.key for known in strips})), now)

    def load_material(self, material: int | None, now: datetime) -> None:
        """Reads the strips dipped from a material's own bottles."""
        bottles = [] if material is None else [bottle.key for bottle in self._book.all(Bottle, material=material)]
        self.load_strips([strip for key in bottles for strip in self._book.all(Strip, bottle=key)], now)

    def load_strips(self, strips: Sequence[Strip], now: datetime) -> None:
        """Makes cards of these strips, newest first, each with its readings."""
        deque(self._making(strips, now), maxlen=0)

    def _making(self, strips: Sequence[Strip], now: datetime) -> Iterator[None]:
        self._learn(s.bottle for s in strips)
        met = {s.sitting for s in strips if s.sitting is not None}
        self._sittings = dict(self._book.many(Sitting, met))
        yield
        cards: list[StripCard] = []
        for start in range(0, len(strips), AT_ONCE):
            some = strips[start : start + AT_ONCE]
            readings = self._book.readings(tuple(s.key for s in some if s.key is not None))
            cards += [self._card(s, readings.get(s.key or 0, ()), now) for s in some]
            yield
        self._take(cards)

    def _take(self, cards: Iterable[StripCard]) -> None:
        self.cards = tuple(sorted(cards, key=lambda c: (c.strip.dipped_at, c.key), reverse=True))

    def _running_materials(self, now: datetime) -> list[Strip]:
        """Strips of raw materials still running: they belong to no project, and hang in every project's stand."""
        benchmarks = {p.benchmark for p in self._book.all(Project) if p.benchmark is not None}
        running = [due.strip for due in self._book.due(now) if due.strip.bottle not in benchmarks]
        self._learn(strip.bottle for strip in running)
        return [strip for strip in running if self._sources[strip.bottle].version is None]

    def _card(self, strip: Strip, readings: Iterable[Reading], now: datetime) -> StripCard:
        of, sitting = self._sources[strip.bottle], self.sitting(strip)
        card = StripCard(
            strip=strip,
            code=strip.code,
            subject=of.subject,
            source=of.code,
            version=of.version,
            blind=strip.bottle == NO_BOTTLE,
            origin=of.origin,
            readings=in_force(readings, strip),
            revealed_at=None if sitting is None or sitting.clock_at is None else sitting.revealed_at,
        )
        return standing(card, now)

    def _learn(self, bottles: Iterable[int]) -> None:
        """Reads where the liquid of these bottles came from."""
        for key, origin in self._book.origins(set(bottles) - self._sources.keys()).items():
            bottle = origin.bottle
            assert bottle is not None
            if origin.version is not None:
                made = origin.making.code if origin.making is not None else None
                found = _Source(origin.version.code, made or bottle.code, origin.version.key, origin)
            elif bottle.material is not None:
                material = self._book.get(Material, bottle.material)
                found = _Source("" if material is None else material.short, bottle.code, None, origin)
            else:
                found = _Source(bottle.code, bottle.label or bottle.code, None, origin)
            self._sources[key] = found

    def sitting(self, strip: Strip) -> Sitting | None:
        """The sitting a strip was dipped in."""
        return None if strip.sitting is None else self._sittings.get(strip.sitting)

    def apply(self, change: Change, now: datetime) -> set[int] | None:
        """Takes a Change in. {strip keys} whose cards changed, or None where all were read again."""
        if any(self._unsettles(old, new) for old, new in change.pairs):
            self._sources = {NO_BOTTLE: _Source()}
            self.load(self._project, now)
            return None
        strips = {new.key: new for _, new in change.pairs if isinstance(new, Strip)}
        if strips:
            self._sittings |= self._book.many(Sitting, {s.sitting for s in strips.values() if s.sitting is not None})
            readings = self._book.readings(tuple(strips))
            cards = [card for card in self.cards if card.key not in strips]
            cards += [self._card(strip, readings[key], now) for key, strip in strips.items()]
            self._take(cards)
            return None
        values = [value for pair in change.pairs for value in pair if value is not None]
        touched = {v.strip for v in values if isinstance(v, Reading)} & {c.key for c in self.cards}
        if touched:
            readings = self._book.readings(tuple(touched))
            self.cards = tuple(
                standing(replace(c, readings=in_force(readings.get(c.key, ()), c.strip)), now) if c.key in touched else c
                for c in self.cards
            )
        return touched

    def _unsettles(self, old: Any, new: Any) -> bool:
        """Whether all has to be read again: papers are new or changed ones of the same vials nearly always."""
        if isinstance(new, Strip) and (old is None or old.bottle == new.bottle):
            of = self._sources.get(new.bottle)
            return of is None or of.origin.version is None or of.origin.version.project != self._project
        if isinstance(new, Sitting) and old is None:
            return False
        return isinstance(old if new is None else new, Strip | Bottle | Making | Sitting | Project) or _renames(old, new)

    def tick(self, now: datetime) -> None:
        """Lets every strip that still runs grow older."""
        self.cards = tuple(c if c.state in ("closed", "done") else standing(c, now) for c in self.cards)

    def card(self, key: int | None) -> StripCard | None:
        """The card of a strip."""
        return next((c for c in self.cards if c.key == key), None)

    def latest_of_each(self, most: int = 8) -> tuple[int, ...]:
        """Keys of the latest strip with a reading of each subject, newest first: the curves shown until ticked by hand."""
        latest: dict[str, int] = {}
        for card in self.cards:
            if card.last_intensity is not None:
                latest.setdefault(f"{card.subject or card.code}/{card.strip.kind}", card.key)
        return tuple(latest.values())[:most]

    def next_to_read(self, after: int | None = None) -> StripCard | None:
        """The strip to read next: the one due longest, other than the one just read."""
        waiting = [c for c in self.cards if c.state in ("due", "late") and c.key != after]
        return min(waiting, key=lambda c: c.strip.dipped_at.timestamp() + (c.due.due_s if c.due else 0), default=None)


def _renames(old: Any, new: Any) -> bool:
    """Whether a version that papers may have been dipped of is called otherwise, or gone: its lines are nothing to them."""
    return isinstance(old, Version) and (new is None or (old.code, old.project) != (new.code, new.project))


# sentences ------------------------------------------------------------------------------------------------------------


def caption(book: Book, card: StripCard) -> str:
    """What the strip is: 'SR-4 · T-027 · 12 % in ethanol · 8 d as concentrate, 1 d in alcohol when dipped'."""
    strip = card.strip
    if card.blind:
        return tr("blind until the sitting is revealed")
    bottle = card.origin.bottle
    assert bottle is not None
    strength = strip.strength if strip.strength is not None else bottle.strength
    carrier_key = strip.carrier if strip.carrier is not None else bottle.carrier
    carrier = None if carrier_key is None else book.get(Material, carrier_key)
    said = [card.subject, card.source if card.source != card.subject else ""]
    said.append(figures.stock_text(strength, carrier.carrier_name if carrier else ""))
    said.append(_ages(card.origin, strip.dipped_at))
    if strip.kind == "skin":
        amount = figures.mass_text(strip.amount_g) if strip.amount_g is not None else ""
        said.append(" ".join(filter(None, (tr("on skin"), strip.site, strip.wearer, amount))))
    return " · ".join(filter(None, said))


def _ages(origin: Origin, dipped_at: datetime) -> str:
    ages: list[str] = []
    for since, where in ((origin.concentrate_at, tr("as concentrate")), (origin.alcohol_at, tr("in alcohol"))):
        if since is not None and since <= dipped_at:
            ages.append(f"{age_text(dipped_at - since)} {where}")
    return tr("{ages} when dipped", ages=", ".join(ages)) if ages else ""


def age_text(age: timedelta) -> str:
    """An age of a mix: whole days from a day and a half on, whole hours before; finer would be no finer."""
    age_h = age / timedelta(hours=1)
    return figures.elapsed(round(age_h / 24) * 24 if age_h >= 36 else round(age_h) or age_h)


def figures_line(card: StripCard) -> str:
    """The figures of a strip's curve: 'peak 5 at 2 min · area 2 min–8 h 28.0 · below 2.5 after 13.9 h · …'"""
    line = card.series
    if not line:
        return tr("No reading with an intensity yet.")
    whole = strip_figures(line, levels=(LEVEL,))
    found = whole.curve
    span = f"{figures.elapsed(whole.area_from_h)}–{figures.elapsed(whole.area_to_h)}"
    area = tr("not known") if whole.area is None else figures.fixed(whole.area, 1)
    said = [
        tr("peak {intensity} at {time}", intensity=figures.parts(found.peak), time=figures.elapsed(found.peak_h)),
        tr("area {span} {area}", span=span, area=area),
        *map(_below, whole.below),
    ]
    if found.last_noticed_h is None:
        said.append(tr("never noticed"))
    else:
        last = figures.elapsed(found.last_noticed_h)
        said.append(tr("last noticed {time}", time=f"> {last}" if found.still_noticed else last))
    return " · ".join(said)


def _below(below: Below) -> str:
    level, fall = figures.parts(below.level), below.fall
    if fall is None:
        if below.not_by_h is not None:
            return tr("not below {level} by {time}", level=level, time=figures.elapsed(below.not_by_h))
        return tr("below {level} from the first reading", level=level)
    time = figures.elapsed(fall.at_h)
    if not fall.is_wide:
        return tr("below {level} after {time}", level=level, time=time)
    return tr(
        "below {level} after {time} (between {first} and {last})",
        level=level, time=time, first=figures.elapsed(fall.after_h), last=figures.elapsed(fall.before_h),
    )  # fmt: skip


def sitting_text(sitting: Sitting | None, today: datetime) -> str:
    """The conditions of a sitting: 'sitting 19 Mar · 21 °C, 46 % RH · scented'."""
    if sitting is None:
        return ""
    room = []
    if sitting.temp_c is not None:
        room.append(figures.unit(figures.parts(sitting.temp_c), "°C"))
    if sitting.rh_percent is not None:
        room.append(tr("{humidity} RH", humidity=figures.unit(figures.parts(sitting.rh_percent), "%")))
    marks = [mark.told for name, mark in MARKS.items() if getattr(sitting, name)]
    if sitting.is_sealed:
        marks.append(tr("sealed"))
    elif sitting.blind and sitting.revealed_at is None:
        marks.append(tr("blind"))
    began = tr("sitting {day}", day=figures.day(sitting.at, today))
    return " · ".join(filter(None, (began, ", ".join(room), ", ".join(marks))))


def all_at(cards: Iterable[StripCard], due_s: float) -> str:
    """The intensities that answer one reading time: 'all at 8 h: SR-1 2, SR-2 2, P05 —'."""
    said: list[str] = []
    ordered = sorted(cards, key=lambda c: (c.subject or c.code, c.strip.dipped_at))
    subjects = [c.subject for c in ordered]
    for card in ordered:
        found = at_due(card.readings, card.strip, due_s)
        name = card.label if subjects.count(card.subject) > 1 or not card.subject else card.subject
        said.append(f"{name} {figures.parts(found.intensity if found is not None else None)}")
    return tr("all at {time}: {strips}", time=figures.due_text(due_s), strips=", ".join(said)) if said else ""
