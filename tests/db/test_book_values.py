# SPDX-License-Identifier: MIT
"""Every kind of value, whatever its fields hold, comes out of the book, of a copy and of an export as it went in."""

from dataclasses import fields, replace
from datetime import date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from db import Book
from db.kinds import KINDS
from perfumery import (
    Answer,
    Balance,
    BenchCheck,
    BlindTest,
    Bottle,
    Constituent,
    Contents,
    Decision,
    Habit,
    Limit,
    Line,
    Making,
    Material,
    Move,
    Note,
    Planned,
    Project,
    Property,
    Reading,
    Refused,
    Sitting,
    Strip,
    Version,
    Word,
)
from perfumery.values import (
    BOTTLE_KINDS,
    CONTENTS_REASONS,
    FORMS,
    HABITS,
    MAKING_KINDS,
    MOVE_KINDS,
    STRIP_KINDS,
    TEST_METHODS,
    WEIGHING_MODES,
)

TEXT = st.text(max_size=30)
NAME = TEXT.filter(str.strip)
FIGURE = st.floats(allow_nan=False, allow_infinity=False)
MASS = st.floats(0, 1e6)
POSITIVE = st.floats(1e-6, 1e6)
SHARE = st.floats(1e-9, 1)
FLAG = st.booleans()
DAY = st.dates(date(1900, 1, 1), date(2200, 1, 1))
ZONE = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
INSTANT = st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=ZONE)
TIMES = st.lists(st.floats(1, 90 * 86400), max_size=4).map(tuple)
TEXTS = st.lists(TEXT, max_size=3).map(tuple)
PROPERTY = st.builds(Property, kind=TEXT, value=st.none() | FIGURE, text=TEXT, source=TEXT, basis=TEXT)


def maybe(strategy):
    return st.none() | strategy


