# SPDX-License-Identifier: MIT
"""The door: what is put in comes out equal, all or nothing; questions a screen asks are answered."""

from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from db import Book, Change, DamagedBook, Refused, queries, search
from db import steps as ladder
from db.kinds import KINDS
from perfumery import (
    Balance,
    Bottle,
    Contents,
    Decision,
    Limit,
    Line,
    Making,
    Material,
    Move,
    Note,
    Project,
    Reading,
    Sitting,
    Strip,
    Version,
    Word,
)


def codes(refused):
    return [finding.code for finding in refused.value.findings]


def strip_of(book, bottle, code="P01"):
    return book.put(Strip(code, bottle.key, book.now()))[0]


# put ------------------------------------------------------------------------------------------------------------------


def test_a_value_is_keyed_completed_and_read_back_equal(bench, clock):
    book = bench.book
    (note,) = book.put(Note("sharp", material=bench.lemon.key))
    assert note.key is not None and note.at == clock()
    assert book.get(Note, note.key) == note
    assert book.get(Material, "Lemon oil") == bench.lemon == book.get(Material, bench.lemon.key)
    assert book.get(Version, "SR-1") == bench.version and bench.version.made_at == clock()
    assert all(line.key is not None for line in bench.version.lines)
    assert book.get(Material, 99) is None and book.get(Material, "nothing") is None
    assert book.get(Note, "a note has no code") is None


def test_keys_come_from_one_counter_and_are_never_given_twice(bench, path, clock):
    book = bench.book
    keys = [v.key for v in (bench.project, bench.lemon, bench.ambroxide, bench.ethanol, bench.accord, bench.version)]
    keys += [line.key for v in (bench.accord, bench.version) for line in v.lines]
    assert len(keys) == len(set(keys))
    gone = book.put(Material("Gone"))[0].key
    book.undo()
    given = book.new_key()
    assert given > gone
    book.put(Material("Kept", key=given))
    book.close()
    with Book.open(path, clock) as again:
        assert again.put(Material("Next"))[0].key == given + 1


def test_a_put_is_all_or_nothing(bench):
    book, told = bench.book, []
    book.on_change(told.append)
    with pytest.raises(Refused) as refused:
        book.put(Material("New"), Bottle("B-1", material=4711))
    assert codes(refused) == ["reference-missing"]
    with pytest.raises(Refused):
        book.put(Material("New"), Bottle("B-1"), Bottle("B-1"))
    assert book.get(Material, "New") is None and not list(book.all(Bottle))
    assert told == [] and book.can_undo == "edit"


def test_a_change_tells_what_was_and_what_is(bench):
    told = []
    bench.book.on_change(told.append)
    (renamed,) = bench.book.put(replace(bench.lemon, bench_name="Lemon"), what="lemon named")
    assert [(c.what, c.pairs) for c in told] == [("lemon named", ((bench.lemon, renamed),))]
    assert told[0].touches(Material) and not told[0].touches(Version, Bottle)
    assert bench.book.put(renamed, what="nothing new") == (renamed,)
    assert len(told) == 1


def test_a_value_twice_in_one_put_goes_on_from_itself(bench):
    book = bench.book
    book.put(replace(bench.lemon, cas=""), replace(bench.lemon, bench_name="L"))
    assert book.get(Material, bench.lemon.key) == replace(bench.lemon, bench_name="L")
    key = book.new_key()
    book.put(Material("One", key=key), Material("Two", key=key))
    assert book.get(Material, key).name == "Two"
    book.undo()
    assert book.get(Material, key) is None


@pytest.mark.parametrize("code", ["B-1", "SR", "SR-1", "P01", "S-free"])
def test_a_code_stands_once(bench, vial, code, clock):
    book, project = bench.book, bench.project.key
    made = {
        "B-1": lambda: Bottle("B-1"),
        "SR": lambda: Project("SR"),
        "SR-1": lambda: Version(project, "SR-1"),
        "P01": lambda: Strip("P01", vial.key, clock()),
        "S-free": lambda: Word("S-free"),
    }[code]
    if code in ("B-1", "P01", "S-free"):
        book.put(made())
    with pytest.raises(Refused) as refused:
        book.put(made())
    assert codes(refused) == ["code-taken"]
    assert refused.value.findings[0].data == {"code": code}


def test_a_code_may_stand_in_two_projects(bench):
    (other,) = bench.book.put(Project("X"))
    (twin,) = bench.book.put(Version(other.key, "SR-1"))
    assert bench.book.get(Version, "SR-1") == bench.version
    assert list(bench.book.all(Version, code="SR-1")) == [bench.version, twin]


def test_naive_times_are_refused_wherever_they_come_in(bench, vial, clock):
    naive = datetime(2025, 4, 10, 12)
    for make in (
        lambda: Note("x", at=naive, project=1),
        lambda: Strip("P01", vial.key, naive),
        lambda: Version(1, "X", made_at="2025-04-10T12:00:00"),
        lambda: list(bench.book.all(Strip, dipped_at=naive)),
    ):
        with pytest.raises(Refused) as refused:
            make()
        assert codes(refused) == ["time-naive"]
    strip = strip_of(bench.book, vial)
    assert list(bench.book.all(Strip, dipped_at=clock().isoformat())) == [strip]
    assert list(bench.book.all(Strip, dipped_at=clock().astimezone(UTC))) == [strip]


def test_figures_that_are_none_are_refused(bench):
    for figure in (float("nan"), float("inf")):
        with pytest.raises(Refused) as refused:
            bench.book.put(Bottle("B-1", price_per_g=figure))
        assert codes(refused) == ["number-unreadable"]
    assert bench.book.get(Bottle, "B-1") is None


def test_what_a_table_forbids_is_refused_with_its_word(bench):
    with pytest.raises(Refused) as refused:
        bench.book.put(Material("Odd", retest_months=1.5))
    assert codes(refused) == ["kind-unknown"]


