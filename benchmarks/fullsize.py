# SPDX-License-Identifier: MIT
"""A book of full size, to measure on: 5,000 materials and their bottles, 20,000 versions of 40 lines, 500,000 readings on 45,000
strips of 3,800 sittings, 2,000 weighed trials, and the notes, words, limits, tests and decisions of such years.

Rows are put straight into the tables of a new book, because the door's one transaction an edit would take hours; the result
is a book like any other and passes its own check. All of it is invented.
"""

from __future__ import annotations

import json
import random
import sqlite3
import sys
from collections.abc import Iterable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

from db import Book

MATERIALS, CARRIERS, PROJECTS, VERSIONS_EACH, LINES, READINGS = 5_000, 5, 200, 100, 40, 500_000
# One version of so many was weighed; so many papers hang in a sitting.
WEIGHED_OF, PAPERS_EACH = 10, 12
LIMITS, TESTS = 200, 100
TIMES = (120, 900, 1800, 3600, 7200, 14400, 28800, 86400, 172800, 259200, 604800)
WORDS = ("peel", "pine", "resin", "wet stone", "cedar", "clean musk", "pepper", "soil", "vanilla", "leaf")
# These stand in one reading of some hundreds each.
RARE_WORDS = tuple(f"nuance {n}" for n in range(190))
START_MS, MINUTE_MS, SIX_DAYS_MS, OFF = 1_600_000_000_000, 60_000, 518_400_000, 60


class _Rows:
    """Puts rows into the tables of a book and gives out its keys."""

    def __init__(self, raw: sqlite3.Connection) -> None:
        self._raw, self._keys = raw, count(1)
        self._said: list[tuple[int, str]] = []

    def put(self, table: str, rows: Iterable[dict[str, Any]], **same: Any) -> list[dict[str, Any]]:
        """The rows with their keys; `same` stands in each of them."""
        own = [{"key": next(self._keys), **same, **row} for row in rows]
        names = ", ".join(f'"{name}"' for name in own[0])
        marks = ", ".join(f":{name}" for name in own[0])
        self._raw.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", own)
        return own

    def put_shares(self, shares: Iterable[tuple[int, int, float]]) -> None:
        """(contents, material, share), which have no keys of their own."""
        self._raw.executemany("INSERT INTO content_share (contents, material, share) VALUES (?, ?, ?)", shares)

    def freeze(self, versions: Iterable[dict[str, Any]]) -> None:
        """Makes versions unchangeable from when they were made, once their lines stand."""
        freezing = "UPDATE version SET frozen_at = :made_at, frozen_off = :made_off WHERE key = :key"
        self._raw.executemany(freezing, versions)

    def index(self, said: Iterable[tuple[int, str]]) -> None:
        """Makes texts findable."""
        self._said += said

    def close(self) -> None:
        """Writes the index, by key, and the next key."""
        self._raw.executemany("INSERT INTO note_text (rowid, text) VALUES (?, ?)", sorted(self._said))
        self._raw.execute("UPDATE book SET next_key = ?, changes = 1", (next(self._keys),))


def make(path: Path) -> Path:
    """Makes the full-size book at a path where nothing stands; about half a minute."""
    Book.create(path, "Full-size bench").close()
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("BEGIN")
    rows = _Rows(raw)
    bottles = _shelf(rows)
    projects, versions, lines = _formulas(rows)
    emptied = len(versions) - 2 * PROJECTS
    vials = rows.put(
        "bottle",
        (
            {"code": f"V{n}", "label": f"vial {n}", "version": version["key"], "gone_on": "2024-01-01" if n < emptied else None}
            for n, version in enumerate(versions)
        ),
        kind="trial", strength=1.0, lot="", supplier="", supplier_no="", container="", liner="", place="", remark="",
    )  # fmt: skip
    _weighing(rows, bottles, versions, lines, vials)
    _smelling(rows, vials)
    _said(rows, projects, versions, vials)
    rows.close()
    raw.execute("COMMIT")
    raw.close()
    return path


