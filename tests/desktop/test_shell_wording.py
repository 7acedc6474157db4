# SPDX-License-Identifier: MIT
"""Every finding and every fault has its sentence, and no sentence leaves out what it is about."""

import re
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

import db
from desktop import steps, wording
from perfumery import Finding
from perfumery.findings import CODES

DIPPED = datetime(2025, 3, 19, 9, 0, tzinfo=UTC)
# (code, its facts, what of them must be read in the sentence)
SAMPLES = {
    "time-naive": ({"text": "14:05"}, ["14:05"]),
    "time-unreadable": ({"text": "noonish"}, ["noonish"]),
    "day-unreadable": ({"text": "someday"}, ["someday"]),
    "day-unclear": ({"text": "someday", "like": date(2025, 3, 11)}, ["someday", "11 Mar 2025", "2025-03-11"]),
    "day-beyond": ({"text": "30 Feb", "month": date(2025, 2, 1), "days": 28}, ["30 Feb", "Feb 2025 has 28 days"]),
    "number-unreadable": ({"text": "twelve"}, ["twelve"]),
    "number-grouped": ({"text": "1,000.5"}, ["1,000.5"]),
    "data-unreadable": ({"text": "see the sheet"}, ["see the sheet"]),
    "code-taken": ({"code": "SR-4"}, ["SR-4"]),
    "cas-shape": ({"text": "abc"}, ["abc"]),
    "cas-check-digit": ({"text": "78-70-7", "digit": 6}, ["78-70-7", "6"]),
    "parts-negative": ({"parts": -2.5}, ["−2.5"]),
    "strength-range": ({"percent": 120.0}, ["120"]),
    "room-range": ({"value": 210.0, "least": -10.0, "most": 50.0}, ["210", "−10 and 50"]),
    "humidity-range": ({"percent": 150.0}, ["150"]),
    "total-not-positive": ({"total": 0.0}, ["0 parts"]),
    "fill-up-excess": ({"total": 1000.0, "others": 1012.5, "excess": 12.5}, ["1000", "1012.5", "12.5"]),
    "accord-loop": ({"names": ("A", "B", "A")}, ["A holds B holds A"]),
    "share-sum": ({"total": 0.95}, ["95.00"]),
    "mass-not-positive": ({"mass_g": -1.0}, ["−1"]),
    "intensity-scale": ({"value": 7.0}, ["7"]),
    "liking-scale": ({"value": 5}, ["+5"]),
    "distance-negative": ({"value": -3.0}, ["−3"]),
    "word-weight": ({"word": "wet stone", "value": 4}, ["wet stone", "4"]),
    "kind-unknown": ({"kind": "jug", "known": ("bought", "trial")}, ["jug", "bought or trial"]),
    "reference-missing": ({"kind": "Making", "key": 41}, ["weighing", "41"]),
    "odorant-out-of-reach": ({"wanted": 0.2, "most": 0.1083}, ["20.00", "10.83"]),
    "strength-out-of-reach": ({"wanted": 0.2, "most": 0.1}, ["20.00", "10.00"]),
    "exchange-too-weak": ({"wanted": 0.01, "weakest": 0.04}, ["1.000", "4.000"]),
    "exchange-no-carrier": ({"carrier": "DPG", "needed": 38.0}, ["38 parts of DPG"]),
    "exchange-carrier": (
        {"carrier": "DPG", "needed": 38.0, "missing": 8.0, "weakest": 0.0625}, ["38 parts of DPG", "8 more", "6.250"],
    ),
    "held-too-much": ({"held": 120.0, "total": 100.0}, ["120", "100"]),
    "frozen": ({"code": "SR-3"}, ["SR-3"]),
    "record": ({"name": "P06"}, ["P06"]),
    "not-correctable": ({"name": "Vetiver oil"}, ["Vetiver oil"]),
    "undo-held": ({"what": "lemon 110 to 120"}, ["lemon 110 to 120"]),
    "readability-not-positive": ({"step": 0.0}, ["0"]),
    "read-before-dip": ({"strip": "P06", "dipped_at": DIPPED}, ["P06", "19 Mar 2025, 09:00"]),
    "reading-time-range": ({"longest_days": 366.0}, ["366"]),
    "reason-missing": ({"code": "SR-5"}, ["SR-5"]),
    "contents-unknown": ({"code": "V01"}, ["V01"]),
    "volume-not-positive": ({"volume_ml": -30.0}, ["−30"]),
    "habit-range": ({"value": -1.0, "most": 1200.0}, ["−1", "1200"]),
    "habit-share": ({"value": 3.0}, ["300.0"]),
    "price-negative": ({"price": -3.0}, ["−3"]),
    "settled": ({"code": "K19"}, ["K19"]),
    "top-up-late": ({"code": "K19"}, ["K19"]),
    "gone": ({"code": "K19"}, ["K19"]),
    "beyond-left": ({"code": "K19", "left_g": 12.95, "wanted_g": 99.0}, ["K19", "12.950", "99.000"]),
    "loss-beyond-carrier": ({"lost_g": 9.5, "carrier_g": 9.0}, ["9.500", "9.000"]),
    "below-readability": ({"mass_g": 0.0004, "d_g": 0.001}, ["0.0004", "0.001"]),
    "too-little": ({"code": "K19B", "left_g": 0.09, "needs_g": 0.2, "most_g": 0.9}, ["K19B", "0.090", "0.200", "0.900"]),
    "unit-not-grams": ({"figure": "0.250", "unit": "ct"}, ["0.250", "ct"]),
    "balance-below-zero": ({"mass_g": -0.05}, ["−0.05"]),
    "after-not-less": ({"before_g": 12.0, "after_g": 12.5}, ["12", "12.5"]),
    "density-unknown": ({"code": "K19", "name": "Ambroxide"}, ["K19", "Ambroxide"]),
    "left-unknown": ({"code": "V01"}, ["V01"]),
    "source-itself": ({"code": "K19"}, ["K19"]),
    "vessel-too-small": ({"fills_ml": 33.0, "volume_ml": 30.0, "most_g": 22.5}, ["33", "30", "22.500"]),
    "head-space-small": ({"fills_ml": 29.12345, "volume_ml": 30.0, "most_g": 22.5}, ["29.1\u2009ml", "30", "22.500"]),
    "dissolve-solid": ({"name": "Ambroxide"}, ["Ambroxide"]),
    "warm-thick": ({"name": "Labdanum absolute"}, ["Labdanum absolute"]),
    "tare-implausible": ({"tare_g": -3.2}, ["−3.200"]),
    "too-few-readings": ({"count": 4, "least": 5}, ["4", "5"]),
    "not-ready": ({"code": "K30", "on": DIPPED}, ["K30", "19 Mar 2025", "still dissolving"]),
    "over-capacity": ({"mass_g": 210.0, "max_g": 200.0}, ["210.000", "200.000"]),
    "caution-flame": ({"names": ("Ethanol 96 %",)}, ["Ethanol 96 %"]),
    "caution-flash-unknown": ({"names": ("Vetiver oil",)}, ["Vetiver oil"]),
    "caution-air": ({"names": ("Ethanol 96 %",)}, ["Ethanol 96 %"]),
    "caution-powder": ({"names": ("Ambroxide",)}, ["Ambroxide"]),
    "caution-skin": ({"names": ("Phenol",)}, ["Phenol"]),
    "answers-range": ({"n": 0, "most": 1000}, ["0 answers", "1000"]),
    "right-range": ({"right": 10, "n": 9}, ["10 of 9", "0 to 9"]),
    "alpha-range": ({"alpha": 1.5}, ["150.0"]),
    "power-range": ({"power": 1.0}, ["100.0"]),
    "share-range": ({"share": 1.2}, ["120.0"]),
    "dprime-range": ({"dprime": -1.0}, ["−1"]),
    "effect-range": ({"effect": -0.3}, ["−0.3"]),
    "effect-too-small": ({"most": 1000}, ["1000"]),
    "ranks-missing": ({"row": 2, "count": 3, "samples": 4}, ["answer 2", "3 of 4"]),
    "ranks-tied": ({"row": 2}, ["Answer 2"]),
    "sealed": ({"code": "S9"}, ["S9", "another sitting"]),
    "not-sealed": ({"code": "S9"}, ["S9"]),
    "sitting-empty": ({"code": "S9"}, ["S9", "Dip"]),
    "sitting-read": ({"code": "S9", "strips": ["P19", "P21"]}, ["S9", "P19 and P21", "fresh papers in it"]),
    "papers-missing": ({"code": "S9", "papers": ["P19", "P21"]}, ["P19 and P21"]),
    "code-unknown": ({"code": "418", "served": ["417", "862"]}, ["418", "417 and 862"]),
    "limit-over": ({"name": "Vetiver", "share": 0.00254, "allowed": 0.0025, "at_least": True}, ["at least 0.2540", "0.2500"]),
    "limit-close": ({"name": "Vetiver", "share": 0.0024, "allowed": 0.0025, "at_least": False}, ["0.2400", "0.2500"]),
    "accord-newer": ({"accord": "A-1", "newer": "A-2"}, ["A-1", "A-2"]),
    "budget-over": ({"name": "phototoxic", "ratio": 1.2}, ["phototoxic", "120.0"]),
    "limit-range": ({"percent": 120.0}, ["120"]),
    "constituent-range": ({"name": "limonene"}, ["limonene"]),
    "compared-range": ({"number": 7, "fewest": 2, "most": 6}, ["2", "6", "7"]),
    "steps-range": ({"number": 30, "fewest": 1, "most": 24}, ["30", "24"]),
    "dose-range": ({"first": 5.0, "last": 5.0}, ["5"]),
    "word-itself": ({"name": "wet slate"}, ["wet slate"]),
    "answer-late": ({"code": "B-1"}, ["B-1"]),
    "serving-range": ({"samples": 9, "fewest": 2, "most": 8}, ["2 to 8", "9"]),
    "blind-codes-short": ({"count": 9, "left": 3}, ["9 new", "3 are left"]),
    "stand-range": ({"count": 9, "most": 8}, ["9 strips", "1 to 8"]),
    "reading-minutes-range": ({"minutes": -1.0, "most": 60.0}, ["−1 minutes", "at most 60"]),
    "reading-times-close": ({"earlier_min": 2.0, "later_min": 5.0, "minutes": 4.0}, ["2 and 5 min", "4 min"]),
    "stagger-none": ({"longest": 60, "count": 8, "minutes": 20.0}, ["60 minutes", "8 strips", "20 min"]),
    "price-unknown": ({"names": ("Linalool",)}, ["Linalool"]),
    "over-price": ({"cost": 0.1178, "ceiling": 0.1, "at_least": True}, ["at least 0.1178", "0.1000"]),
    "retired-used": ({"names": ("Musk ketone",)}, ["Musk ketone"]),
    "carrier-unclear": ({"text": "eth"}, ["eth"]),
    "grams-lost": ({"names": ("Vetiver oil",), "d_g": 0.01}, ["Vetiver oil", "0.010"]),
    "again-never-weighed": ({"code": "SR-5"}, ["SR-5"]),
    "again-none": ({"name": "Ambroxide", "strength": 0.1}, ["Ambroxide at 10"]),
    "again-relabelled": (
        {"name": "Ambroxide", "strength": 0.1, "code": "K19", "now": 0.105}, ["Ambroxide at 10", "K19", "labelled 10.50"],
    ),
    "again-prepare": ({"name": "Ambroxide", "strength": 0.1, "code": "K19"}, ["Ambroxide at 10", "K19"]),
    "again-dissolve": ({"name": "Ambroxide", "strength": 0.1, "code": "M19-1"}, ["Ambroxide at 10", "M19-1"]),
    "again-other-lot": (
        {"name": "Lemon oil", "code": "M01-2", "was": "M01-1", "is_newer": True}, ["Lemon oil is a new lot", "M01-1", "M01-2"],
    ),
    "again-topped-up": ({"name": "Ambroxide", "code": "K19"}, ["Ambroxide", "K19"]),
    "again-other-bottle": ({"name": "Lemon oil", "code": "M01-2", "was": "M01-1"}, ["Lemon oil", "M01-1", "M01-2"]),
    "again-unsmelled": ({"code": "M01-2", "was": "M01-1"}, ["M01-2", "M01-1"]),
    "again-smelled-apart": (
        {"code": "M01-2", "was": "M01-1", "on": DIPPED, "difference": -1.0, "due_s": 28800.0},
        ["M01-2", "M01-1", "19 Mar 2025", "−1 at 8"],
    ),
    "again-smelled-alike": ({"code": "M01-2", "was": "M01-1", "on": DIPPED}, ["M01-2", "M01-1", "19 Mar 2025"]),
    "again-smelled-open": ({"code": "M01-2", "was": "M01-1", "on": DIPPED}, ["M01-2", "M01-1", "19 Mar 2025"]),
    "again-strong": ({"code": "K19", "off": 0.0502, "weigh_g": 0.119, "for_g": 0.125}, ["K19", "5\u2009%", "0.119", "0.125"]),
    "again-weak": ({"code": "K19", "off": 0.1, "weigh_g": 0.139, "for_g": 0.125}, ["K19", "10\u2009%", "0.139", "0.125"]),
    "same-mass-strong": ({"code": "K19", "off": 0.1}, ["K19", "10\u2009%", "more of it"]),
    "same-mass-weak": ({"code": "K2", "off": 0.889}, ["K2", "89\u2009%", "less of it"]),
    "again-not-ready": ({"code": "K30", "on": DIPPED}, ["K30", "19 Mar 2025"]),
    "again-retest-due": ({"code": "M01-1", "on": DIPPED}, ["M01-1", "19 Mar 2025"]),
    "again-retest-soon": ({"code": "M01-1", "on": DIPPED}, ["M01-1", "19 Mar 2025"]),
    "again-made-up": ({"name": "Wet slate accord", "code": "A-WS"}, ["Wet slate accord", "A-WS"]),
    "again-opened": ({"name": "Wet slate accord", "code": "A-WS"}, ["Wet slate accord", "A-WS"]),
    "again-not-weighed": ({"name": "Lemon oil", "trial": "T-027"}, ["Lemon oil", "T-027"]),
    "row-too-wide": ({"text": "12 left"}, ["12 left"]),
    "unit-unclear": ({"unit": "g", "usual": "parts"}, ["in g", "in parts"]),
    "file-damaged": ({"detail": "page 7 never used"}, ["page 7 never used"]),
    "key-broken": ({"tables": ("line", "reading"), "count": 3}, ["line and reading", "3"]),
}
PATH = Path("/books/Slate.stillroom")
FAULTS = [
    (db.MissingBook(PATH), [str(PATH), "moved"]),
    (db.BookExists(PATH), [str(PATH), "another name"]),
    (db.NotABook(PATH), [str(PATH), "not a Stillroom book"]),
    (db.AlteredBook(PATH, ("trigger spy",)), ["trigger spy", "backup"]),
    (db.NewerBook(PATH, 9, 2), ["format 9", "up to 2"]),
    (db.LockedBook(PATH, "bench-2 (1234)", DIPPED), ["bench-2 (1234) since 19 Mar 2025, 09:00"]),
    (db.LockedBook(PATH), ["It is held by another program."]),
    (db.LockedBook(PATH, by_file="Slate.lock"), ["It is held by the program that made Slate.lock."]),
    (db.DamagedBook(PATH), [str(PATH), "backup"]),
    (db.ReadOnlyBook(PATH), [str(PATH), "folder of your own"]),
    (db.OnlyALook(PATH), ["copy to look into", "restore it"]),
    (db.DiskFull(PATH), [str(PATH), "Make some room"]),
    (db.TakenBook(PATH), [str(PATH), "save a copy"]),
    (db.Cancelled(PATH), ["taken back"]),
    (db.BookError(PATH, "odd"), ["odd"]),
    (FileNotFoundError(2, "No such file", "/books/a"), ["/books/a"]),
    (FileExistsError(17, "File exists", "/books/a"), ["/books/a"]),
    (PermissionError(13, "Permission denied", "/root/x"), ["/root/x"]),
    (OSError(5, "Input/output error", "/mnt/x"), ["/mnt/x", "Input/output error"]),
    (RuntimeError("boom"), ["Copy report"]),
]