def test_a_cas_number_is_tidied_and_checked(bench):
    book = bench.book
    (made,) = book.put(Material("Right", cas=" 4707–47‑5 "))
    assert made.cas == "4707-47-5"
    with pytest.raises(Refused) as refused:
        book.put(Material("Wrong", cas="4707-47-0"))
    assert codes(refused) == ["cas-check-digit"] and refused.value.findings[0].data["digit"] == 5
    with pytest.raises(Refused) as refused:
        book.put(replace(made, cas="lemon"))
    assert codes(refused) == ["cas-shape"]
    # what stands already is nobody's fault now
    book._file.raw.execute("UPDATE material SET cas = '1-1-1' WHERE key = ?", (made.key,))
    book.put(replace(made, cas="1-1-1", name="Still right"))


def test_keys_that_the_counter_has_not_given_are_refused(bench):
    book = bench.book
    for value in (
        Material("X", key=10_000),
        Material("X", key=0),
        replace(bench.version, lines=(Line(1, bench.lemon.key, key=10_000),)),
        Note("X", project=bench.project.key, replaces=10_000),
    ):
        with pytest.raises(Refused) as refused:
            book.put(value)
        assert codes(refused) == ["reference-missing"]
    key = book.new_key()
    with pytest.raises(Refused):
        book.put(Note("replaces itself", project=bench.project.key, key=key, replaces=key))


def test_lines_taken_over_or_standing_twice_become_lines_of_their_own(bench):
    book, version = bench.book, bench.version
    (child,) = book.put(replace(version, key=None, code="SR-2", parent=version.key, lines=(*version.lines, version.lines[0])))
    keys = [line.key for line in child.lines]
    assert len(set(keys)) == 3 and not {line.key for line in version.lines} & set(keys)
    assert book.get(Version, child.key) == child and book.get(Version, version.key) == version
    (grown,) = book.put(replace(child, lines=(child.lines[1], child.lines[0], child.lines[0], *bench.accord.lines)))
    assert book.get(Version, child.key) == grown
    assert [line.parts for line in grown.lines] == [40, 110, 110, 30, 10]
    assert book.get(Version, bench.accord.key) == bench.accord


def test_lines_change_place_and_go(bench):
    book, (first, second) = bench.book, bench.version.lines
    (turned,) = book.put(replace(bench.version, lines=(second, replace(first, parts=120))))
    assert book.get(Version, bench.version.key) == turned
    (bare,) = book.put(replace(turned, lines=()))
    assert book.get(Version, bench.version.key) == bare
    assert book.undo() and book.undo()
    assert book.get(Version, bench.version.key) == bench.version


@pytest.mark.parametrize("steps", [1, 2, 3])
def test_a_loop_of_accords_is_refused_by_name(bench, steps):
    book, chain = bench.book, [bench.accord]
    for number in range(2, steps + 1):
        inside = Line(1, accord=chain[-1].key)
        chain += book.put(Version(bench.project.key, f"A-{number}", (inside,)))
    with pytest.raises(Refused) as refused:
        book.put(replace(bench.accord, lines=(*bench.accord.lines, Line(1, accord=chain[-1].key))))
    assert codes(refused) == ["accord-loop"]
    names = refused.value.findings[0].data["names"]
    assert names == ("A-1", *(v.code for v in reversed(chain[1:])), "A-1")


def test_a_loop_within_one_put_is_refused(bench):
    one, two = bench.book.new_key(), bench.book.new_key()
    with pytest.raises(Refused) as refused:
        bench.book.put(
            Version(bench.project.key, "L-1", (Line(1, accord=two),), key=one),
            Version(bench.project.key, "L-2", (Line(1, accord=one),), key=two),
        )
    assert codes(refused) == ["accord-loop"]
    with pytest.raises(Refused) as refused:
        bench.book.put(Version(bench.project.key, "L-1", (Line(1, accord=two),)))
    assert codes(refused) == ["reference-missing"]


def test_each_field_reads_what_it_wrote(bench, vial):
    for value in (bench.lemon, bench.project, bench.book.get(Version, "SR-1"), vial, next(bench.book.all(Making))):
        for field in KINDS[type(value)].fields:
            assert field.read(*field.write(getattr(value, field.name))) == getattr(value, field.name), field.name


def test_values_are_asked_for_by_their_fields(bench, vial, clock):
    book = bench.book
    (child,) = book.put(replace(book.draft_of(bench.version.key), starred=True))
    bought = book.put(Bottle("M-1", material=bench.lemon.key), Bottle("M-2", material=bench.ambroxide.key))
    assert list(book.all(Bottle)) == [vial, *bought]
    assert list(book.all(Bottle, material=None)) == [vial]
    assert list(book.all(Bottle, material=None, code="M-1")) == []
    assert list(book.all(Bottle, material=bench.lemon.key, version=None)) == [bought[0]]
    assert list(book.all(Version, parent=bench.version.key)) == [child] == list(book.all(Version, starred=True))
    assert [v.code for v in book.all(Version, parent=None)] == ["A-1", "SR-1"]
    assert list(book.all(Version, frozen_at=None)) == [child]
    assert list(book.all(Material, words=("lemon peel",))) == [bench.lemon]
    assert list(book.all(Material, key=bench.lemon.key)) == [bench.lemon]
    with pytest.raises(KeyError):
        book.all(Material, colour="green")


def test_what_was_is_told_of_a_value_that_stands_twice(bench, clock):
    """And was frozen by the same put."""
    book, key, told = bench.book, bench.book.new_key(), []
    (vial,) = book.put(Bottle("V"))
    book.on_change(told.append)
    first = Version(bench.project.key, "SR-9", (Line(1, bench.lemon.key),), key=key)
    _, made, _ = book.put(first, replace(first, name="Second"), Making("trial", vial.key, clock(), version=key))
    assert made.frozen_at == clock() and book.get(Version, key) == made
    assert [pair for pair in told[0].pairs if isinstance(pair[1], Version)] == [(None, made)]


