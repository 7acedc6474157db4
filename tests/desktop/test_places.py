# SPDX-License-Identifier: MIT
"""Where a book lies: what is known to be shared is told, and nothing else is."""

import os
from pathlib import Path

import pytest

from desktop.places import Mounted, Risk, mounted_at, names_in, risk_of

HOME = Path("/home/ida/Books/Slate.stillroom")


def at(kind: str, device: str = "/dev/sda1", root: str = "/"):
    return lambda path: Mounted(kind, device, Path(root))


def nothing(folder: Path) -> tuple[str, ...]:
    return ()


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "smbfs", "SMBFS", "fuse.sshfs", "9p", "davfs", "afs", "afpfs"])
def test_a_share_is_known_by_its_file_system(kind: str) -> None:
    assert risk_of(HOME, at(kind, root="/home/ida"), nothing) == Risk("network", Path("/home/ida"))


@pytest.mark.parametrize("device", ["//server/books", "\\\\server\\books"])
def test_a_share_is_known_by_its_device(device: str) -> None:
    assert risk_of(HOME, at("NTFS", device, "Z:/"), nothing) == Risk("network", Path("Z:/"))


@pytest.mark.parametrize("kind, device", [
    ("ext4", "/dev/sda1"), ("apfs", "/dev/disk3s5"), ("NTFS", "\\\\?\\Volume{6a-1}\\"), ("NTFS", "//?/Volume{6a-1}/"),
    ("overlay", "overlay"), ("tmpfs", "tmpfs"), ("", ""), ("fuseblk", "/dev/sdb1"),
])  # fmt: skip
def test_a_disk_of_this_computer_is_no_share(kind: str, device: str) -> None:
    assert risk_of(HOME, at(kind, device), nothing) is None


@pytest.mark.parametrize("marker", [".stfolder", ".sync", ".csync_journal.db", "._sync_0a1b2c3d.db", ".sync_12ab.db"])
def test_a_marker_above_the_book_tells_a_synchronised_folder(tmp_path: Path, marker: str) -> None:
    inner = tmp_path / "work" / "books"
    inner.mkdir(parents=True)
    (tmp_path / "work" / marker).touch()
    book = inner / "Slate.stillroom"
    assert risk_of(book, at("ext4")) == Risk("synchronised", Path(os.path.realpath(tmp_path / "work")))


@pytest.mark.parametrize("name", ["Sync", "sync", ".synced", "sync_log.db", "x.stfolder", ".sync_notes.txt"])
def test_what_only_sounds_like_a_marker_is_none(name: str) -> None:
    assert risk_of(HOME, at("ext4"), lambda folder: (name,)) is None


def test_the_real_place_counts_and_not_the_link(tmp_path: Path) -> None:
    real, links = tmp_path / "real", tmp_path / "links"
    real.mkdir()
    links.mkdir()
    (real / ".stfolder").mkdir()
    (real / "Slate.stillroom").touch()
    (links / "Slate.stillroom").symlink_to(real / "Slate.stillroom")
    assert risk_of(links / "Slate.stillroom", at("ext4")) == Risk("synchronised", Path(os.path.realpath(real)))


def test_a_folder_that_cannot_be_read_tells_nothing(tmp_path: Path) -> None:
    assert names_in(tmp_path / "gone") == ()
    assert risk_of(tmp_path / "gone" / "Slate.stillroom", at("ext4")) is None


def test_this_computer_says_what_a_path_is_mounted_from(tmp_path: Path) -> None:
    found = mounted_at(tmp_path / "Slate.stillroom")
    assert found.type and found.root in (tmp_path, *tmp_path.parents)
