# SPDX-License-Identifier: MIT
"""The habits of this house, held by tests: who imports whom, types, style, and what stands at the top of a file."""

import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
PACKAGES = ("perfumery", "db", "desktop", "resources")
MODULES = [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]
LINES_AT_MOST = 600


def _run(*arguments: str) -> str:
    """What Python prints, started with these arguments; fails the test with it when it ends in an error."""
    command = [sys.executable, *arguments]
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    if done.returncode:
        pytest.fail(f"{' '.join(arguments)}\n{done.stdout}", pytrace=False)
    return done.stdout


def _pins() -> dict[str, str]:
    """Name and version of every pinned library."""
    lines = (ROOT / "packaging" / "pins.txt").read_text(encoding="utf-8").splitlines()
    wanted = [line.partition("#")[0].strip() for line in lines]
    pins = [Requirement(line) for line in wanted if line]
    assert [str(pin.specifier) for pin in pins if not re.fullmatch(r"==[\w.]+", str(pin.specifier))] == []
    return {canonicalize_name(pin.name): str(pin.specifier).removeprefix("==") for pin in pins}


def test_imports_go_one_way() -> None:
    # The console script would name the folder in which the environment was built, and there is no `-m importlinter`.
    said = _run("-c", "from importlinter.cli import lint_imports_command as lint; lint(['--no-cache'])")
    assert ", 0 broken." in said


def test_types_hold(tmp_path: Path) -> None:
    _run("-m", "mypy", f"--cache-dir={tmp_path}")


def test_style_holds() -> None:
    _run("-m", "ruff", "check", "--no-cache", "--output-format=concise", ".")


def test_no_package_shadows_a_library() -> None:
    """tests/ and packaging/ are folders, not packages: `packaging` is also a library that pytest needs."""
    assert [str(path) for folder in ("tests", "packaging") for path in (ROOT / folder).rglob("__init__.py")] == []
    assert set(PACKAGES).isdisjoint(packages_distributions())


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_module_begins_with_its_licence_and_why_it_exists(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    lines = text.splitlines()
    assert lines[:1] == ["# SPDX-License-Identifier: MIT"]
    assert text.count("SPDX-License-Identifier") == 1
    code = next((line for line in lines[1:] if line.strip() and not line.startswith("#")), "")
    assert re.match(r'r?"""\S', code), "no module docstring"
    assert len(lines) <= LINES_AT_MOST


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_uncovered_lines_say_why(path: Path) -> None:
    bare = re.compile(r"#\s*pragma:\s*no cover\W*$")
    lines = path.read_text(encoding="utf-8").splitlines()
    assert [number for number, line in enumerate(lines, 1) if bare.search(line)] == []


def test_every_library_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pins = _pins()
    for wanted in map(Requirement, project["dependencies"]):
        assert wanted.specifier.contains(pins[canonicalize_name(wanted.name)]), wanted
