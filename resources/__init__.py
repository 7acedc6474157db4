# SPDX-License-Identifier: MIT
"""What ships beside the code: starting materials and words, the demo studio, icons. One accessor, so that a frozen build finds
them too."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

# A frozen build lays the data out beside this module just as the source tree does.
_HOME = Path(__file__).resolve().parent


def path(name: str) -> Path:
    """The file of a resource named with '/', such as 'icons/strip.svg'.

    Raises ValueError for an absolute name or one that climbs out with '..', FileNotFoundError where there is none.
    """
    parts = PurePosixPath(name.replace("\\", "/")).parts
    if not parts or parts[0] == "/" or ".." in parts or ":" in name:
        raise ValueError(f"not a resource name: {name!r}")
    found = _HOME.joinpath(*parts)
    if not found.exists():
        raise FileNotFoundError(f"no resource {name!r}")
    return found


def read_text(name: str) -> str:
    """The text of a resource (UTF-8)."""
    return path(name).read_text(encoding="utf-8")


def read_bytes(name: str) -> bytes:
    """The bytes of a resource."""
    return path(name).read_bytes()
