# SPDX-License-Identifier: MIT
"""The package: everything of ours goes in, what the app needs stays in, and the desktop is told the same by every file."""

import configparser
import importlib.util
import re
import sqlite3
import tomllib
from contextlib import closing
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import pytest

from db import Book

ROOT = Path(__file__).parents[2]
BUNDLE = ROOT / "packaging" / "bundle"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
KIND = "application/x-stillroom"
SHARED = "{http://www.freedesktop.org/standards/shared-mime-info}"


@pytest.fixture(scope="module")
def contents() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bundle_contents", BUNDLE / "contents.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def entry() -> configparser.SectionProxy:
    read = configparser.ConfigParser(interpolation=None)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read(BUNDLE / "stillroom.desktop", encoding="utf-8")
    return read["Desktop Entry"]


@pytest.fixture(scope="module")
def metainfo() -> ElementTree.Element:
    return ElementTree.parse(BUNDLE / "local.stillroom.stillroom.metainfo.xml").getroot()


def test_every_package_of_ours_goes_in(contents: ModuleType) -> None:
    assert list(contents.PACKAGES) == PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
    modules = contents.our_modules(ROOT)
    files = [path for package in contents.PACKAGES for path in (ROOT / package).rglob("*.py")]
    assert len(modules) == len(files)
    assert {"desktop", "desktop.__main__", "desktop.pages.views", "db.steps"} <= set(modules)


def test_what_pages_import_by_name_goes_in(contents: ModuleType) -> None:
    text = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "desktop" / "pages").rglob("page.py"))
    named = set(re.findall(r'"(desktop\.pages(?:\.\w+)+)"', text))
    assert named and named <= set(contents.our_modules(ROOT))


def test_every_resource_goes_in_where_the_accessor_looks(contents: ModuleType) -> None:
    placed = {f"{folder}/{Path(file).name}" for file, folder in contents.our_data(ROOT)}
    assert {"resources/words.json", "resources/icons/stillroom.svg", "resources/materials.csv"} <= placed
    assert all(contents.wanted(place) for place in placed)


@pytest.mark.parametrize(
    "place, wanted",
    [
        ("PySide6/Qt/plugins/platforms/libqxcb.so", True),
        ("PySide6/plugins/platforms/qwindows.dll", True),
        ("PySide6\\plugins\\platforms\\qwindows.dll", True),
        ("PySide6/Qt/plugins/platforms/libqeglfs.so", False),
        ("PySide6/Qt/plugins/platformthemes/libqgtk3.so", False),
        ("PySide6/Qt/plugins/sqldrivers/libqsqlite.so", False),
        ("PySide6/Qt/translations/qtbase_de.qm", False),
        ("matplotlib/mpl-data/fonts/ttf/LastResortHE-Regular.ttf", True),
        ("matplotlib/mpl-data/sample_data/grace_hopper.jpg", False),
        ("numpy/_core/_multiarray_umath.cpython-311-x86_64-linux-gnu.so", True),
    ],
)
def test_wanted(contents: ModuleType, place: str, wanted: bool) -> None:
    assert contents.wanted(place) is wanted


@pytest.mark.parametrize(
    "source, of_the_system",
    [
        ("/usr/lib/x86_64-linux-gnu/libxcb-cursor.so.0", True),
        ("/lib/x86_64-linux-gnu/libz.so.1", True),
        ("/usr/lib/x86_64-linux-gnu/libpython3.11.so.1.0", False),
        ("/usr/local/lib/libsqlite3.so.0", False),
        ("/home/me/stillroom/.venv/lib/python3.11/site-packages/PySide6/Qt/lib/libQt6Core.so.6", False),
    ],
)
def test_of_the_system(contents: ModuleType, source: str, of_the_system: bool) -> None:
    assert contents.of_the_system(source) is of_the_system


def test_libraries_are_kept_for_what_is_linked_with_them(contents: ModuleType) -> None:
    linked = {"/plugin.so": ["liba.so", "libc.so.6"], "/a": ["libb.so"], "/b": ["liba.so"], "/c": []}
    found = {"Qt/lib/liba.so": "/a", "Qt/lib/libb.so": "/b", "Qt/lib/libc.so": "/c"}
    assert contents.needed(found, ["/plugin.so"], linked.__getitem__) == {"Qt/lib/liba.so", "Qt/lib/libb.so"}


def test_libraries_of_the_app_are_told_from_those_of_the_tests(contents: ModuleType) -> None:
    names = contents.libraries((ROOT / "packaging" / "pins.txt").read_text(encoding="utf-8"))
    wanted = {re.split(r"[<>=]", need)[0] for need in PROJECT["project"]["dependencies"]}
    assert wanted <= set(names) and "pytest" not in names


def test_what_builds_is_pinned() -> None:
    lines = (ROOT / "packaging" / "pins-build.txt").read_text(encoding="utf-8").splitlines()
    pins = [line.partition("#")[0].strip() for line in lines]
    assert [pin for pin in pins if pin and not re.fullmatch(r"[\w.-]+==[\w.]+", pin)] == []


def test_desktop_entry(entry: configparser.SectionProxy) -> None:
    assert entry["Name"] == "Stillroom" and entry["Icon"] == "stillroom"
    assert entry["Exec"] == "stillroom %f" and entry["MimeType"] == f"{KIND};"
    # what the running window calls itself, so that a dock puts it under this entry
    assert 'setDesktopFileName("stillroom")' in (ROOT / "desktop" / "__main__.py").read_text(encoding="utf-8")


def test_metainfo_says_version_entry_and_kind(metainfo: ElementTree.Element) -> None:
    release = metainfo.find("releases/release")
    assert release is not None and release.get("version") == PROJECT["project"]["version"]
    assert metainfo.findtext("project_license") == PROJECT["project"]["license"]
    assert metainfo.findtext("launchable") == "stillroom.desktop"
    assert metainfo.findtext("provides/mediatype") == KIND


def test_a_book_is_known_by_its_header(tmp_path: Path) -> None:
    kind = ElementTree.parse(BUNDLE / "stillroom.xml").getroot().find(f"{SHARED}mime-type")
    assert kind is not None and kind.get("type") == KIND
    outer = kind.find(f"{SHARED}magic/{SHARED}match")
    inner = kind.find(f"{SHARED}magic/{SHARED}match/{SHARED}match")
    assert outer is not None and inner is not None
    book = tmp_path / "book.stillroom"
    Book.create(book, "Bench").close()
    with closing(sqlite3.connect(tmp_path / "other")) as other:
        other.execute("CREATE TABLE anything (x)")

    def is_kind(file: Path) -> bool:
        header = file.read_bytes()[:100]
        named = int(inner.get("value", ""), 16).to_bytes(4, "big")
        begins = outer.get("value", "").encode()
        at = int(inner.get("offset", ""))
        return header.startswith(begins) and header[at : at + 4] == named

    assert is_kind(book) and not is_kind(tmp_path / "other")
