# SPDX-License-Identifier: MIT
"""Step 1, the first book. Frozen: a change of the tables is a new step.

`*_at` with `*_off`: milliseconds since 1970 UTC and the offset in minutes it was read at. `*_on`: a calendar day. Masses g,
shares and strengths 0..1. Lists that are always read and written whole are JSON text. References are checked at commit.
"""

_REF = "REFERENCES {} (key) DEFERRABLE INITIALLY DEFERRED"


def _ref(table: str) -> str:
    return _REF.format(table)


STATEMENTS = (
    """CREATE TABLE book (only_row INTEGER PRIMARY KEY CHECK (only_row = 1), uid TEXT NOT NULL, name TEXT NOT NULL,
    currency TEXT NOT NULL, next_key INTEGER NOT NULL, changes INTEGER NOT NULL) STRICT""",
    # shelf
    """CREATE TABLE material (key INTEGER PRIMARY KEY, name TEXT NOT NULL, cas TEXT NOT NULL, form TEXT NOT NULL,
    is_carrier INTEGER NOT NULL CHECK (is_carrier IN (0, 1)), bench_name TEXT NOT NULL, inci TEXT NOT NULL,
    botanical TEXT NOT NULL, synonyms TEXT NOT NULL, words TEXT NOT NULL, properties TEXT NOT NULL,
    retest_months INTEGER, storage TEXT NOT NULL, retired_on TEXT) STRICT""",
    f"""CREATE TABLE bottle (key INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE, kind TEXT NOT NULL CHECK (kind IN
    ('bought', 'dilution', 'accord', 'trial', 'smelling', 'batch', 'product', 'retained', 'benchmark')),
    label TEXT NOT NULL, material INTEGER {_ref("material")}, version INTEGER {_ref("version")}, price_per_g REAL,
    tare_g REAL, strength REAL NOT NULL CHECK (strength > 0 AND strength <= 1), carrier INTEGER {_ref("material")},
    lot TEXT NOT NULL, supplier TEXT NOT NULL, supplier_no TEXT NOT NULL, received_on TEXT, opened_on TEXT,
    container TEXT NOT NULL, liner TEXT NOT NULL, dropper_on TEXT, retest_on TEXT, place TEXT NOT NULL,
    remark TEXT NOT NULL, gone_on TEXT, CHECK (material IS NULL OR version IS NULL)) STRICT""",
    f"""CREATE TABLE contents (key INTEGER PRIMARY KEY, bottle INTEGER NOT NULL {_ref("bottle")}, at INTEGER NOT NULL,
    off INTEGER NOT NULL, reason TEXT NOT NULL CHECK (reason IN ('bought', 'made', 'topped up', 'drift', 'correction')))
    STRICT""",
    f"""CREATE TABLE content_share (contents INTEGER NOT NULL {_ref("contents")}, material INTEGER NOT NULL
    {_ref("material")}, share REAL NOT NULL CHECK (share > 0 AND share <= 1), PRIMARY KEY (contents, material))
    STRICT, WITHOUT ROWID""",
    # formulas
    f"""CREATE TABLE project (key INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE, name TEXT NOT NULL, brief TEXT NOT NULL,
    benchmark INTEGER {_ref("bottle")}, price_ceiling REAL, strength REAL, carrier INTEGER {_ref("material")},
    amount_g REAL NOT NULL, reading_times TEXT NOT NULL, started_on TEXT, retired_on TEXT) STRICT""",
    f"""CREATE TABLE version (key INTEGER PRIMARY KEY, project INTEGER NOT NULL {_ref("project")}, code TEXT NOT NULL,
    parent INTEGER {_ref("version")}, reason TEXT NOT NULL, takes_from INTEGER {_ref("version")}, name TEXT NOT NULL,
    total REAL NOT NULL CHECK (total > 0), made_at INTEGER NOT NULL, made_off INTEGER NOT NULL, frozen_at INTEGER,
    frozen_off INTEGER, starred INTEGER NOT NULL CHECK (starred IN (0, 1)), retired_on TEXT, UNIQUE (project, code))
    STRICT""",
    f"""CREATE TABLE line (key INTEGER PRIMARY KEY, version INTEGER NOT NULL {_ref("version")}, position INTEGER NOT NULL,
    parts REAL NOT NULL CHECK (parts >= 0), material INTEGER {_ref("material")}, accord INTEGER {_ref("version")},
    strength REAL NOT NULL CHECK (strength > 0 AND strength <= 1), carrier INTEGER {_ref("material")},
    fill_up INTEGER NOT NULL CHECK (fill_up IN (0, 1)), held INTEGER NOT NULL CHECK (held IN (0, 1)),
    as_carrier INTEGER CHECK (as_carrier IN (0, 1)), remark TEXT NOT NULL, CHECK ((material IS NULL) <> (accord IS NULL)),
    CHECK (accord IS NULL OR strength = 1), CHECK ((carrier IS NULL) = (strength = 1))) STRICT""",
    # mass moved: everything that is made, poured, dipped, spilled or found again stands in one ledger
    """CREATE TABLE balance (key INTEGER PRIMARY KEY, name TEXT NOT NULL, d_g REAL NOT NULL CHECK (d_g > 0), s_g REAL,
    max_g REAL, accuracy_g REAL, retired_on TEXT) STRICT""",
    f"""CREATE TABLE making (key INTEGER PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('dilution', 'accord', 'trial',
    'smelling', 'top-up', 'batch', 'fill')), into_bottle INTEGER NOT NULL {_ref("bottle")}, started_at INTEGER NOT NULL,
    started_off INTEGER NOT NULL, code TEXT UNIQUE, version INTEGER {_ref("version")}, balance INTEGER {_ref("balance")},
    mode TEXT NOT NULL CHECK (mode IN ('tare each', 'running total', 'by difference', 'not weighed')), target_g REAL,
    finished_at INTEGER, finished_off INTEGER, remark TEXT NOT NULL) STRICT""",
    f"""CREATE TABLE move (key INTEGER PRIMARY KEY, at INTEGER NOT NULL, off INTEGER NOT NULL, kind TEXT NOT NULL CHECK
    (kind IN ('received', 'pour', 'strip', 'used', 'spill', 'lost', 'found', 'discard', 'given', 'withdrawn')),
    mass_g REAL NOT NULL CHECK (mass_g >= 0), from_bottle INTEGER {_ref("bottle")}, to_bottle INTEGER {_ref("bottle")},
    target_g REAL, read_g REAL, u_g REAL, making INTEGER {_ref("making")}, line INTEGER {_ref("line")},
    contents INTEGER {_ref("contents")}, replaces INTEGER UNIQUE {_ref("move")}, remark TEXT NOT NULL,
    CHECK (from_bottle IS NOT NULL OR to_bottle IS NOT NULL),
    CHECK (kind <> 'pour' OR (from_bottle IS NOT NULL AND to_bottle IS NOT NULL))) STRICT""",
    # smelling
    f"""CREATE TABLE sitting (key INTEGER PRIMARY KEY, at INTEGER NOT NULL, off INTEGER NOT NULL, code TEXT NOT NULL,
    purpose TEXT NOT NULL, temp_c REAL, rh_percent REAL, cold INTEGER NOT NULL, scented INTEGER NOT NULL,
    tired INTEGER NOT NULL, benchmark INTEGER {_ref("bottle")}, blind INTEGER NOT NULL, revealed_at INTEGER,
    revealed_off INTEGER) STRICT""",
    f"""CREATE TABLE strip (key INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE, bottle INTEGER NOT NULL {_ref("bottle")},
    dipped_at INTEGER NOT NULL, dipped_off INTEGER NOT NULL, kind TEXT NOT NULL CHECK (kind IN ('paper', 'skin')),
    sitting INTEGER {_ref("sitting")}, strength REAL, carrier INTEGER {_ref("material")}, wearer TEXT NOT NULL,
    site TEXT NOT NULL, amount_g REAL, blind_code TEXT NOT NULL, reading_times TEXT NOT NULL, closed_at INTEGER,
    closed_off INTEGER) STRICT""",
    f"""CREATE TABLE reading (key INTEGER PRIMARY KEY, strip INTEGER NOT NULL {_ref("strip")}, at INTEGER NOT NULL,
    off INTEGER NOT NULL, due_s REAL, intensity REAL CHECK (intensity BETWEEN 0 AND 6 AND intensity * 2 =
    round(intensity * 2)), distance_cm REAL CHECK (distance_cm >= 0), liking INTEGER CHECK (liking BETWEEN -4 AND 4),
    words TEXT NOT NULL, note TEXT NOT NULL, entered_at INTEGER NOT NULL, entered_off INTEGER NOT NULL,
    replaces INTEGER UNIQUE {_ref("reading")}, withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1))) STRICT""",
    f"""CREATE TABLE word (key INTEGER PRIMARY KEY, text TEXT NOT NULL UNIQUE, "group" TEXT NOT NULL,
    same_as INTEGER {_ref("word")}) STRICT""",
    # words about things, decisions
    f"""CREATE TABLE note (key INTEGER PRIMARY KEY, text TEXT NOT NULL, at INTEGER NOT NULL, off INTEGER NOT NULL,
    material INTEGER {_ref("material")}, bottle INTEGER {_ref("bottle")}, version INTEGER {_ref("version")},
    project INTEGER {_ref("project")}, stage TEXT NOT NULL, replaces INTEGER UNIQUE {_ref("note")}, CHECK
    ((material IS NOT NULL) + (bottle IS NOT NULL) + (version IS NOT NULL) + (project IS NOT NULL) = 1)) STRICT""",
    f"""CREATE TABLE decision (key INTEGER PRIMARY KEY, project INTEGER NOT NULL {_ref("project")}, made_on TEXT NOT NULL,
    chosen TEXT NOT NULL, reason TEXT NOT NULL, rejected TEXT NOT NULL, code TEXT NOT NULL,
    replaces INTEGER UNIQUE {_ref("decision")}) STRICT""",
    # every reference that is searched from its other end
    "CREATE INDEX bottle_material ON bottle (material)",
    "CREATE INDEX bottle_version ON bottle (version)",
    "CREATE INDEX contents_bottle ON contents (bottle, at)",
    "CREATE INDEX content_share_material ON content_share (material)",
    "CREATE INDEX version_parent ON version (parent)",
    "CREATE INDEX line_version ON line (version, position)",
    "CREATE INDEX line_material ON line (material)",
    "CREATE INDEX line_accord ON line (accord) WHERE accord IS NOT NULL",
    "CREATE INDEX making_version ON making (version)",
    "CREATE INDEX making_into ON making (into_bottle)",
    "CREATE INDEX move_from ON move (from_bottle, at)",
    "CREATE INDEX move_to ON move (to_bottle, at)",
    "CREATE INDEX move_making ON move (making)",
    "CREATE INDEX move_line ON move (line) WHERE line IS NOT NULL",
    "CREATE INDEX strip_bottle ON strip (bottle)",
    "CREATE INDEX strip_open ON strip (dipped_at) WHERE closed_at IS NULL",
    "CREATE INDEX strip_sitting ON strip (sitting)",
    "CREATE INDEX reading_strip ON reading (strip, at)",
    "CREATE INDEX note_material ON note (material)",
    "CREATE INDEX note_bottle ON note (bottle) WHERE bottle IS NOT NULL",
    "CREATE INDEX note_version ON note (version) WHERE version IS NOT NULL",
    "CREATE INDEX note_project ON note (project) WHERE project IS NOT NULL",
    "CREATE INDEX decision_project ON decision (project)",
    # what is frozen stays
    """CREATE TRIGGER line_frozen_insert BEFORE INSERT ON line WHEN (SELECT frozen_at FROM version WHERE key = NEW.version)
    IS NOT NULL BEGIN SELECT RAISE (ABORT, 'frozen'); END""",
    """CREATE TRIGGER line_frozen_update BEFORE UPDATE ON line WHEN EXISTS (SELECT 1 FROM version WHERE key IN (OLD.version,
    NEW.version) AND frozen_at IS NOT NULL) BEGIN SELECT RAISE (ABORT, 'frozen'); END""",
    """CREATE TRIGGER line_frozen_delete BEFORE DELETE ON line WHEN (SELECT frozen_at FROM version WHERE key = OLD.version)
    IS NOT NULL BEGIN SELECT RAISE (ABORT, 'frozen'); END""",
    """CREATE TRIGGER version_frozen_update BEFORE UPDATE OF project, total, frozen_at, frozen_off ON version WHEN
    OLD.frozen_at IS NOT NULL AND (NEW.frozen_at IS NOT OLD.frozen_at OR NEW.frozen_off IS NOT OLD.frozen_off OR NEW.total <>
    OLD.total OR NEW.project <> OLD.project) BEGIN SELECT RAISE (ABORT, 'frozen'); END""",
    """CREATE TRIGGER version_frozen_delete BEFORE DELETE ON version WHEN OLD.frozen_at IS NOT NULL BEGIN SELECT
    RAISE (ABORT, 'frozen'); END""",
    """CREATE TRIGGER version_freeze_inside AFTER UPDATE OF frozen_at ON version WHEN NEW.frozen_at IS NOT NULL AND
    OLD.frozen_at IS NULL BEGIN UPDATE version SET frozen_at = NEW.frozen_at, frozen_off = NEW.frozen_off WHERE frozen_at
    IS NULL AND key IN (WITH RECURSIVE inside (v) AS (SELECT accord FROM line WHERE version = NEW.key AND accord IS NOT NULL
    UNION SELECT l.accord FROM line l JOIN inside ON l.version = inside.v WHERE l.accord IS NOT NULL) SELECT v FROM inside);
    END""",
    # records are only added to
    *(
        f"CREATE TRIGGER {table}_record_{verb.lower()} BEFORE {verb} ON {table} BEGIN SELECT RAISE (ABORT, 'record'); END"
        for table in ("contents", "content_share", "move", "reading", "note", "decision")
        for verb in ("UPDATE", "DELETE")
    ),
)

# Found newest first, never by rank; the rowid is the key of the note or reading.
TEXT_INDEX = ("""CREATE VIRTUAL TABLE note_text USING fts5 (text, tokenize = "unicode61 remove_diacritics 2")""",)