# records --------------------------------------------------------------------------------------------------------------


def test_a_correction_replaces_and_the_earlier_wordings_stand(bench, clock):
    book = bench.book
    (first,) = book.put(Note("flat", material=bench.lemon.key, stage="fresh"))
    clock.tick(hours=1)
    second = book.correct(first.key, text="sharp")
    clock.tick(hours=1)
    third = book.correct(second.key, text="very sharp", what="mended")
    assert (second.replaces, third.replaces) == (first.key, second.key)
    assert third.at == clock() and third.stage == "fresh"
    assert list(book.all(Note)) == [third]
    assert book.history(third.key) == (second, first) and book.history(first.key) == ()
    assert [n.text for n in book.history(third.key)] == ["sharp", "flat"]
    for key in (first.key, second.key):
        with pytest.raises(Refused) as refused:
            book.correct(key, text="again")
        assert codes(refused) == ["record"]
    with pytest.raises(Refused) as refused:
        book.put(replace(third, key=None, replaces=first.key))
    assert codes(refused) == ["record"]
    assert book.history(4711) == ()


def test_only_records_are_corrected(bench, vial):
    with pytest.raises(Refused) as refused:
        bench.book.correct(bench.lemon.key, name="Lime")
    assert codes(refused) == ["not-correctable"]
    with pytest.raises(Refused) as refused:
        bench.book.correct(4711, name="Lime")
    assert codes(refused) == ["reference-missing"]


def test_a_record_is_not_changed_by_put(bench, vial, clock):
    book, strip = bench.book, strip_of(bench.book, vial)
    (reading,) = book.put(Reading(strip.key, clock(), intensity=3))
    for changed in (replace(reading, intensity=4), replace(strip, code="P02"), replace(strip, dipped_at=clock.tick(hours=1))):
        with pytest.raises(Refused) as refused:
            book.put(changed)
        assert codes(refused) == ["record"]
    (closed,) = book.put(replace(strip, closed_at=clock()))
    assert book.get(Strip, strip.key) == closed
    making = next(book.all(Making))
    assert book.put(replace(making, remark="spilled a little"))[0].remark == "spilled a little"
    (sitting,) = book.put(Sitting(clock(), "S1"))
    assert book.put(replace(sitting, tired=True)) != (sitting,)


UNSETTLED = {
    Making: {"kind": "dilution", "code": "T-9", "target_g": 9.0, "version": None},
    Sitting: {"code": "S9"},
    Strip: {"code": "P09", "strength": 0.5, "amount_g": 1.0, "blind_code": "9", "site": "arm", "reading_times": (60.0,)},
    Move: {"mass_g": 9.0, "remark": "x", "kind": "lost"},
    Note: {"text": "x", "stage": "1 h"},
    Contents: {"reason": "drift"},
    Decision: {"reason": "x", "code": "DE-9"},
}


@pytest.mark.parametrize("kind, field", [(kind, name) for kind, fields in UNSETTLED.items() for name in fields])
def test_what_is_logged_keeps_every_field_that_is_not_settled_later(bench, vial, clock, kind, field):
    book = bench.book
    made = {
        Sitting: Sitting(clock(), "S1"),
        Strip: Strip("P01", vial.key, clock()),
        Move: Move(clock(), "received", 1.0, to_bottle=vial.key),
        Note: Note("flat", material=bench.lemon.key),
        Decision: Decision(bench.project.key, "2025-04-10", code="DE-1"),
    }
    before = book.can_undo
    value = book.put(made[kind])[0] if kind in made else next(book.all(kind))
    with pytest.raises(Refused) as refused:
        book.put(replace(value, **{field: UNSETTLED[kind][field]}))
    assert codes(refused) == ["record"]
    assert book.get(kind, value.key) == value and book.can_undo == before


def test_what_is_settled_later_is_no_step_of_undo(bench, vial, clock):
    book, before = bench.book, bench.book.can_undo
    strip, (sitting,), making = strip_of(book, vial), book.put(Sitting(clock(), "S1")), next(book.all(Making))
    at = clock.tick(hours=1)
    for settled in (
        replace(making, finished_at=at, remark="x"),
        replace(strip, closed_at=at),
        replace(sitting, benchmark=vial.key),
        replace(sitting, purpose="x", temp_c=21.0, rh_percent=40.0, cold=True, scented=True, tired=True, revealed_at=at),
    ):
        assert book.put(settled, what="settled") == (settled,)
        assert book.get(type(settled), settled.key) == settled and book.can_undo == before


def test_a_withdrawn_move_is_in_force_no_more(bench, vial, clock):
    book = bench.book
    wrong, right = book.put(*(Move(clock(), "received", mass, to_bottle=vial.key) for mass in (1.0, 2.0)))
    gone = book.correct(wrong.key, kind="withdrawn")
    assert list(book.all(Move)) == [right] and book.history(gone.key) == (wrong,)
    assert book.get(Move, wrong.key) == wrong and book.get(Move, gone.key) == gone


def test_readings_corrected_and_withdrawn_leave_the_curve(bench, vial, clock):
    book, strip = bench.book, strip_of(bench.book, vial)
    clock.tick(minutes=2)
    first, second = book.put(*(Reading(strip.key, clock(), intensity=value) for value in (3, 4)))
    clock.tick(minutes=2)
    mended = book.correct(first.key, intensity=3.5)
    assert mended.at == first.at and mended.entered_at == clock()
    gone = book.correct(second.key, withdrawn=True)
    assert list(book.all(Reading)) == [mended] == list(book.readings((strip.key,))[strip.key])
    assert book.history(gone.key) == (second,)
    assert book.readings(()) == {} and book.readings((99,)) == {99: ()}


