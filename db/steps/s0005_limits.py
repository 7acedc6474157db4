# SPDX-License-Identifier: MIT
"""Step 5, comparing and deciding: limits, what naturals hold, a project's product category, what a decision stands on."""

_REF = "REFERENCES {} (key) DEFERRABLE INITIALLY DEFERRED"
_SHARE = "REAL CHECK ({0} BETWEEN 0 AND 1)"

STATEMENTS = (
    f"""CREATE TABLE use_limit (key INTEGER PRIMARY KEY, name TEXT NOT NULL, share_max REAL NOT NULL CHECK (share_max > 0 AND
    share_max <= 1), category TEXT NOT NULL, cas TEXT NOT NULL, material INTEGER {_REF.format("material")}, budget TEXT NOT NULL,
    source TEXT NOT NULL, dated_on TEXT, remark TEXT NOT NULL, retired_on TEXT) STRICT""",
    f"""CREATE TABLE constituent (key INTEGER PRIMARY KEY, whole INTEGER NOT NULL {_REF.format("material")}, name TEXT NOT NULL,
    cas TEXT NOT NULL, low {_SHARE.format("low")}, typical {_SHARE.format("typical")}, high {_SHARE.format("high")},
    source TEXT NOT NULL, applies INTEGER NOT NULL CHECK (applies IN (0, 1)), remark TEXT NOT NULL, retired_on TEXT) STRICT""",
    "CREATE INDEX constituent_whole ON constituent (whole)",
    "ALTER TABLE project ADD COLUMN category TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE decision ADD COLUMN evidence TEXT NOT NULL DEFAULT '[]'",
    "ALTER TABLE decision ADD COLUMN costs TEXT NOT NULL DEFAULT '{}'",
)

TEXT_INDEX: tuple[str, ...] = ()
