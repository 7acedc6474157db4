# SPDX-License-Identifier: MIT
"""Step 6: who names a carrier is found without reading every line.

A material that is taken back is looked for wherever it may be referred to. Without these, each one read all lines, strips and
bottles of the book: the undo of an import of thousands took minutes.
"""

STATEMENTS = (
    "CREATE INDEX line_carrier ON line (carrier) WHERE carrier IS NOT NULL",
    "CREATE INDEX strip_carrier ON strip (carrier) WHERE carrier IS NOT NULL",
    "CREATE INDEX bottle_carrier ON bottle (carrier) WHERE carrier IS NOT NULL",
)

TEXT_INDEX: tuple[str, ...] = ()
