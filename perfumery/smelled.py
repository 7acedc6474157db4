# SPDX-License-Identifier: MIT
"""What is smelled, as frozen values: sittings, strips and their readings, blind tests and their answers, smell words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from perfumery.base import Base, empty, one_of, reading_times_wrong, strength_wrong
from perfumery.findings import Finding
from perfumery.methods import METHODS

STRIP_KINDS = ("paper", "skin")
INTENSITY_MAX = 6.0
LIKING_MAX = 4
WORD_WEIGHT_MAX = 3
RANKING = "ranking"
TEST_METHODS = (*METHODS, RANKING)


@dataclass(frozen=True, slots=True)
class Sitting(Base):
    """One round of smelling under the same conditions. Logged.

    A blind one is sealed from `clock_at`, when its strips got their three-digit codes and one clock, until `revealed_at`;
    `shuffled` where whoever dipped it shuffled the papers unseen, so that nobody, the book included, knows which code is which.
    """

    at: datetime
    code: str = ""
    purpose: str = ""
    temp_c: float | None = None
    rh_percent: float | None = None
    cold: bool = False
    scented: bool = False
    tired: bool = False
    benchmark: int | None = None
    blind: bool = False
    revealed_at: datetime | None = None
    clock_at: datetime | None = None
    shuffled: bool = False
    key: int | None = None

    @property
    def is_sealed(self) -> bool:
        """Whether which strip is which must not be seen."""
        return self.clock_at is not None and self.revealed_at is None


@dataclass(frozen=True, slots=True)
class Strip(Base):
    """A smelling strip (or a place on skin) dipped from a bottle. Logged; only `closed_at` is set later.

    `reading_times` are its due points in seconds after the dip, fixed when it was dipped.
    """

    code: str
    bottle: int
    dipped_at: datetime
    kind: str = "paper"
    sitting: int | None = None
    strength: float | None = None
    carrier: int | None = None
    wearer: str = ""
    site: str = ""
    amount_g: float | None = None
    blind_code: str = ""
    reading_times: tuple[float, ...] = ()
    closed_at: datetime | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.code, "code-empty") + one_of(self.kind, STRIP_KINDS) + reading_times_wrong(self.reading_times)
        return wrong + ([] if self.strength is None else strength_wrong(self.strength))


@dataclass(frozen=True, slots=True)
class Reading(Base):
    """What was smelled on a strip at one time: intensity 0..6 in half steps, distance in cm, liking −4..+4. A record.

    `due_s` is the due point it answers, in seconds after the dip; `words` maps smell words to weights 1..3; `entered_at` is
    when it was typed, where that is not when it was read. `withdrawn` on a correction takes a reading out of all figures.
    """

    strip: int
    at: datetime
    due_s: float | None = None
    intensity: float | None = None
    distance_cm: float | None = None
    liking: int | None = None
    words: Mapping[str, int] = field(default_factory=dict)
    note: str = ""
    entered_at: datetime | None = None
    replaces: int | None = None
    withdrawn: bool = False
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong: list[Finding] = []
        if self.intensity is not None and not (0 <= self.intensity <= INTENSITY_MAX and self.intensity * 2 % 1 == 0):
            wrong.append(Finding("intensity-scale", {"value": self.intensity}))
        if self.liking is not None and (self.liking % 1 != 0 or abs(self.liking) > LIKING_MAX):
            wrong.append(Finding("liking-scale", {"value": self.liking}))
        if self.distance_cm is not None and not self.distance_cm >= 0:
            wrong.append(Finding("distance-negative", {"value": self.distance_cm}))
        for word, weight in self.words.items():
            if weight % 1 != 0 or not 1 <= weight <= WORD_WEIGHT_MAX:
                wrong.append(Finding("word-weight", {"word": word, "value": weight}))
        return wrong


@dataclass(frozen=True, slots=True)
class BlindTest(Base):
    """Samples put to the nose blind, to find whether they can be told apart or ranked. Logged; sealed until `revealed_at`.

    `samples` are the keys of the bottles, A the first; `sets` what is served, one string a set: '417:A 862:A 295:B' in the order
    of serving, in duo-trio the reference first as 'R:A'; while sealed '417 862 295'. `question` is the quality asked about in
    paired tests and rankings; `alpha` the risk of calling chance a difference; `shuffled` where the papers were shuffled unseen
    and an answer only says whether it was right.
    """

    code: str
    method: str
    samples: tuple[int, ...]
    sets: tuple[str, ...]
    at: datetime
    question: str = ""
    alpha: float = 0.05
    project: int | None = None
    sitting: int | None = None
    shuffled: bool = False
    revealed_at: datetime | None = None
    remark: str = ""
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        wrong = empty(self.code, "code-empty") + one_of(self.method, TEST_METHODS)
        if not 0 < self.alpha < 0.5:
            wrong.append(Finding("alpha-range", {"alpha": self.alpha}))
        return wrong


@dataclass(frozen=True, slots=True)
class Answer(Base):
    """What the nose said of one set of a blind test: `chosen` the code, of a ranking all codes from the least to the most;
    `right` only where the papers were shuffled and turned over by hand. A record."""

    test: int
    place: int
    at: datetime
    chosen: str = ""
    right: bool | None = None
    note: str = ""
    replaces: int | None = None
    key: int | None = None


@dataclass(frozen=True, slots=True)
class Word(Base):
    """A smell word of the perfumer's own list; `same_as` makes it a synonym of another word."""

    text: str
    group: str = ""
    same_as: int | None = None
    key: int | None = None

    def _wrong(self) -> list[Finding]:
        return empty(self.text, "name-empty")