def test_contents_are_corrected_by_a_new_state(bench, vial, clock):
    book = bench.book
    held = next(book.all(Contents, bottle=vial.key))
    clock.tick(hours=2)
    state = book.correct(held.key, shares={bench.lemon.key: 1.0})
    assert (state.reason, state.at, state.shares) == ("correction", clock(), {bench.lemon.key: 1.0})
    assert list(book.all(Contents, bottle=vial.key)) == [held, state]


def test_a_corrected_decision_is_found_by_its_code(bench):
    (first,) = bench.book.put(Decision(bench.project.key, "2025-04-10", (bench.version.key,), "clear", code="DE-1"))
    second = bench.book.correct(first.key, reason="clearer")
    assert bench.book.get(Decision, "DE-1") == second
    assert list(bench.book.all(Decision, made_on=date(2025, 4, 10))) == list(bench.book.all(Decision, made_on="2025-04-10"))


def test_a_reading_before_the_dip_is_refused(bench, vial, clock):
    strip = strip_of(bench.book, vial)
    early = clock() - timedelta(seconds=1)
    with pytest.raises(Refused) as refused:
        bench.book.put(Reading(strip.key, early, intensity=1))
    assert codes(refused) == ["read-before-dip"] and refused.value.findings[0].data["strip"] == "P01"
    key = bench.book.new_key()
    with pytest.raises(Refused) as refused:
        bench.book.put(Strip("P02", vial.key, clock(), key=key), Reading(key, early))
    assert codes(refused) == ["read-before-dip"]
    with pytest.raises(Refused) as refused:
        bench.book.put(Reading(4711, clock()))
    assert codes(refused) == ["reference-missing"]


# retiring, codes, making ----------------------------------------------------------------------------------------------


def test_what_is_retired_stays_in_the_book(bench, vial, clock):
    book = bench.book
    assert book.retire(bench.lemon.key).retired_on == clock().date()
    assert book.retire(vial.key).gone_on == clock().date()
    assert book.get(Bottle, vial.key).gone_on == clock().date()
    assert [row.name for row in book.material_rows() if row.retired] == ["Lemon oil"]
    assert [row.name for row in book.find_materials("lemon")] == ["Lemon oil"]
    book.put(Material("Lemon oil, cold pressed"))
    assert [row.name for row in book.find_materials("lemon")] == ["Lemon oil, cold pressed"]
    for key in (4711, book.put(Word("sea"))[0].key):
        with pytest.raises(Refused):
            book.retire(key)


def test_rows_of_materials_stay_true_through_whatever_is_done(bench, path, clock):
    book = bench.book
    book.put(Word("pine", group="forest"), Word("fir", group="forest"))

    def rows():
        return {row.key: row for row in book.material_rows()}

    before = rows()
    added = book.put(*(Material(f"Stuff {at:04d}", words=("pine",)) for at in range(1000)), what="import")
    book.put(replace(bench.lemon, bench_name="Zest"), replace(added[0], cas="5392-40-5"), what="two of them")
    assert [row.short for row in book.material_rows()][-1] == "Zest", "by the name shown"
    assert rows()[added[0].key].cas == "5392-40-5"
    assert "forest" in rows()[added[1].key].hay
    assert rows()[bench.ethanol.key] is before[bench.ethanol.key], "what did not change stays"
    shown = book.material_rows()
    book.put(Word("larch", group="forest"))
    assert book.material_rows() == shown, "as they are read anew"
    book.undo()
    book.undo()
    book.undo()
    assert rows() == before
    book.redo()
    assert len(rows()) == len(before) + 1000
    copy = path.with_name("copy.stillroom")
    book.backup(copy)
    with Book.look(copy, clock) as anew:
        assert anew.material_rows() == book.material_rows()


def test_the_names_of_versions_are_told_without_their_lines(bench):
    book, version = bench.book, bench.version
    own = (version.key, bench.project.key, False, version.name, version.code)
    assert own in book.version_names()
    book.retire(version.key)
    assert (*own[:2], True, *own[3:]) in book.version_names()


def test_the_next_code_is_one_more_than_the_highest(bench, vial):
    book = bench.book
    assert book.next_code(Version, "SR-", project=bench.project.key) == "SR-2"
    assert book.next_code(Version, "SR-", project=4711) == "SR-1"
    assert (book.next_code(Strip, "P"), book.next_code(Making, "T-")) == ("P01", "T-002")
    assert book.next_code(Bottle, "V") == "V002"
    book.put(Bottle("K09"), Bottle("K9"), Bottle("k50"), Bottle("K%_"), Bottle("K100-12"))
    assert book.next_code(Bottle, "K") == "K101"
    assert book.next_code(Bottle, "K%") == "K%1"
    book.put(Bottle("K[*007-12"), Bottle("k999"), Bottle("K5x"), Bottle("K[*6"))
    assert (book.next_code(Bottle, "K[*"), book.next_code(Bottle, "K")) == ("K[*008", "K101")
    book.put(Bottle("Q-007"), Bottle("Q-10"), Bottle("Q-0012-3"), Bottle("U-007"), Bottle("U-10"), Bottle(f"R{'9' * 20}"))
    assert (book.next_code(Bottle, "Q-"), book.next_code(Bottle, "U-"), book.next_code(Bottle, "R")) == ("Q-0013", "U-011", "R1")


