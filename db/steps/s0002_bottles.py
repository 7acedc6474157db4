# SPDX-License-Identifier: MIT
"""Step 2, the life of bottles: how a tare was found, what a bottle can take, when a solution is ready; masses that are only
estimated; corrections of the ledger by name; the perfumer's own habits.

The ledger's kinds stand in a CHECK, which SQLite cannot alter: the table is made anew and its rows carried over.
"""

_REF = "REFERENCES {} (key) DEFERRABLE INITIALLY DEFERRED"


def _ref(table: str) -> str:
    return _REF.format(table)


STATEMENTS = (
    "ALTER TABLE bottle ADD COLUMN tare_inferred INTEGER NOT NULL DEFAULT 0 CHECK (tare_inferred IN (0, 1))",
    "ALTER TABLE bottle ADD COLUMN volume_ml REAL CHECK (volume_ml > 0)",
    "ALTER TABLE bottle ADD COLUMN ready_on TEXT",
    f"""CREATE TABLE move_anew (key INTEGER PRIMARY KEY, at INTEGER NOT NULL, off INTEGER NOT NULL, kind TEXT NOT NULL CHECK
    (kind IN ('received', 'pour', 'strip', 'used', 'spill', 'lost', 'found', 'discard', 'given', 'correction', 'withdrawn')),
    mass_g REAL NOT NULL CHECK (mass_g >= 0), from_bottle INTEGER {_ref("bottle")}, to_bottle INTEGER {_ref("bottle")},
    target_g REAL, read_g REAL, u_g REAL, making INTEGER {_ref("making")}, line INTEGER {_ref("line")},
    contents INTEGER {_ref("contents")}, replaces INTEGER UNIQUE {_ref("move_anew")}, remark TEXT NOT NULL,
    estimated INTEGER NOT NULL CHECK (estimated IN (0, 1)), CHECK (from_bottle IS NOT NULL OR to_bottle IS NOT NULL),
    CHECK (kind <> 'pour' OR (from_bottle IS NOT NULL AND to_bottle IS NOT NULL)),
    CHECK (kind <> 'correction' OR remark <> '')) STRICT""",
    """INSERT INTO move_anew SELECT key, at, off, kind, mass_g, from_bottle, to_bottle, target_g, read_g, u_g, making, line,
    contents, replaces, remark, 0 FROM move""",
    "DROP TABLE move",
    "ALTER TABLE move_anew RENAME TO move",
    "CREATE INDEX move_from ON move (from_bottle, at)",
    "CREATE INDEX move_to ON move (to_bottle, at)",
    "CREATE INDEX move_making ON move (making)",
    "CREATE INDEX move_line ON move (line) WHERE line IS NOT NULL",
    *(
        f"CREATE TRIGGER move_record_{verb.lower()} BEFORE {verb} ON move BEGIN SELECT RAISE (ABORT, 'record'); END"
        for verb in ("UPDATE", "DELETE")
    ),
    "CREATE TABLE habit (key INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, value REAL NOT NULL) STRICT",
)

TEXT_INDEX: tuple[str, ...] = ()
