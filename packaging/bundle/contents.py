# SPDX-License-Identifier: MIT
"""What goes into the bundle and what stays out: read by the spec and held by the tests.

PyInstaller follows imports; here stands what it cannot see (modules imported by name, data) and what it takes along though the
app never asks for it. Nothing here imports PyInstaller or Qt.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path, PurePosixPath

PACKAGES = ("perfumery", "db", "desktop", "resources")

# Imported by name, or by a library where PyInstaller does not look.
BY_NAME = (
    "matplotlib.backends.backend_agg",
    "matplotlib.backends.backend_pdf",
    "matplotlib.backends.backend_svg",
    "openpyxl",
    "scipy.optimize",
    "serial.tools.list_ports",
    "sqlalchemy.dialects.sqlite.pysqlite",
)

# Found through imports that are never reached. OpenSSL goes with ssl and _hashlib: the app has no network, and hashlib has
# its own SHA-256.
LEFT_OUT = (
    "IPython", "PIL._avif", "PIL._imagingcms", "PIL._imagingft", "PIL._imagingtk", "PIL._webp", "_curses", "_hashlib", "_pytest",
    "_ssl", "_tkinter", "defusedxml", "lxml", "matplotlib.testing", "pip", "pkg_resources",
    "pluggy", "pydoc_data", "pygments", "pytest", "readline", "scipy.cluster", "scipy.integrate", "scipy.interpolate", "scipy.io",
    "scipy.ndimage", "scipy.signal", "scipy.stats", "setuptools", "sqlalchemy.dialects.mssql", "sqlalchemy.dialects.mysql",
    "sqlalchemy.dialects.oracle", "sqlalchemy.dialects.postgresql", "tkinter",
)  # fmt: skip

# Plugins of Qt by folder; a folder that is not named is left out. Windows and macOS have others under the same folders.
PLUGINS: Mapping[str, tuple[str, ...]] = {
    "iconengines": ("qsvgicon",),
    "imageformats": ("qsvg",),
    "platforminputcontexts": ("composeplatforminputcontextplugin", "ibusplatforminputcontextplugin"),
    "platforms": ("qcocoa", "qoffscreen", "qwayland", "qwindows", "qxcb"),
    "platformthemes": ("qxdgdesktopportal",),
    "printsupport": ("cupsprintersupport", "windowsprintersupport"),
    "styles": ("qmacstyle", "qmodernwindowsstyle"),
    "wayland-decoration-client": ("adwaita", "bradient"),
    "wayland-shell-integration": ("xdg-shell",),
}

# Data that libraries bring along. The fonts of matplotlib stay whole: it asks for its last resort at the first drawing and
# warns about any that its list names and the disk has not.
_DATA_LEFT_OUT = (
    re.compile(r"PySide6/(Qt/)?(translations|qml|metatypes|modules|mkspecs|resources)/"),
    re.compile(r"matplotlib/mpl-data/(images|plot_directive|sample_data|stylelib)/"),
    re.compile(r"matplotlib/mpl-data/fonts/(afm|pdfcorefonts)/"),
    re.compile(r"(^|/)(tests?|typing)/"),
    re.compile(r"\.(pyi|pxd|pyx|h|hpp|c|cpp|f90|lib|a|typed)$"),
)
_SYSTEM = re.compile(r"/(usr/)?lib(32|64)?/([^/]+-linux-gnu[^/]*/)?[^/]+$")


def our_modules(root: Path) -> list[str]:
    """Every module of our packages, in order: pages, ladder steps and pieces of charts are imported by name."""
    files = [path.relative_to(root) for package in PACKAGES for path in (root / package).rglob("*.py")]
    return sorted({".".join(path.with_suffix("").parts).removesuffix(".__init__") for path in files})


def our_data(root: Path) -> list[tuple[str, str]]:
    """(file, folder in the bundle) of everything in resources that is no code."""
    files = sorted(path for path in (root / "resources").rglob("*") if path.is_file())
    data = [path for path in files if path.suffix not in {".py", ".pyc"}]
    return [(str(path), path.relative_to(root).parent.as_posix()) for path in data]


def libraries(pins: str) -> list[str]:
    """The names of the app's own libraries in the text of pins.txt: what is pinned above the tests' part."""
    wanted = (line.partition("#")[0].strip() for line in pins.partition("# The tests")[0].splitlines())
    return [line.partition("==")[0] for line in wanted if line]


def plugin(place: str) -> tuple[str, str] | None:
    """(folder, plugin) of a Qt plugin's place in the bundle; None for what is none."""
    parts = PurePosixPath(place.replace("\\", "/")).parts
    if "PySide6" not in parts or "plugins" not in parts:
        return None
    return parts[-2], parts[-1].partition(".")[0].removeprefix("lib")


def wanted(place: str) -> bool:
    """Whether something with this place in the bundle is wanted: library, plugin or data."""
    found = plugin(place)
    if found is not None:
        return found[1] in PLUGINS.get(found[0], ())
    return not any(pattern.search(place.replace("\\", "/")) for pattern in _DATA_LEFT_OUT)


def of_the_system(source: str) -> bool:
    """Whether a library is one that Debian has in its own folder: such come with the packages that the .deb depends on, and so
    get their security fixes from there. Python itself may lie there too, and goes along."""
    return bool(_SYSTEM.match(source)) and not PurePosixPath(source).name.startswith("libpython")


def needed(found: Mapping[str, str], others: Iterable[str], imports: Callable[[str], Iterable[str]]) -> set[str]:
    """The places of those libraries {place: source} that `others` (sources) are linked with, and what these need in turn.

    `imports` tells the file names that a binary is linked with. What was only there for a plugin that is left out goes too.
    """
    by_file: dict[str, list[str]] = {}
    for place in found:
        by_file.setdefault(PurePosixPath(place).name, []).append(place)
    kept: set[str] = set()
    left = list(others)
    while left:
        for wished in imports(left.pop()):
            for place in by_file.get(PurePosixPath(wished).name, ()):
                if place not in kept:
                    kept.add(place)
                    left.append(found[place])
    return kept