def test_a_trial_holds_what_was_intended(bench, clock):
    book = bench.book
    making, vial = book.start_trial(bench.version.key, 5.0)
    assert (making.code, vial.code, vial.label) == ("T-001", "V001", "SR-1 T-001")
    assert (making.mode, making.target_g, making.finished_at) == ("not weighed", 5.0, clock())
    shares = next(book.all(Contents, bottle=vial.key)).shares
    assert shares == pytest.approx({bench.lemon.key: 140 / 150, bench.ambroxide.key: 1 / 150, bench.ethanol.key: 9 / 150})
    clock.tick(days=2)
    dilution = book.smelling_dilution(vial.key, 0.12, bench.ethanol.key)
    assert (dilution.code, dilution.strength, dilution.carrier) == ("V001-12", 0.12, bench.ethanol.key)
    thinned = next(book.all(Contents, bottle=dilution.key)).shares
    assert thinned[bench.ethanol.key] == pytest.approx(0.88 + 0.12 * 0.06)
    assert book.smelling_dilution(vial.key, 0.12, bench.ethanol.key).code == "V001-12-1"
    origin = book.origin(dilution.key)
    assert (origin.bottle, origin.version.code, origin.making) == (dilution, "SR-1", making)
    assert (origin.concentrate_at, origin.alcohol_at) == (making.finished_at, clock())
    assert book.origin(vial.key).making == making and book.origin(vial.key).alcohol_at is None


def test_origins_of_many_are_those_of_each(bench, vial, clock):
    book = bench.book
    (bought,) = book.put(Bottle("M-1", material=bench.lemon.key))
    thinned = book.smelling_dilution(vial.key, 0.12, bench.ethanol.key)
    keys = (vial.key, bought.key, thinned.key, 4711)
    assert book.origins(keys) == {key: book.origin(key) for key in keys}
    assert book.many(Bottle, keys) == {key: book.get(Bottle, key) for key in keys[:3]}


def test_what_can_be_made_up_comes_with_the_accords_first(bench, vial, monkeypatch):
    book = bench.book
    bottled, plain, empty, gone = book.put(
        *(Version(bench.project.key, f"X-{n}", (Line(1, bench.lemon.key),) if n != 2 else ()) for n in range(4))
    )
    book.put(Bottle("A-9", "accord", version=bottled.key))
    book.retire(gone.key)
    offered = [head.key for head in book.to_make_up()]
    assert offered[:3] == [bench.accord.key, bottled.key, plain.key]
    assert empty.key not in offered and gone.key not in offered and bench.version.key in offered
    monkeypatch.setattr(queries, "MOST_OFFERED", 1)
    assert [head.key for head in book.to_make_up()] == [bench.accord.key, bottled.key, plain.key]
    made = next(book.all(Making, kind="trial"))
    assert book.makings_of((bench.version.key, 4711)) == {bench.version.key: (made,)}
    assert vial in book.bottles_of((bench.version.key,))[bench.version.key]


def test_what_is_sought_in_pieces_is_found_as_at_once(searched, monkeypatch):
    texts = ("wet", "SR", "K-", "nothing such", "l%7", "p01")
    whole = [searched.search(text) for text in texts]
    monkeypatch.setattr(search, "_BLOCK", 1)
    assert [searched.search(text) for text in texts] == whole and searched.search("k-", 2) == searched.search("k-")[:2]
    assert len(list(searched.searching("nothing such"))) > len(list(searched.searching("wet stone", 1))) + 5


def test_some_kinds_are_sought_alone(bench):
    book, before = bench.book, bench.book.changes
    book.put(Material("Lemon leaf"))
    assert book.changes == before + 1
    every = book.search("lemon")
    assert any(isinstance(one, Material) for one in every)
    *_, materials = book.searching("lemon", kinds=(Material,))
    *_, others = book.searching("lemon", kinds=(Version, Project))
    assert materials == tuple(one for one in every if isinstance(one, Material))
    assert others == tuple(one for one in every if isinstance(one, Version | Project))


def test_readings_are_kept_until_one_of_them_changes(bench, vial, clock, monkeypatch):
    book = bench.book
    strips = book.put(*(Strip(f"P{n}", vial.key, clock()) for n in range(3)))
    keys = tuple(strip.key for strip in strips)
    (reading,) = book.put(Reading(keys[0], clock.tick(minutes=2), intensity=3))
    assert book.readings(keys) == {keys[0]: (reading,), keys[1]: (), keys[2]: ()} == book.readings(keys)
    (other,) = book.put(Reading(keys[1], clock(), intensity=2))
    right = book.correct(reading.key, intensity=4)
    assert book.readings(keys) == {keys[0]: (right,), keys[1]: (other,), keys[2]: ()}
    monkeypatch.setattr(queries, "MOST_KEPT", 0)
    assert book.readings(keys[1:]) == {keys[1]: (other,), keys[2]: ()}


def test_a_weighed_dilution_comes_from_the_trial_whatever_was_poured_first(bench, vial, clock):
    book, trial = bench.book, next(bench.book.all(Making, kind="trial"))
    thinner, into = book.put(Bottle("S-1", material=bench.ethanol.key), Bottle("V-12", "smelling", version=bench.version.key))
    at, done = clock.tick(days=3), clock.tick(minutes=5)
    (thinned,) = book.put(Making("smelling", into.key, at, version=bench.version.key, mode="tare each", finished_at=done))
    for source, mass in ((thinner, 0.88), (vial, 0.12)):
        book.put(Move(at, "pour", mass, source.key, into.key, making=thinned.key))
    origin = book.origin(into.key)
    assert (origin.making, origin.concentrate_at, origin.alcohol_at) == (trial, trial.finished_at, done)


def test_a_bottle_filled_anew_is_as_old_as_its_last_making(bench, clock):
    book = bench.book
    (accord,) = book.put(Bottle("A-1", "accord", version=bench.accord.key))
    for _ in range(2):
        clock.tick(days=1)
        (made,) = book.put(Making("accord", accord.key, clock(), version=bench.accord.key, finished_at=clock()))
        assert (book.origin(accord.key).making, book.origin(accord.key).concentrate_at) == (made, clock())


