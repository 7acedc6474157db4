# SPDX-License-Identifier: MIT
"""Step 4, blind smelling: the one clock of a sealed sitting, tests for a difference and the answers to them."""

_REF = "REFERENCES {} (key) DEFERRABLE INITIALLY DEFERRED"

STATEMENTS = (
    "ALTER TABLE sitting ADD COLUMN clock_at INTEGER",
    "ALTER TABLE sitting ADD COLUMN clock_off INTEGER",
    "ALTER TABLE sitting ADD COLUMN shuffled INTEGER NOT NULL DEFAULT 0 CHECK (shuffled IN (0, 1))",
    f"""CREATE TABLE blind_test (key INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE, method TEXT NOT NULL CHECK (method IN
    ('triangle', 'duo-trio', 'paired', 'paired one-sided', '3-AFC', 'ranking')), samples TEXT NOT NULL, sets TEXT NOT NULL,
    at INTEGER NOT NULL, off INTEGER NOT NULL, question TEXT NOT NULL, alpha REAL NOT NULL CHECK (alpha > 0 AND alpha < 0.5),
    project INTEGER {_REF.format("project")}, sitting INTEGER {_REF.format("sitting")}, shuffled INTEGER NOT NULL CHECK
    (shuffled IN (0, 1)), revealed_at INTEGER, revealed_off INTEGER, remark TEXT NOT NULL) STRICT""",
    f"""CREATE TABLE answer (key INTEGER PRIMARY KEY, test INTEGER NOT NULL {_REF.format("blind_test")}, place INTEGER NOT NULL
    CHECK (place >= 0), at INTEGER NOT NULL, off INTEGER NOT NULL, chosen TEXT NOT NULL,
    "right" INTEGER CHECK ("right" IN (0, 1)), note TEXT NOT NULL, replaces INTEGER UNIQUE {_REF.format("answer")}) STRICT""",
    "CREATE INDEX answer_test ON answer (test, place)",
    *(
        f"CREATE TRIGGER answer_record_{verb.lower()} BEFORE {verb} ON answer BEGIN SELECT RAISE (ABORT, 'record'); END"
        for verb in ("UPDATE", "DELETE")
    ),
)

TEXT_INDEX: tuple[str, ...] = ()