class Stand:
    """A book with one value of every kind that others point to, and a strategy for more of each kind."""

    def __init__(self, path):
        self.book = Book.create(path, "Values")
        put = self.book.put
        (self.project,) = put(Project("0"))
        self.material, self.carrier = put(Material("Lemon"), Material("Ethanol", is_carrier=True))
        (self.bottle,) = put(Bottle("0"))
        (self.version,) = put(Version(self.project.key, "0", (Line(1, self.material.key),)))
        (self.making,) = put(Making("batch", self.bottle.key, self.book.now(), mode="tare each"))
        (self.sitting,) = put(Sitting(self.book.now()))
        (self.strip,) = put(Strip("0", self.bottle.key, "1800-01-01T00:00+00:00"))
        (self.word,) = put(Word("0"))
        (self.balance,) = put(Balance("0", d_g=0.001))
        (self.test,) = put(BlindTest("0", "triangle", (self.bottle.key,), ("417:A 862:A 295:B",), self.book.now()))
        (self.note,) = put(Note("0", project=self.project.key))
        self.count = 0

    def code(self, text):
        """A code that was not used before."""
        self.count += 1
        return f"{text}{self.count}"

    def habit(self, name, value):
        standing = self.book.get(Habit, name)
        return Habit(name, value, key=None if standing is None else standing.key)

    def planned(self):
        """A liquid to be weighed, of a line and bottle or of none."""
        line, bottle = st.just(self.version.lines[0].key), st.just(self.bottle.key)
        return st.builds(Planned, target_g=MASS, line=maybe(line), bottle=maybe(bottle))

    @property
    def codes(self):
        return TEXT.map(self.code)

    def strength(self, **more):
        """Fields of a strength with its carrier, or neat."""
        diluted = st.fixed_dictionaries({"strength": st.floats(1e-6, 0.999), "carrier": st.just(self.carrier.key)})
        return st.just({}) | diluted

    def line(self):
        common = {"parts": MASS, "held": FLAG, "as_carrier": maybe(FLAG), "remark": TEXT}
        material = st.builds(
            lambda strength, **rest: Line(material=self.material.key, **strength, **rest), self.strength(), **common
        )
        return material | st.builds(Line, accord=st.just(self.version.key), **common)

    def values(self, kind):
        key = {name: st.just(getattr(self, name).key) for name in ("project", "material", "bottle", "version", "strip")}
        one_of = st.sampled_from(["material", "bottle", "version", "project"])
        return {
            Material: st.builds(
                Material, name=NAME, cas=st.sampled_from(["", "8008-56-8", "4707-47-5"]), form=st.sampled_from(FORMS),
                is_carrier=FLAG, bench_name=TEXT, inci=TEXT, botanical=TEXT, synonyms=TEXTS, words=TEXTS,
                properties=st.lists(PROPERTY, max_size=3).map(tuple), retest_months=maybe(st.integers(0, 999)),
                storage=TEXT, retired_on=maybe(DAY),
            ),
            Bottle: st.builds(
                Bottle, code=self.codes, kind=st.sampled_from(BOTTLE_KINDS), label=TEXT, material=maybe(key["material"]),
                price_per_g=maybe(MASS), tare_g=maybe(POSITIVE), strength=SHARE, carrier=maybe(key["material"]), lot=TEXT,
                supplier=TEXT, supplier_no=TEXT, received_on=maybe(DAY), opened_on=maybe(DAY), container=TEXT, liner=TEXT,
                dropper_on=maybe(DAY), retest_on=maybe(DAY), place=TEXT, remark=TEXT, gone_on=maybe(DAY),
                tare_inferred=FLAG, volume_ml=maybe(POSITIVE), ready_on=maybe(DAY),
            ),
            Contents: st.builds(
                lambda share, **rest: Contents(
                    shares={} if share is None else {self.material.key: share, self.carrier.key: 1 - share}, **rest
                ),
                share=maybe(st.floats(1e-6, 0.999)), bottle=key["bottle"], at=INSTANT, reason=st.sampled_from(CONTENTS_REASONS),
            ),
            Project: st.builds(
                Project, code=self.codes, name=TEXT, brief=TEXT, benchmark=maybe(key["bottle"]), price_ceiling=maybe(MASS),
                strength=maybe(SHARE), carrier=maybe(key["material"]), amount_g=POSITIVE, reading_times=TIMES,
                started_on=maybe(DAY), retired_on=maybe(DAY),
            ),
            Version: st.builds(
                Version, project=key["project"], code=self.codes, lines=st.lists(self.line(), max_size=4).map(tuple),
                parent=maybe(key["version"]), reason=TEXT, takes_from=maybe(key["version"]), name=TEXT, total=POSITIVE,
                made_at=INSTANT, starred=FLAG, retired_on=maybe(DAY),
            ),
            Balance: st.builds(
                Balance, name=NAME, d_g=POSITIVE, s_g=maybe(MASS), max_g=maybe(MASS), accuracy_g=maybe(MASS),
                retired_on=maybe(DAY),
            ),
            Making: st.builds(
                Making, kind=st.sampled_from(MAKING_KINDS), into_bottle=key["bottle"], started_at=INSTANT,
                code=maybe(self.codes), mode=st.sampled_from(WEIGHING_MODES), target_g=maybe(MASS),
                finished_at=maybe(INSTANT), remark=TEXT, plan=st.lists(self.planned(), max_size=3).map(tuple),
            ),
            Move: st.builds(
                Move, at=INSTANT, kind=st.sampled_from(MOVE_KINDS), mass_g=MASS, estimated=FLAG, from_bottle=key["bottle"],
                to_bottle=key["bottle"], target_g=maybe(MASS), read_g=maybe(FIGURE), u_g=maybe(MASS),
                line=maybe(st.just(self.version.lines[0].key)), remark=NAME,
            ),
            Sitting: st.builds(
                Sitting, at=INSTANT, code=TEXT, purpose=TEXT, temp_c=maybe(FIGURE), rh_percent=maybe(FIGURE), cold=FLAG,
                scented=FLAG, tired=FLAG, benchmark=maybe(key["bottle"]), blind=FLAG, revealed_at=maybe(INSTANT),
                clock_at=maybe(INSTANT), shuffled=FLAG,
            ),
            Strip: st.builds(
                Strip, code=self.codes, bottle=key["bottle"], dipped_at=INSTANT, kind=st.sampled_from(STRIP_KINDS),
                sitting=maybe(st.just(self.sitting.key)), strength=maybe(SHARE), carrier=maybe(key["material"]), wearer=TEXT,
                site=TEXT, amount_g=maybe(MASS), blind_code=TEXT, reading_times=TIMES.filter(bool), closed_at=maybe(INSTANT),
            ),
            Reading: st.builds(
                Reading, strip=key["strip"], at=INSTANT, due_s=maybe(MASS), note=TEXT, entered_at=INSTANT, withdrawn=FLAG,
                intensity=maybe(st.integers(0, 12).map(lambda half: half / 2)), distance_cm=maybe(MASS),
                liking=maybe(st.integers(-4, 4)), words=st.dictionaries(TEXT, st.integers(1, 3), max_size=3),
            ),
            BlindTest: st.builds(
                BlindTest, code=self.codes, method=st.sampled_from(TEST_METHODS), samples=st.just((self.bottle.key,)),
                sets=st.lists(st.sampled_from(["417:A 862:B", "R:A 295:B 738:A"]), max_size=3).map(tuple), at=INSTANT,
                question=TEXT, alpha=st.floats(1e-6, 0.4), project=maybe(key["project"]),
                sitting=maybe(st.just(self.sitting.key)), shuffled=FLAG, revealed_at=INSTANT, remark=TEXT,
            ),
            Answer: st.builds(
                Answer, test=st.just(self.test.key), place=st.integers(0, 9), at=INSTANT, chosen=TEXT, right=maybe(FLAG),
                note=TEXT,
            ),
            Word: st.builds(Word, text=self.codes, group=TEXT, same_as=maybe(st.just(self.word.key))),
            # a name has one figure, so a second one is another figure of the same habit
            Habit: st.builds(self.habit, name=st.sampled_from(tuple(HABITS)), value=st.floats(1e-6, 1)),
            BenchCheck: st.builds(
                BenchCheck, balance=st.just(self.balance.key), at=INSTANT, weight_g=POSITIVE,
                readings=st.lists(FIGURE, min_size=1, max_size=10).map(tuple), level_ok=maybe(FLAG),
                warm_up_min=maybe(MASS), remark=TEXT,
            ),
            Note: one_of.flatmap(
                lambda about: st.builds(Note, text=TEXT, at=INSTANT, stage=TEXT, **{about: key[about]})
            ),
            Decision: st.builds(
                Decision, project=key["project"], made_on=DAY, chosen=st.lists(st.integers(1, 99), max_size=3).map(tuple),
                reason=TEXT, rejected=st.dictionaries(st.integers(1, 99), TEXT, max_size=3), code=TEXT,
                evidence=st.lists(st.integers(1, 99), max_size=3).map(tuple),
                costs=st.dictionaries(st.integers(1, 99), FIGURE, max_size=3),
            ),
            Limit: st.builds(
                Limit, name=self.codes, share_max=st.floats(1e-6, 1), category=TEXT, cas=st.sampled_from(["", "78-70-6"]),
                material=maybe(key["material"]), budget=TEXT, source=TEXT, dated_on=maybe(DAY), remark=TEXT,
                retired_on=maybe(DAY),
            ),
            Constituent: st.lists(st.floats(0, 1), min_size=3, max_size=3).map(sorted).flatmap(
                lambda shares: st.builds(
                    Constituent, whole=key["material"], name=self.codes, low=maybe(st.just(shares[0])),
                    typical=maybe(st.just(shares[1])), high=maybe(st.just(shares[2])), source=TEXT, applies=FLAG, remark=TEXT,
                    retired_on=maybe(DAY),
                )
            ),
        }[kind]  # fmt: skip