@pytest.mark.parametrize("code", sorted(CODES))
def test_every_finding_has_a_plain_sentence(code: str) -> None:
    facts, _ = SAMPLES.get(code, ({}, []))
    said = wording.sentence(Finding(code, facts))
    assert re.match(r"[A-Z“0-9−]", said) and said.endswith((".", "?"))
    assert "-" not in code or code not in said
    assert not set("{}") & set(said)


@pytest.mark.parametrize("code", sorted(SAMPLES))
def test_sentence_says_what_it_is_about(code: str) -> None:
    facts, read = SAMPLES[code]
    said = wording.sentence(Finding(code, facts))
    assert [part for part in read if part not in said] == []
    # and it is the facts that say it, not the sentence by itself
    assert wording.sentence(Finding(code)) != said


def test_samples_hold_every_finding_whose_sentence_has_facts() -> None:
    bare = {code for code in CODES if "—" not in wording.sentence(Finding(code))}
    assert set(SAMPLES) | bare == CODES


@pytest.mark.parametrize("error, read", FAULTS, ids=lambda x: type(x).__name__ if isinstance(x, Exception) else "")
def test_every_fault_says_what_it_means_and_what_to_do(error: Exception, read: list[str]) -> None:
    said = wording.fault(error)
    assert [part for part in read if part not in said] == []
    assert said.count(". ") >= 1 and said.endswith(".")
    assert wording.fault_title(error) and "—" not in said


def test_every_error_of_a_book_has_words_of_its_own() -> None:
    kinds = [kind for kind in vars(db).values() if isinstance(kind, type) and issubclass(kind, db.BookError)]
    named = {kind for kind, _, _ in wording._FAULTS}
    assert [kind.__name__ for kind in kinds if kind not in named] == []


def test_steps_back_and_forward_are_named() -> None:
    assert steps.undone("lemon 110 to 120") == "Undone: lemon 110 to 120."
    assert steps.redone("lemon 110 to 120") == "Done again: lemon 110 to 120."


def test_what_was_done_is_said_at_the_foot() -> None:
    assert steps.sentence("reason of QH-2") == "Reason of QH-2 kept."
    assert steps.sentence("conditions of the sitting") == "Conditions of the sitting kept."
    assert steps.sentence("limit on Linalool") == "Limit on Linalool kept."
    assert steps.sentence("limit on Linalool taken out") == "Limit on Linalool taken out."
    assert steps.sentence("weighing T-029 begun") == "Weighing T-029 begun."
    assert steps.undone("reason of QH-2") == "Undone: reason of QH-2."
