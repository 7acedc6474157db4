# SPDX-License-Identifier: MIT
"""What is done with bottles: they come, are filled from others, drawn from, weighed again, topped up, thrown away.

`Book.bottles` is the door to all of it. Every act is one put of the book, so all of it stands or none; the masses in it are
records, so none of it is an undo step: a slip is corrected by `Book.correct`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from db import bottle_rows, makings
from db.bottle_rows import BottleRow, ServiceDue
from db.makings import Arrival, Poured
from perfumery import Balance, Bottle, Contents, Making, Move, Value, Version, ledger, weighing
from perfumery.dilution import Pour
from perfumery.findings import refuse
from perfumery.ledger import Drift
from perfumery.preparing import Preparation, to_prepare
from perfumery.values import Habit

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.store import Store

# Who has more drafts than this does not mean to weigh the oldest.
DRAFTS = 50
DRAWS = ("used", "spill", "given", "strip")


class Bottles:
    """The bottles of one book. Masses in g; times are now where none is given."""

    def __init__(self, book: Book, queries: Queries, store: Store) -> None:
        self._book, self._queries, self._store = book, queries, store

    # reading ----------------------------------------------------------------------------------------------------------

    def rows(self, *, vials: bool = False, gone: bool = False) -> tuple[BottleRow, ...]:
        """Bottles with what their ledgers say, in few queries however many: what stands on the shelf, or with `vials` what
        trials left. Those that are gone only where asked for."""
        return self._queries.bottle_rows(vials=vials, gone=gone)

    def holding(self, materials: Iterable[int], versions: Iterable[int] = ()) -> tuple[BottleRow, ...]:
        """What stands on the shelf of these materials, at any strength, and of these versions, by key."""
        return self._queries.bottle_rows_holding(materials, versions)

    def rows_of(self, bottles: Iterable[int]) -> dict[int, BottleRow]:
        """{bottle: it as it stands now} of any kind, gone or not."""
        return self._queries.bottle_rows_of(bottles)

    def last_of(self, kinds: Iterable[str]) -> Bottle | None:
        """The newest bottle of some kinds, gone or not."""
        return self._queries.last_bottle(kinds)

    def reading(self, *, vials: bool = False, gone: bool = False) -> Iterator[None]:
        """Reads what `rows` answers with ahead, in pieces of some ms."""
        return self._queries.reading_bottles(vials=vials, gone=gone)

    @property
    def are_near(self) -> bool:
        """Whether asking for what stands on the shelf takes no longer than a frame."""
        return self._queries.bottle_rows_near()

    def row(self, bottle: int) -> BottleRow | None:
        """One bottle of any kind, as it stands now."""
        return self._queries.bottle_row(bottle, self._queries.habits())

    def moves(self, bottle: int) -> tuple[Move, ...]:
        """Everything in force that filled, emptied or re-weighed a bottle, by time."""
        return tuple(self._store.moves((bottle,)).get(bottle, ()))

    def states(self, bottle: int) -> tuple[Contents, ...]:
        """Every state of a bottle's contents, by time."""
        return tuple(sorted(self._book.all(Contents, bottle=bottle), key=lambda c: (c.at, c.key)))

    def drift(self, bottle: int, tolerance: float | None = None) -> Drift | None:
        """What the last re-weighing says of a bottle of a material against its book mass, counted from when it was made, or
        last topped up or re-labelled; None where it was never re-weighed, or what it holds is not known."""
        own = {} if tolerance is None else {"drift tolerance": tolerance}
        row = self._queries.bottle_row(bottle, self._queries.habits() | own)
        return None if row is None else row.drift

    def uncertainty(self, bottle: int, at: datetime | None = None) -> dict[int, float] | None:
        """{material: standard uncertainty of its share} of what was weighed together into a bottle; empty for what was
        bought (a supplier's strength counts as exact); None where it cannot be told."""
        held = self._queries.contents(bottle, at)
        return None if held is None else self._queries.shares_u(held)

    def price(self, bottle: int) -> tuple[float | None, tuple[int, ...]]:
        """(price per g of what a bottle truly holds, materials in it whose price is not known). The price is that of the
        known ones: at least so much; None where none is known."""
        shares = self._book.contents(bottle)
        prices = self._queries.prices(shares)
        missing = tuple(key for key in shares if key not in prices)
        known = [share * prices[key] for key, share in shares.items() if key in prices]
        return (sum(known) if known else None), missing

    def habits(self) -> dict[str, float]:
        """How this perfumer works: every habit, with the own figure where there is one."""
        return self._queries.habits()

    def services(self, now: datetime) -> tuple[ServiceDue, ...]:
        """Re-tests, dropper caps and solutions ready, due or due within a month, soonest first."""
        return bottle_rows.services(self.rows(), now.date())

    def preparations(self) -> tuple[Preparation, ...]:
        """Stocks that the newest open drafts (so many as `DRAFTS`) ask for and no bottle is, most wanted first."""
        drafts = self._queries.drafts(DRAFTS)
        accords = self._queries.accords_of(version for version, _ in drafts)
        return to_prepare(drafts, accords, (row.bottle for row in self.rows()))

    # doing ------------------------------------------------------------------------------------------------------------

    def keep_habit(self, name: str, value: float) -> Habit:
        """Sets one of the perfumer's habits; an undo step like any edit. Raises Refused `kind-unknown`, `habit-range`,
        `habit-share`."""
        standing = self._book.get(Habit, name)
        fresh = Habit(name, value, key=None if standing is None else standing.key)
        kept: Habit = self._book.put(fresh, what=f"{name} {value:g}")[0]
        return kept

    def receive(
        self, *arrivals: Arrival, at: datetime | None = None, what: str = "", also: tuple[Value, ...] = ()
    ) -> tuple[Bottle, ...]:
        """A delivery: every bottle with its contents as labelled and its mass, all or nothing; `also` is put before them,
        such as the materials that came for the first time."""
        moment = at or self._book.now()
        values = [makings.arrived(arrival, moment, self._book.new_key) for arrival in arrivals]
        codes = ", ".join(arrival.bottle.code for arrival in arrivals)
        put = self._book.put(*also, *(value for own in values for value in own), what=what or f"delivery {codes}")
        return tuple(value for value in put if isinstance(value, Bottle))

    def make(
        self, kind: str, into: Bottle, poured: Iterable[Poured], *, balance: Balance | None = None, mode: str = "tare each",
        code: str | None = None, version: int | None = None, target_g: float | None = None, at: datetime | None = None,
        remark: str = "", what: str = "", settle: bool = False, also: tuple[Value, ...] = (),
    ) -> Bottle:  # fmt: skip
        """A bottle filled from others with the masses really read: a dilution, an accord, a smelling dilution. Its contents
        follow from what each source truly holds; `also` is put before them in the same transaction, such as the bottle and
        contents of a source that was not in the book yet.

        Kind 'top-up' adds to a bottle that stands, carrier to weaken it or something stronger to strengthen it, and `into` is
        its label from then on; `settle` first takes what a re-weighing found missing for carrier that evaporated; without it
        that is written off as gone with all that was in it, since what is added joins what was found.
        Raises Refused `contents-unknown`, `source-itself`, `mass-not-positive`, `beyond-left`, `left-unknown` for a top-up of
        an amount nobody knows, `top-up-late` for one before what was booked since, `reason-missing` for a child version without
        its reason.
        """
        moment = at or self._book.now()
        bottle = replace(into, key=into.key or self._book.new_key())
        assert bottle.key is not None
        booked = [move.at for move in self.moves(bottle.key)] + [state.at for state in self.states(bottle.key)]
        if kind == "top-up" and any(at > moment for at in booked):
            # what it holds now is not what it held then
            raise refuse("top-up-late", code=bottle.code)
        loss = self.loss(bottle.key, settle=settle) if kind == "top-up" else []
        before = self.before(bottle, (*also, *loss)) if kind == "top-up" else None
        makings.check_reason(None if version is None else self._book.get(Version, version))
        making = Making(
            kind=kind, into_bottle=bottle.key, started_at=moment, finished_at=moment, code=code, version=version,
            balance=None if balance is None else balance.key, mode=mode, target_g=target_g, remark=remark,
            key=self._book.new_key(),
        )  # fmt: skip
        values = makings.together(making, self._sources(poured, moment, also), balance, before)
        put = self._book.put(*also, bottle, *loss, *values, what=what or f"{kind} {bottle.code}")
        made: Bottle = put[len(also)]
        return made

    def reweigh(
        self, bottle: int, mass_g: float, *, read_g: float | None = None, balance: Balance | None = None,
        at: datetime | None = None, remark: str = "",
    ) -> BottleRow:  # fmt: skip
        """The mass found in a bottle; `read_g` the gross figure it was reckoned from. Returns the bottle as it now stands."""
        found = Move(
            at=at or self._book.now(), kind="found", mass_g=mass_g, to_bottle=bottle, read_g=read_g, remark=remark,
            u_g=None if balance is None else weighing.found_u(balance),
        )  # fmt: skip
        self._book.put(found, what=f"{self._code(bottle)} weighed again")
        row = self.row(bottle)
        assert row is not None
        return row

    def draw(
        self, bottle: int, kind: str, mass_g: float, *, remark: str = "", estimated: bool = False, at: datetime | None = None,
        more_g: float = 0.0, why: str = "",
    ) -> Move:  # fmt: skip
        """Mass that left a bottle otherwise than into another one: 'used', 'spill', 'given', 'strip'. `more_g` is first
        booked as a correction with its reason `why`, in the same transaction. Raises Refused `beyond-left` with what is left,
        `correction-unnamed`."""
        if kind not in DRAWS:
            raise refuse("kind-unknown", kind=kind, known=DRAWS)
        if not mass_g > 0:
            raise refuse("mass-not-positive", mass_g=mass_g)
        held = self._queries.contents(bottle, at)
        move = Move(
            at=at or self._book.now(), kind=kind, mass_g=mass_g, from_bottle=bottle, remark=remark, estimated=estimated,
            contents=None if held is None else held.key,
        )  # fmt: skip
        first = [makings.correction(bottle, more_g, why, move.at)] if more_g else []
        drawn: Move = self._book.put(*first, move, what=f"{self._code(bottle)} {kind}")[-1]
        return drawn

    def correct_mass(self, bottle: int, difference_g: float, why: str) -> Move:
        """Sets the book right by name: there was so much more than booked (positive), or less. Raises Refused
        `correction-unnamed` without a reason."""
        if not difference_g:
            raise refuse("mass-not-positive", mass_g=difference_g)
        move = makings.correction(bottle, difference_g, why, self._book.now())
        booked: Move = self._book.put(move, what=f"correction of {self._code(bottle)}")[0]
        return booked

    def relabel(self, bottle: int) -> Bottle:
        """What is missing was carrier: the bottle gets the strength it has risen to, on its label and in its contents.

        Raises Refused `left-unknown` where nothing is missing, `carrier-missing`, `loss-beyond-carrier`.
        """
        standing, values = self._settled(bottle)
        state = next(value for value in values if isinstance(value, Contents))
        assert standing.material is not None  # without one there is no drift
        # the label says what can be read; its contents keep every digit
        strength = float(f"{state.shares[standing.material]:.4g}")
        put = self._book.put(*values, replace(standing, strength=strength), what=f"{standing.code} re-labelled")
        labelled: Bottle = put[-1]
        return labelled

    def discard(self, bottle: int, remark: str = "") -> Bottle:
        """Throws away what is left and marks the bottle as gone. Raises Refused `gone`."""
        standing = self._known(bottle)
        if standing.gone_on is not None:
            raise refuse("gone", code=standing.code)
        left = self._queries.left((bottle,)).get(bottle, 0.0)
        now = self._book.now()
        values: list[Value] = [replace(standing, gone_on=now.date())]
        if left > 0:
            values.append(Move(at=now, kind="discard", mass_g=left, from_bottle=bottle, remark=remark))
        thrown: Bottle = self._book.put(*values, what=f"{standing.code} thrown away")[0]
        return thrown

    def check_correctable(self, move: Move) -> None:
        """Raises Refused `settled` for a re-weighing whose loss was settled, and for that loss itself: its bottle's state
        began with it."""
        bottle = move.to_bottle if move.to_bottle is not None else move.from_bottle
        if bottle is None or move.kind not in ("found", "lost"):
            return
        just_before = move.at - timedelta(milliseconds=1)
        settled = any(other.kind in ("lost", "correction") and other.at == just_before for other in self.moves(bottle))
        if move.kind == "lost" or settled:
            raise refuse("settled", code=self._code(bottle))

    # what they need -----------------------------------------------------------------------------------------------------

    def _known(self, bottle: int) -> Bottle:
        standing = self._book.get(Bottle, bottle)
        if standing is None:
            raise refuse("reference-missing", kind="Bottle", key=bottle)
        return standing

    def _code(self, bottle: int) -> str:
        return self._known(bottle).code

    def _settled(self, bottle: int) -> tuple[Bottle, list[Value]]:
        """(the bottle, the values that write its loss off). Raises Refused `left-unknown` where nothing is missing, or what it
        holds has been changed since it was found missing."""
        row, held = self.row(bottle), None
        if row is not None and row.found_at is not None:
            held = self._queries.contents(bottle, row.found_at)
        if row is None or row.drift is None or row.found_at is None or held is None or row.drift.missing_g <= 0:
            raise refuse("left-unknown", code=self._code(bottle))
        if held != self._queries.contents(bottle, None):
            raise refuse("left-unknown", code=self._code(bottle))
        return row.bottle, makings.settled(row.bottle, row.drift, row.found_at, held)

    def loss(self, bottle: int, *, settle: bool = False) -> list[Value]:
        """The values that write off what the last re-weighing of a bottle found missing: with `settle` as carrier that
        evaporated, else as gone with all that was in it. Raises Refused `left-unknown` where there is nothing to settle."""
        return self._settled(bottle)[1] if settle else self._written_off(bottle)

    def _written_off(self, bottle: int) -> list[Value]:
        """What the last re-weighing found missing, gone as it was; what it found too much, booked as that."""
        row = self.row(bottle)
        if row is None or row.found_at is None or not row.missing_g:
            return []
        if row.missing_g < 0:
            just_before = row.found_at - timedelta(milliseconds=1)
            return [makings.correction(bottle, -row.missing_g, "more found when it was weighed again", just_before)]
        held = self._queries.contents(bottle, row.found_at)
        return [makings.lost(bottle, row.missing_g, row.found_at, held, "missing when it was weighed again")]

    def before(self, bottle: Bottle, booked: tuple[Value, ...]) -> Pour:
        """What a bottle holds before it is topped up, with what is booked in the same put. Raises Refused `contents-unknown`,
        `left-unknown`."""
        assert bottle.key is not None
        moves = [*self.moves(bottle.key), *(value for value in booked if isinstance(value, Move))]
        states = [value for value in booked if isinstance(value, Contents) and value.bottle == bottle.key]
        held = states[-1] if states else self._queries.contents(bottle.key, None)
        if held is None or not held.shares:
            raise refuse("contents-unknown", code=bottle.code)
        left = ledger.left(bottle.key, moves)
        if not (ledger.is_known(bottle.key, moves) and left > 0):
            raise refuse("left-unknown", code=bottle.code)
        return Pour(held.shares, left)

    def _sources(
        self, poured: Iterable[Poured], at: datetime, also: Iterable[Value]
    ) -> list[tuple[Poured, Contents | None, str]]:
        """Each pour with its source's contents in force and code; a source that comes with this put is taken from it."""
        fresh = {value.key: value.code for value in also if isinstance(value, Bottle)}
        states = {value.bottle: value for value in also if isinstance(value, Contents)}
        found = []
        for one in poured:
            held = states.get(one.bottle) or self._queries.contents(one.bottle, at)
            found.append((one, held, fresh.get(one.bottle) or self._code(one.bottle)))
        return found
