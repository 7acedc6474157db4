# SPDX-License-Identifier: MIT
"""`python debian.py PROGRAM ICONS TREE`: lays the built folder out as a Debian package's tree, ready for `dpkg-deb --build`."""

import platform
import re
import shutil
import subprocess
import sys
import tomllib
from importlib.metadata import distribution
from pathlib import Path

import contents

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
PLACE = "usr/lib/stillroom"
# Where a desktop looks for what it shows of a program.
SHARED = {
    "stillroom.desktop": "applications",
    "stillroom.xml": "mime/packages",
    "local.stillroom.stillroom.metainfo.xml": "metainfo",
}


def lay_out(program: Path, icons: Path, tree: Path) -> None:
    """Makes the tree anew."""
    shutil.rmtree(tree, ignore_errors=True)
    shutil.copytree(program, tree / PLACE, symlinks=True)
    (tree / "usr/bin").mkdir()
    (tree / "usr/bin/stillroom").symlink_to("../lib/stillroom/stillroom")
    share = tree / "usr/share"
    for name, folder in SHARED.items():
        _copy(HERE / name, share / folder / name)
    for icon in icons.glob("*.png"):
        _copy(icon, share / f"icons/hicolor/{icon.stem}x{icon.stem}/apps/stillroom.png")
    _copy(ROOT / "resources/icons/stillroom.svg", share / "icons/hicolor/scalable/apps/stillroom.svg")
    _write(share / "doc/stillroom/copyright", _copyright())
    # what a restrictive umask of the builder would keep from everybody else
    for path in tree.rglob("*"):
        if not path.is_symlink():
            path.chmod(0o755 if path.is_dir() or path.stat().st_mode & 0o100 else 0o644)
    _write(tree / "DEBIAN/control", _control(tree))


def needed_packages(tree: Path) -> list[str]:
    """The packages that hold the libraries which the tree's own are linked with and the tree has not."""
    own = {path.name for path in tree.rglob("*")}
    binaries = [path for path in sorted(tree.rglob("*")) if path.is_file() and not path.is_symlink() and _is_binary(path)]
    said = subprocess.run(["objdump", "-p", *binaries], stdout=subprocess.PIPE, text=True, check=True).stdout
    names = sorted(set(re.findall(r"^ +NEEDED +(\S+)$", said, re.MULTILINE)) - own)
    # No architecture's folder is named; libraries for building on another machine lie in /usr/THAT-ONE/lib.
    known = subprocess.run(["dpkg-query", "-S", *(f"*/lib/*-linux-gnu*/{name}" for name in names)],
                           stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True).stdout  # fmt: skip
    owners = {Path(line.rpartition(": ")[2]).name: line.partition(":")[0] for line in known.splitlines()}
    strange = [name for name in names if name not in owners]
    if strange:
        sys.exit(f"no package on this machine holds {', '.join(strange)}")
    packages = {owners[name] for name in names}
    # the oldest system it runs on is the one it was built on
    return [f"libc6 (>= {platform.libc_ver()[1]})", *sorted(packages - {"libc6"}), "fonts-dejavu-core"]


def _is_binary(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(4) == b"\x7fELF"


def _control(tree: Path) -> str:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    size = sum(path.lstat().st_size for path in tree.rglob("*") if not path.is_dir())
    machine = subprocess.run(["dpkg", "--print-architecture"], stdout=subprocess.PIPE, text=True, check=True).stdout.strip()
    return (
        f"Package: stillroom\nVersion: {project['version']}\nArchitecture: {machine}\n"
        f"Maintainer: {project['authors'][0]['name']} <stillroom@localhost>\n"
        f"Installed-Size: {size // 1024}\nSection: science\nPriority: optional\n"
        f"Depends: {', '.join(needed_packages(tree))}\n"
        # what puts the icon into the menu and knows a book by its content
        "Recommends: desktop-file-utils, hicolor-icon-theme, shared-mime-info\n"
        f"Description: {project['description']}\n"
        " A bench book for perfumers who work by weight: one window, one local file, no\n account and no network.\n"
    )


def _copyright() -> str:
    lines = ["Stillroom\n", (ROOT / "LICENSE").read_text(encoding="utf-8")]
    lines.append(f"The program comes with Python, and with these libraries. Their licences are in /{PLACE}/_internal/licences.\n")
    for name in contents.libraries((ROOT / "packaging/pins.txt").read_text(encoding="utf-8")):
        about = distribution(name).metadata
        licence = about.get("License-Expression") or (about.get("License") or "see its own text").splitlines()[0].strip(" =")
        lines.append(f"{name} {about['Version']}: {licence or 'see its own text'}")
    lines.append(
        "\nQt, PySide6 and Shiboken are used under the LGPL, version 3: /usr/share/common-licenses/LGPL-3. They are separate"
        f"\nfiles in /{PLACE}/_internal/PySide6 and may be exchanged for others."
    )
    return "\n".join(lines) + "\n"


def _copy(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    lay_out(*map(Path, sys.argv[1:4]))
