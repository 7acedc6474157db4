# SPDX-License-Identifier: MIT
"""Step 3, the weighing itself: what a making plans to weigh, and the checks of a balance."""

_REF = "REFERENCES {} (key) DEFERRABLE INITIALLY DEFERRED"

STATEMENTS = (
    "ALTER TABLE making ADD COLUMN plan TEXT NOT NULL DEFAULT '[]'",
    f"""CREATE TABLE bench_check (key INTEGER PRIMARY KEY, balance INTEGER NOT NULL {_REF.format("balance")}, at INTEGER NOT NULL,
    off INTEGER NOT NULL, weight_g REAL NOT NULL CHECK (weight_g > 0), readings TEXT NOT NULL, level_ok INTEGER CHECK (level_ok
    IN (0, 1)), warm_up_min REAL CHECK (warm_up_min >= 0), remark TEXT NOT NULL,
    replaces INTEGER UNIQUE {_REF.format("bench_check")}) STRICT""",
    "CREATE INDEX bench_check_balance ON bench_check (balance, at)",
    *(
        f"CREATE TRIGGER bench_check_record_{verb.lower()} BEFORE {verb} ON bench_check BEGIN SELECT RAISE (ABORT, 'record'); END"
        for verb in ("UPDATE", "DELETE")
    ),
)

TEXT_INDEX: tuple[str, ...] = ()