def _shelf(rows: _Rows) -> dict[int, int]:
    """Materials, the first of them carriers, with limits on what they hold; returns {material: its bottle}."""
    materials = rows.put(
        "material",
        (
            {
                "name": f"Invented material {n} ({random.choice(WORDS)})",
                "is_carrier": int(n <= CARRIERS),
                "bench_name": f"Material {n}",
                "synonyms": json.dumps([f"synonym {n}"]),
                "words": json.dumps(random.sample(WORDS, 3)),
            }
            for n in range(1, MATERIALS + 1)
        ),
        cas="", form="liquid", inci="", botanical="", properties="[]", retest_months=24, storage="", retired_on=None,
    )  # fmt: skip
    bottles = rows.put(
        "bottle",
        ({"code": f"M{n}", "label": one["bench_name"], "material": one["key"]} for n, one in enumerate(materials)),
        kind="bought", strength=1.0, price_per_g=0.4, tare_g=60.0, lot="L1", supplier="invented", supplier_no="", container="",
        liner="", place="", remark="",
    )  # fmt: skip
    rows.put(
        "move",
        ({"to_bottle": bottle["key"], "at": START_MS + n} for n, bottle in enumerate(bottles)),
        off=OFF, kind="received", mass_g=100.0, remark="", estimated=0,
    )  # fmt: skip
    contents = rows.put(
        "contents", ({"bottle": bottle["key"], "at": START_MS + n} for n, bottle in enumerate(bottles)), off=OFF, reason="bought"
    )
    rows.put_shares((one["key"], bottle["material"], 1.0) for one, bottle in zip(contents, bottles, strict=True))
    rows.put(
        "use_limit",
        ({"name": f"constituent {n}"} for n in range(LIMITS)),
        share_max=0.002, category="", cas="", budget="", source="invented", remark="",
    )  # fmt: skip
    rows.put(
        "constituent",
        (
            {"whole": one["key"], "name": f"constituent {n % LIMITS}", "typical": 0.01 + n % 40 / 100}
            for n, one in enumerate(random.sample(materials, 10 * LIMITS))
        ),
        cas="", source="invented", applies=1, remark="",
    )  # fmt: skip
    return {one["key"]: bottle["key"] for one, bottle in zip(materials, bottles, strict=True)}