def test_contents_hold_from_their_instant_on(bench, clock):
    book, lemon, ethanol = bench.book, bench.lemon.key, bench.ethanol.key
    (bottle,) = book.put(Bottle("M-1", material=lemon))
    first, second = clock(), clock.tick(days=1)
    # the earlier state is written down last
    book.put(Contents(bottle.key, second, {lemon: 0.5, ethanol: 0.5}), Contents(bottle.key, first, {lemon: 1.0}))
    assert book.contents(bottle.key, first) == {lemon: 1.0} == book.contents(bottle.key, second - timedelta(seconds=1))
    assert book.contents(bottle.key, second) == {lemon: 0.5, ethanol: 0.5} == book.contents(bottle.key)
    assert book.contents(bottle.key, first - timedelta(seconds=1)) == {}


def test_a_top_up_makes_nothing_younger(bench, vial, clock):
    book, before = bench.book, bench.book.origin(vial.key)
    clock.tick(days=30)
    book.put(Making("top-up", vial.key, clock(), finished_at=clock()))
    assert book.origin(vial.key) == before


def test_where_nothing_is_known_of_a_bottle_nothing_is_said(bench, clock):
    book = bench.book
    bought, dilution, odd = book.put(Bottle("M-1", material=bench.lemon.key), Bottle("K-1"), Bottle("K-2"))
    assert book.origin(4711).bottle is None
    assert book.origin(bought.key).making is None and book.origin(bought.key).concentrate_at is None
    (made,) = book.put(Making("smelling", odd.key, clock()))
    assert book.origin(odd.key).making == made and book.origin(odd.key).concentrate_at is None
    assert book.origin(odd.key).alcohol_at == made.started_at
    with pytest.raises(Refused) as refused:
        book.smelling_dilution(dilution.key, 0.1, bench.ethanol.key)
    assert codes(refused) == ["contents-unknown"]


def test_a_trial_that_cannot_be_is_refused(bench, vial):
    book = bench.book
    (child,) = book.put(book.draft_of(bench.version.key))
    (empty,) = book.put(Version(bench.project.key, "SR-9"))
    for asked, code in (
        (lambda: book.start_trial(child.key, 5), "reason-missing"),
        (lambda: book.start_trial(empty.key, 5), "no-lines"),
        (lambda: book.start_trial(4711, 5), "reference-missing"),
        (lambda: book.draft_of(4711), "reference-missing"),
        (lambda: book.smelling_dilution(4711, 0.1, bench.ethanol.key), "reference-missing"),
        (lambda: book.smelling_dilution(vial.key, 0.1, 4711), "reference-missing"),
        (lambda: book.smelling_dilution(vial.key, 1.0, bench.ethanol.key), "strength-range"),
    ):
        with pytest.raises(Refused) as refused:
            asked()
        assert codes(refused) == [code]


def test_left_is_the_last_found_mass_and_the_ledger_since(bench, vial, clock):
    book = bench.book
    one, two, none = book.put(Bottle("M-1"), Bottle("M-2"), Bottle("M-3"))

    def move(kind, mass_g, source=None, into=None):
        clock.tick(minutes=1)
        return book.put(Move(clock(), kind, mass_g, source and source.key, into and into.key))[0]

    move("received", 50, into=one)
    wrong = move("pour", 2, one, two)
    assert book.left(one.key, two.key, none.key, 4711) == {one.key: 48, two.key: 2}
    book.correct(wrong.key, mass_g=3)
    assert book.left(one.key, two.key) == {one.key: 47, two.key: 3}
    move("found", 46.5, into=one)
    move("used", 0.5, one)
    spilled = move("spill", 1, one)
    assert book.left(one.key) == {one.key: 45}
    book.correct(spilled.key, kind="withdrawn")
    assert book.left(one.key) == {one.key: 46}
    move("found", 2.9, two)
    assert book.left(two.key) == {two.key: 2.9}
    assert book.left() == {}
    assert book.left(*range(1, 40_000)) == {one.key: 46, two.key: 2.9}


def test_the_last_strength_and_where_a_material_is_used(bench, clock):
    book = bench.book
    assert book.last_strength(bench.project.key, bench.ambroxide.key) == (0.1, bench.ethanol.key)
    assert book.last_strength(bench.project.key, bench.lemon.key) == (1.0, None)
    assert book.last_strength(bench.project.key, bench.ethanol.key) is None
    clock.tick(hours=1)
    (other,) = book.put(Version(bench.project.key, "SR-2", (Line(5, bench.lemon.key), Line(0, accord=bench.accord.key))))
    used = {head.code: parts for head, parts in book.where_used(bench.lemon.key)}
    assert used == pytest.approx({"SR-2": 1000, "SR-1": 140 / 150 * 1000, "A-1": 750})
    assert next(iter(book.where_used(bench.lemon.key)))[0].code == "SR-2"
    thinned = {head.code: parts for head, parts in book.where_used(bench.ethanol.key)}
    assert thinned == pytest.approx({"A-1": 9 / 40 * 1000, "SR-1": 9 / 150 * 1000, "SR-2": 0})
    assert book.where_used(4711) == ()
    heads = book.version_heads(bench.project.key)
    assert [head.code for head in heads] == ["A-1", "SR-1", "SR-2"]
    assert (heads[1].name, heads[1].frozen_at, heads[2].key, heads[2].retired) == ("First", None, other.key, False)


