# SPDX-License-Identifier: MIT
"""All benchmarks, or those that are named: python -m benchmarks [NAME ...], the names as in `NAMES`."""

from __future__ import annotations

import subprocess
import sys

NAMES = ("compose", "formula", "materials", "bottles", "weighing", "smell", "compare", "chart", "freezes", "start")


def main(asked: list[str]) -> int:
    """Runs each in a process of its own, so that none warms another's caches."""
    unknown = [name for name in asked if name not in NAMES]
    if unknown:
        print(f"no benchmark {', '.join(unknown)}; there are {', '.join(NAMES)}")
        return 2
    for name in asked or NAMES:
        print(f"{name}:", flush=True)
        subprocess.run([sys.executable, "-m", f"benchmarks.{name}"], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
