# SPDX-License-Identifier: MIT
"""Step 7: limits and projects that name a material are found without reading all of them.

As step 6, for the tables that were thought too small to matter: the undo of an import of thousands read each of them once a
material.
"""

STATEMENTS = (
    "CREATE INDEX use_limit_material ON use_limit (material) WHERE material IS NOT NULL",
    "CREATE INDEX project_carrier ON project (carrier) WHERE carrier IS NOT NULL",
)

TEXT_INDEX: tuple[str, ...] = ()