def test_a_shelf_is_just_what_a_version_reaches(bench):
    book = bench.book
    book.put(
        Material("Unused"),
        Bottle("M-1", material=bench.lemon.key, price_per_g=0.2),
        Bottle("K-1", material=bench.ambroxide.key, price_per_g=0.65, strength=0.5, carrier=bench.ethanol.key),
        Bottle("S-1", material=bench.ethanol.key, price_per_g=0.1),
    )
    shelf = book.shelf(bench.version)
    assert shelf.materials.keys() == {bench.lemon.key, bench.ambroxide.key, bench.ethanol.key}
    assert shelf.accords == {bench.accord.key: bench.accord}
    assert shelf.prices == pytest.approx({bench.lemon.key: 0.2, bench.ambroxide.key: 1.2, bench.ethanol.key: 0.1})
    assert book.shelf(Version(bench.project.key, "new")).materials == {}
    # what thins a bought bottle counts although no line names it
    neat = Version(bench.project.key, "neat", (Line(1, bench.ambroxide.key),))
    assert book.shelf(neat).prices[bench.ambroxide.key] == pytest.approx(1.2)


# strips and what is due -----------------------------------------------------------------------------------------------


def test_due_is_the_next_point_of_every_open_strip_soonest_first(bench, vial, clock):
    book = bench.book
    first = strip_of(book, vial)
    assert len(first.reading_times) == 11
    clock.tick(minutes=30)
    second = strip_of(book, vial, "P02")
    closed = strip_of(book, vial, "P03")
    book.put(replace(closed, closed_at=clock()))
    assert [(due.strip, due.point.due_s, due.point.state) for due in book.due(clock())] == [
        (first, 1800, "due"), (second, 120, "ahead"),
    ]  # fmt: skip
    book.put(Reading(first.key, clock(), intensity=3))
    soonest = [second.dipped_at + timedelta(minutes=2), first.dipped_at + timedelta(hours=1)]
    assert [due.at for due in book.due(clock())] == soonest
    assert book.strips(bench.project.key) == (first, second, book.get(Strip, closed.key))
    # a clock set back to before the dip asks for nothing
    assert [due.strip for due in book.due(second.dipped_at - timedelta(minutes=1))] == [first]
    assert book.due(clock() + timedelta(days=91)) == ()


def test_the_strips_of_a_project_include_its_benchmark(bench, clock):
    book = bench.book
    (benchmark,) = book.put(Bottle("H-0", kind="benchmark"))
    book.put(replace(bench.project, benchmark=benchmark.key))
    strip = strip_of(book, benchmark)
    assert book.strips(bench.project.key) == (strip,)


# search ---------------------------------------------------------------------------------------------------------------


@pytest.fixture(params=["with FTS5", "without FTS5"])
def searched(request, monkeypatch, path, clock):
    """A book with words, notes and readings; once on an SQLite without full text search."""
    if request.param == "without FTS5":
        monkeypatch.setattr(ladder, "has_fts5", lambda raw: False)
    with Book.create(path, "Searched", clock=clock) as book:
        (stone,) = book.put(Word("wet stone", "mineral"))
        book.put(Word("wet slate", same_as=stone.key), Word("slate", same_as=stone.key), Word("lost", same_as=None))
        project, geosmin, _ = book.put(
            Project("SR", "Été au bord"), Material("Geosmin", words=("wet stone",)), Material("Slate wool", bench_name="Wool")
        )
        book.put(Bottle("K-1", label="Mouillé", lot="L%7"), Version(project.key, "SR-1", name="Pierre"))
        bottle = book.get(Bottle, "K-1")
        strip = strip_of(book, bottle)
        book.put(
            Note("Wet stone after rain", material=geosmin.key),
            Note("nothing of the kind", material=geosmin.key),
            Reading(strip.key, clock.tick(minutes=2), words={"wet stone": 2}),
            Reading(strip.key, clock.tick(minutes=2), note="the STONE is wet, crème"),
            Reading(strip.key, clock.tick(minutes=2)),
        )
        assert book._store.has_text_index == (request.param == "with FTS5")
        yield book


def texts(found):
    return [getattr(v, "text", "") or getattr(v, "note", "") or " ".join(getattr(v, "words", ())) for v in found]


def test_words_are_found_newest_first(searched):
    found = [v for v in searched.search("wet stone") if isinstance(v, Note | Reading)]
    assert texts(found)[-2:] == ["wet stone", "Wet stone after rain"]
    assert [v.key for v in found] == sorted((v.key for v in found), reverse=True)
    assert [v.key for v in searched.search("WET slate") if isinstance(v, Note | Reading)] == [v.key for v in found]
    assert searched.search("wet stone", 2)[0] == searched.get(Material, "Geosmin")
    assert len(searched.search("wet stone", 2)) == 2 and len(searched.search("wet", 1)) == 1
    assert "the STONE is wet, crème" in texts(searched.search("creme"))


def test_a_synonym_finds_what_is_called_by_the_word_it_stands_for(searched):
    assert searched.get(Material, "Geosmin") in searched.search("wet slate")
    assert [m.short for m in searched.search("slate") if isinstance(m, Material)] == ["Wool", "Geosmin"]
    assert searched.search("lost") == ()


def test_names_are_found_without_case_and_accents(searched):
    assert searched.search("ETE AU") == (searched.get(Project, "SR"),)
    assert searched.search("mouille") == (searched.get(Bottle, "K-1"),)
    assert searched.search("l%7") == (searched.get(Bottle, "K-1"),)
    assert searched.search("l_7") == ()
    assert searched.search("pierre") == (searched.get(Version, "SR-1"),)
    assert [type(v) for v in searched.search("p01")] == [Strip]


def test_what_stands_on_a_label_or_was_decided_is_found(searched):
    project, geosmin = searched.get(Project, "SR"), searched.get(Material, "Geosmin")
    (version,) = searched.put(Version(project.key, "SR-9", (Line(10.0, material=geosmin.key),)))
    searched.put(Bottle("K-2", supplier="Cooper & Sons", place="B-7", container="amber 30 ml", supplier_no="4711-x"))
    searched.put(Balance("fine one", d_g=0.001), Limit("limonene, rinse-off", 0.01, cas="5989-27-5"))
    making, vial = searched.start_trial(version.key, 5.0)
    searched.put(Decision(project.key, searched.now().date(), (version.key,), "drier, keeps the peel"))
    for text in ("cooper", "b-7", "AMBER 30", "4711"):
        assert searched.search(text) == (searched.get(Bottle, "K-2"),)
    assert [type(v) for v in searched.search("drier")] == [Decision]
    assert [v.name for v in (*searched.search("fine one"), *searched.search("5989-27"))] == ["fine one", "limonene, rinse-off"]
    assert {type(v) for v in searched.search(making.code)} == {Bottle, Making} and vial in searched.search(making.code)


