# SPDX-License-Identifier: MIT
"""A book of full size, to measure on: 5,000 materials, 20,000 versions of 40 lines, 500,000 readings on 45,000 strips.

Rows are put straight into the tables of a new book, because the door's one transaction an edit would take hours; the result
is a book like any other and passes its own check. All of it is invented.
"""

from __future__ import annotations

import json
import random
import sqlite3
import sys
from pathlib import Path

from db import Book

MATERIALS, PROJECTS, VERSIONS_EACH, LINES, READINGS = 5_000, 200, 100, 40, 500_000
TIMES = (120, 900, 1800, 3600, 7200, 14400, 28800, 86400, 172800, 259200, 604800)
WORDS = ("peel", "pine", "resin", "wet stone", "cedar", "clean musk", "pepper", "soil", "vanilla", "leaf")
START_MS = 1_600_000_000_000


def make(path: Path) -> Path:
    """Makes the full-size book at a path where nothing stands; about a quarter of a minute."""
    Book.create(path, "Full-size bench").close()
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("BEGIN")
    raw.executemany(
        "INSERT INTO material VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
        (
            (
                key,
                f"Invented material {key} ({random.choice(WORDS)})",
                "",
                "liquid",
                int(key <= 5),
                f"Material {key}",
                "",
                "",
                json.dumps([f"synonym {key}"]),
                json.dumps(random.sample(WORDS, 3)),
                "[]",
                24,
                "",
                None,
            )
            for key in range(1, MATERIALS + 1)
        ),
    )
    key = MATERIALS + 1
    projects = range(key, key + PROJECTS)
    raw.executemany(
        "INSERT INTO project VALUES (?,?,?,?,NULL,NULL,0.12,1,5.0,'[]',NULL,NULL,'')",
        ((p, f"F{p - key:03d}", f"Idea {p - key}", "") for p in projects),
    )
    key += PROJECTS
    versions, lines, bottles, strips, readings = [], [], [], [], []
    for project in projects:
        parent = None
        for number in range(VERSIONS_EACH):
            version = key
            made = START_MS + version * 60_000
            versions.append((version, project, f"F-{number + 1}", parent, "", None, "", 1000.0, made, 60, None, None, 0, None))
            key += 1
            for position in range(LINES):
                diluted = position % 7 == 0
                material = random.randrange(6, MATERIALS)
                lines.append(
                    (
                        key,
                        version,
                        position,
                        random.randrange(1, 80),
                        material,
                        None,
                        0.1 if diluted else 1.0,
                        1 if diluted else None,
                        0,
                        0,
                        None,
                        "",
                    )
                )
                key += 1
            parent = version
            bottles.append((key, f"V{key}", "trial", f"vial {key}", None, version, 1.0, "", "", "", "", "", "", ""))
            key += 1
    each = READINGS // len(TIMES) // len(bottles) + 1
    for bottle in bottles:
        for _ in range(each):
            if len(readings) >= READINGS:
                break
            strip, dipped = key, START_MS + key * 1_000
            strips.append(
                (
                    strip,
                    f"S{strip}",
                    bottle[0],
                    dipped,
                    60,
                    "paper",
                    None,
                    0.12,
                    1,
                    "",
                    "",
                    None,
                    "",
                    json.dumps(TIMES),
                    dipped + 604_900_000,
                    60,
                )
            )
            key += 1
            for place, due in enumerate(TIMES):
                at = dipped + due * 1000
                words = json.dumps({random.choice(WORDS): 2})
                readings.append((key, strip, at, 60, due, max(0.0, 5.5 - place * 0.5), 30 - place, 1, words, "", at, 60, None, 0))
                key += 1
    raw.executemany("INSERT INTO version VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)", versions)
    raw.executemany("INSERT INTO line VALUES (?,?,?,?,?,?,?,?,?,?,?,?)", lines)
    raw.executemany(
        "INSERT INTO bottle (key, code, kind, label, material, version, strength, lot, supplier, supplier_no, container, liner,"
        " place, remark) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
        bottles,
    )
    raw.executemany("INSERT INTO strip VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)", strips)
    raw.executemany("INSERT INTO reading VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)", readings)
    texts = ((row[0], " ".join(json.loads(row[8]))) for row in readings)
    raw.executemany("INSERT INTO note_text (rowid, text) VALUES (?,?)", texts)
    words = ((key + place, word, "invented") for place, word in enumerate(WORDS))
    raw.executemany("INSERT INTO word VALUES (?,?,?,NULL)", words)
    key += len(WORDS)
    raw.execute("UPDATE book SET next_key = ?, changes = 1", (key,))
    raw.execute("COMMIT")
    raw.close()
    return path


if __name__ == "__main__":
    print(make(Path(sys.argv[1])))
