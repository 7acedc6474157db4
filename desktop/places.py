# SPDX-License-Identifier: MIT
"""Whether a book lies where two computers may write at once: on a network share, or in a folder that a service synchronises.

A share is known by its file system, a synchronised folder by the marker that many services keep in its root. What keeps no marker
cannot be told from any other folder, and is not guessed at.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

# Names of file systems as the systems themselves give them; from memory of their manuals, not looked up one by one.
NETWORK_TYPES = frozenset({
    "nfs", "nfs3", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "afpfs", "afs", "9p", "ncpfs", "davfs", "webdav", "sshfs",
    "fuse.sshfs", "fuse.davfs", "fuse.curlftpfs", "fuse.smbnetfs", "fuse.gvfsd-fuse",
})  # fmt: skip
# Names of what synchronising services keep beside or above the files they look after; from memory.
MARKERS = re.compile(r"\.stfolder|\.sync|\.csync_journal\.db|\._?sync_[0-9a-f]+\.db", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Risk:
    """What the place of a book is: 'network' or 'synchronised', and the folder that tells so."""

    kind: str
    folder: Path


@dataclass(frozen=True, slots=True)
class Mounted:
    """What a path is mounted from: type of file system, what it is on (a device or a share), and where it begins."""

    type: str
    device: str
    root: Path


def mounted_at(path: Path) -> Mounted:
    """As this computer says it. May take long where a share does not answer: never on the screen's thread."""
    from PySide6.QtCore import QStorageInfo

    info = QStorageInfo(str(path.parent))
    kind, device = (bytes(text.data()).decode(errors="replace") for text in (info.fileSystemType(), info.device()))
    return Mounted(kind, device, Path(info.rootPath() or path.anchor))


def names_in(folder: Path) -> Iterable[str]:
    """The names in a folder; none where it cannot be read."""
    try:
        return os.listdir(folder)
    except OSError:
        return ()


def risk_of(
    path: Path, mounted: Callable[[Path], Mounted] = mounted_at, names: Callable[[Path], Iterable[str]] = names_in
) -> Risk | None:
    """What is the matter with the place of a book; None where nothing is known against it."""
    real = Path(os.path.realpath(path))
    found = mounted(real)
    if found.type.casefold() in NETWORK_TYPES or _is_share(str(real)) or _is_share(found.device):
        return Risk("network", found.root)
    for folder in real.parents:
        if any(MARKERS.fullmatch(name) for name in names(folder)):
            return Risk("synchronised", folder)
    return None


def _is_share(name: str) -> bool:
    """Whether a name is that of a share on another computer: two strokes and a host, where a local volume has '?' or '.'."""
    return re.match(r"(//|\\\\)[^/\\?.]", name) is not None