@pytest.mark.parametrize("odd", ["", "  ", '"', '""', "'", "*", "-", "NEAR(", "a AND", "text:", "^", "\x00", "(", "stone*"])
def test_any_text_may_be_searched(searched, odd):
    searched.search(odd)


def test_a_replaced_wording_is_not_found_any_more(searched):
    note = next(n for n in searched.all(Note) if n.text.startswith("nothing"))
    searched.correct(note.key, text="something else")
    assert texts(searched.search("something else")) == ["something else"] and searched.search("of the kind") == ()
    reading = next(r for r in searched.all(Reading) if r.note)
    searched.correct(reading.key, withdrawn=True)
    assert searched.search("creme") == ()


def test_a_book_with_an_index_is_searched_where_there_is_none(path, clock, monkeypatch):
    with Book.create(path, "B", clock=clock) as book:
        (project,) = book.put(Project("SR"))
        book.put(Note("wet stone", project=project.key))
    monkeypatch.setattr(ladder, "has_fts5", lambda raw: False)
    with Book.open(path, clock) as book:
        book.put(Note("stone again", project=project.key))
        assert texts(book.search("stone")) == ["stone again", "wet stone"]


@pytest.mark.parametrize("searched", ["with FTS5"], indirect=True)
def test_a_book_whose_index_is_gone_is_searched_as_one_without(searched, clock):
    path = searched.path
    searched._file.raw.execute("DROP TABLE note_text")
    searched.close()
    with Book.open(path, clock) as book:
        assert not book._store.has_text_index
        book.put(Note("again a WET stone", project=book.get(Project, "SR").key))
        found = [v for v in book.search("wet slate") if isinstance(v, Note | Reading)]
        assert texts(found) == ["again a WET stone", "wet stone", "Wet stone after rain"]
        assert book.get(Material, "Geosmin") in book.search("wet slate")


# the connection -------------------------------------------------------------------------------------------------------


def test_no_call_leaves_a_transaction_open(bench, vial, tmp_path, clock):
    book, raw = bench.book, bench.book._file.raw
    strip = strip_of(book, vial)
    (reading,) = book.put(Reading(strip.key, clock()))
    for call in (
        lambda: book.put(Word("a")),
        lambda: book.put(Word("a")),
        lambda: book.correct(reading.key, note="x"),
        lambda: book.correct(reading.key, note="x"),
        lambda: book.retire(bench.lemon.key),
        lambda: book.undo(),
        lambda: book.redo(),
        lambda: book.get(Version, "SR-1"),
        lambda: next(book.all(Version)),
        lambda: book.history(reading.key),
        lambda: book.search("a"),
        lambda: book.due(clock()),
        lambda: book.shelf(bench.version),
        lambda: book.where_used(bench.lemon.key),
        lambda: book.left(vial.key),
        lambda: book.origin(vial.key),
        lambda: book.strips(bench.project.key),
        lambda: book.material_rows(),
        lambda: book.start_trial(bench.version.key, 5),
        lambda: book.smelling_dilution(vial.key, 0.1, bench.ethanol.key),
        lambda: book.backup(tmp_path / "copy.stillroom"),
        lambda: book.backup_if_due(),
        lambda: book.check(),
        lambda: book.quick_check(),
        lambda: book.export(tmp_path / "out"),
    ):
        with suppress(Refused):
            call()
        assert not raw.in_transaction


def test_a_row_that_makes_no_value_is_damage(bench):
    book, raw = bench.book, bench.book._file.raw
    raw.execute("UPDATE material SET words = '[' WHERE key = ?", (bench.lemon.key,))
    with pytest.raises(DamagedBook) as damaged:
        list(book.all(Material))
    assert "material" in damaged.value.detail
    raw.execute("UPDATE project SET started_on = 'May' WHERE key = ?", (bench.project.key,))
    with pytest.raises(DamagedBook):
        book.get(Project, "SR")
    book._queries.forget(Change("", ((None, Word("any")),)))
    for light in (book.material_rows, lambda: book.find_materials("oil"), lambda: book.search("oil")):
        with pytest.raises(DamagedBook) as damaged:
            light()
        assert "material" in damaged.value.detail
    raw.execute("UPDATE version SET retired_on = 'May' WHERE key = ?", (bench.version.key,))
    with pytest.raises(DamagedBook) as damaged:
        book.version_heads(bench.project.key)
    assert "version" in damaged.value.detail
    raw.execute("DELETE FROM book")
    book.close()
    with pytest.raises(DamagedBook):
        Book.open(book.path)


def test_offsets_are_kept_as_they_were_read(bench, clock):
    for hours in (-11, -3.5, 0, 5.75, 14):
        at = datetime(2025, 3, 30, 1, 30, tzinfo=timezone(timedelta(hours=hours)))
        (note,) = bench.book.put(Note("x", at=at, project=bench.project.key))
        assert bench.book.get(Note, note.key).at.isoformat() == at.isoformat()


def test_a_clock_of_its_own_is_the_machine_s(tmp_path):
    with Book.create(tmp_path / "b.stillroom", "B") as book:
        assert book.now().utcoffset() is not None
        assert (book.name, book.currency, book.read_only, book.path) == ("B", "EUR", False, tmp_path / "b.stillroom")
        (balance,) = book.put(Balance("B1", 0.001))
        assert book.get(Balance, "B1") == balance