def _formulas(rows: _Rows) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Projects, each a chain of versions, and their lines."""
    projects = rows.put(
        "project",
        ({"code": f"F{n:03d}", "name": f"Idea {n}"} for n in range(PROJECTS)),
        brief="", strength=0.12, carrier=1, amount_g=5.0, reading_times="[]", category="",
    )  # fmt: skip
    versions = []
    for place in range(VERSIONS_EACH):
        parents = versions[-PROJECTS:] or [{"key": None}] * PROJECTS
        versions += rows.put(
            "version",
            (
                {
                    "project": project["key"],
                    "parent": parent["key"],
                    "made_at": START_MS + place * SIX_DAYS_MS + n * MINUTE_MS,
                }
                for n, (project, parent) in enumerate(zip(projects, parents, strict=True))
            ),
            code=f"F-{place + 1}", reason="", name="", total=1000.0, made_off=OFF, starred=0,
        )  # fmt: skip
    lines = rows.put("line", _lines(versions), fill_up=0, held=0, remark="")
    rows.freeze(versions[:-PROJECTS])
    return projects, versions, lines


def _lines(versions: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for version in versions:
        for place, material in enumerate(random.sample(range(CARRIERS + 1, MATERIALS + 1), LINES)):
            diluted = place % 7 == 0
            yield {
                "version": version["key"],
                "position": place,
                "parts": random.randrange(1, 80),
                "material": material,
                "strength": 0.1 if diluted else 1.0,
                "carrier": 1 if diluted else None,
            }


def _weighing(
    rows: _Rows, bottles: dict[int, int], versions: list[dict[str, Any]], lines: list[dict[str, Any]], vials: list[dict[str, Any]]
) -> None:
    """The trials of one version of ten, a pour for every line."""
    (balance,) = rows.put("balance", ({"name": "invented balance", "d_g": 0.001, "s_g": 0.001, "max_g": 200.0},))
    weighed = range(0, len(versions), WEIGHED_OF)
    makings = rows.put(
        "making",
        (
            {
                "into_bottle": vials[at]["key"],
                "started_at": versions[at]["made_at"] + MINUTE_MS,
                "finished_at": versions[at]["made_at"] + 60 * MINUTE_MS,
                "code": f"T-{n + 1}",
                "version": versions[at]["key"],
            }
            for n, at in enumerate(weighed)
        ),
        kind="trial", started_off=OFF, finished_off=OFF, balance=balance["key"], mode="tare each", target_g=5.0, remark="",
        plan="[]",
    )  # fmt: skip
    rows.put(
        "move",
        (
            {
                "at": making["started_at"] + n * 1_000,
                "mass_g": line["parts"] / 1000,
                "from_bottle": bottles[line["material"]],
                "to_bottle": making["into_bottle"],
                "making": making["key"],
                "line": line["key"],
            }
            for making, at in zip(makings, weighed, strict=True)
            for n, line in enumerate(lines[at * LINES : (at + 1) * LINES])
        ),
        off=OFF, kind="pour", remark="", estimated=0,
    )  # fmt: skip


def _smelling(rows: _Rows, vials: list[dict[str, Any]]) -> None:
    """Sittings of papers dipped in one vial after the other, read for a week, and the words that were written."""
    papers = -(-READINGS // len(TIMES))
    sittings = rows.put(
        "sitting",
        ({"code": f"S{n}", "at": START_MS + n * 4 * 3_600_000} for n in range(-(-papers // PAPERS_EACH))),
        off=OFF, purpose="", cold=0, scented=0, tired=0, blind=0, shuffled=0,
    )  # fmt: skip
    strips = rows.put(
        "strip",
        (
            {
                "code": f"P{n}",
                "bottle": vials[n % len(vials)]["key"],
                "sitting": sittings[n // PAPERS_EACH]["key"],
                "dipped_at": sittings[n // PAPERS_EACH]["at"] + n % PAPERS_EACH * MINUTE_MS,
                "closed_at": sittings[n // PAPERS_EACH]["at"] + 604_900_000,
            }
            for n in range(papers)
        ),
        dipped_off=OFF, kind="paper", strength=0.12, carrier=1, wearer="", site="", blind_code="",
        reading_times=json.dumps(TIMES), closed_off=OFF,
    )  # fmt: skip
    readings = rows.put("reading", _readings(strips), off=OFF, note="", entered_off=OFF, withdrawn=0)
    rows.index((reading["key"], " ".join(json.loads(reading["words"]))) for reading in readings)
    rows.put("word", ({"text": word} for word in (*WORDS, *RARE_WORDS)), group="invented")


def _readings(strips: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for strip in strips:
        for place, due in enumerate(TIMES):
            words = {random.choice(WORDS): 2}
            if random.random() < 0.2:
                words[random.choice(RARE_WORDS)] = 1
            at = strip["dipped_at"] + due * 1000
            yield {
                "strip": strip["key"],
                "at": at,
                "due_s": due,
                "intensity": max(0.0, 5.5 - place * 0.5),
                "distance_cm": 30 - place,
                "liking": 1,
                "words": json.dumps(words),
                "entered_at": at,
            }


def _said(
    rows: _Rows, projects: list[dict[str, Any]], versions: list[dict[str, Any]], vials: list[dict[str, Any]]
) -> None:
    """Notes on materials and on one version of ten, a decision a project, and blind tests."""
    of: list[dict[str, Any]] = [{"material": n, "version": None} for n in range(1, MATERIALS + 1)]
    of += [{"material": None, "version": version["key"]} for version in versions[::WEIGHED_OF]]
    notes = rows.put(
        "note",
        ({**one, "text": f"smells of {random.choice(WORDS)} and {random.choice(RARE_WORDS)}", "at": START_MS} for one in of),
        off=OFF, stage="",
    )  # fmt: skip
    rows.index((note["key"], note["text"]) for note in notes)
    rows.put(
        "decision",
        (
            {"project": project["key"], "chosen": json.dumps([version["key"]]), "code": f"DE-{n + 1}"}
            for n, (project, version) in enumerate(zip(projects, versions[-PROJECTS:], strict=True))
        ),
        made_on="2025-01-01", reason="invented", rejected="{}", evidence="[]", costs="{}",
    )  # fmt: skip
    sets = json.dumps(["123:A 456:A 789:B", "321:B 654:A 987:B"])
    rows.put(
        "blind_test",
        ({"code": f"B-{n}", "project": projects[n]["key"], "at": START_MS + n} for n in range(TESTS)),
        off=OFF, method="triangle", samples=json.dumps([vial["key"] for vial in vials[:2]]), sets=sets, question="",
        alpha=0.05, shuffled=0, revealed_at=START_MS + 9 * MINUTE_MS, revealed_off=OFF, remark="",
    )  # fmt: skip


if __name__ == "__main__":
    print(make(Path(sys.argv[1])))