@pytest.fixture(scope="module")
def stand(tmp_path_factory):
    made = Stand(tmp_path_factory.mktemp("values") / "values.stillroom")
    yield made
    made.book.close()


def unkeyed(value):
    named = {field.name: getattr(value, field.name) for field in fields(value) if field.name != "key"}
    if isinstance(value, Version):
        named["lines"] = tuple(tuple(unkeyed(line).items()) for line in value.lines)
    return named


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@given(data=st.data())
def test_a_value_of_any_kind_reads_back_equal(stand, kind, data):
    value = data.draw(stand.values(kind))
    (put,) = stand.book.put(value)
    assert unkeyed(put) == unkeyed(value)
    read = stand.book.get(kind, put.key)
    assert read == put
    for field in fields(put):
        before, after = getattr(put, field.name), getattr(read, field.name)
        if isinstance(before, datetime):
            assert before.utcoffset() == after.utcoffset()


def test_all_that_was_put_survives_a_copy_and_an_export(stand, tmp_path):
    book = stand.book
    book.correct(stand.note.key, text="replaced")
    book.start_trial(stand.version.key, 1.0)
    assert book.check() == ()
    book.backup(tmp_path / "copy.stillroom")
    book.export(tmp_path / "exported")
    held = {kind: list(book._store.select(KINDS[kind])) for kind in KINDS}
    assert all(held.values())
    with Book.look(tmp_path / "copy.stillroom") as copy:
        assert {kind: list(copy._store.select(KINDS[kind])) for kind in KINDS} == held
    with Book.read_export(tmp_path / "exported", tmp_path / "read.stillroom") as read:
        assert {kind: list(read._store.select(KINDS[kind])) for kind in KINDS} == held
        assert read.check() == () and (read.uid, read.name) == (book.uid, "Values")
        assert read.new_key() == book.new_key()
        # what may be found is the same, and what is frozen stays so
        assert [v.key for v in read.search("replaced")] == [v.key for v in book.search("replaced")]
        assert read.get(Version, stand.version.key).is_frozen


def test_every_field_of_every_kind_has_its_columns():
    for kind in KINDS.values():
        columns = [name for field in kind.fields for name in field.columns]
        assert sorted(columns) == sorted(set(kind.table.c.keys()) - {"key"}), kind.value


def test_what_was_made_ready_is_written_as_it_is_put(book: Book) -> None:
    names = ("Neroli oil", "Rue oil", "Elemi oil")
    first, second, third = (Material(name, words=("peel",), key=book.new_key()) for name in names)
    for value in (first, second, third):
        book.make_ready(value)
    changed = replace(second, name="Tagetes oil", words=())
    with pytest.raises(Refused):
        book.put(first, replace(first, cas="1-2-3"), what="no such number")
    book.put(first, changed)
    assert [book.get(Material, value.key) for value in (first, changed)] == [first, changed]
    book.undo()
    book.put(replace(first, cas="8016-38-4"), third)
    assert book.get(Material, first.key).cas == "8016-38-4" and book.get(Material, third.key) == third
    assert book.check() == ()
