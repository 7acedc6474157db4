# SPDX-License-Identifier: MIT
"""Books to test with: an empty one, one with a formula, the demo studio, all on a clock that only moves when told to."""

import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

from db import Book, make_demo
from perfumery import Bottle, Line, Material, Project, Version


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "Bench book.stillroom"


@pytest.fixture
def book(path: Path, clock) -> Iterator[Book]:
    """An empty book; whatever a test did with it, no transaction is left open."""
    with Book.create(path, "Bench", clock=clock) as made:
        yield made
        with suppress(sqlite3.ProgrammingError):  # closed by the test
            assert not made._file.raw.in_transaction


@dataclass
class Bench:
    """A book with two materials, a carrier and one version of each: an accord, and a formula that holds it."""

    book: Book
    project: Project
    lemon: Material
    ambroxide: Material
    ethanol: Material
    accord: Version
    version: Version


@pytest.fixture
def bench(book: Book) -> Bench:
    project, lemon, ambroxide, ethanol = book.put(
        Project("SR", "Still room"),
        Material("Lemon oil", cas="8008-56-8", form="essential oil", words=("lemon peel",)),
        Material("Ambroxide", form="crystals", synonyms=("Dodecahydrotetramethylnaphthofuran",)),
        Material("Ethanol 96 %", form="solvent", is_carrier=True, bench_name="Ethanol"),
    )
    diluted = Line(10, ambroxide.key, strength=0.1, carrier=ethanol.key)
    (accord,) = book.put(Version(project.key, "A-1", (Line(30, lemon.key), diluted)))
    (version,) = book.put(Version(project.key, "SR-1", (Line(110, lemon.key), Line(40, accord=accord.key)), name="First"))
    return Bench(book, project, lemon, ambroxide, ethanol, accord, version)


@pytest.fixture
def vial(bench: Bench) -> Bottle:
    """The vial of a trial made without weighing, which froze the version and its accord."""
    return bench.book.start_trial(bench.version.key, 5.0)[1]


@pytest.fixture(scope="session")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("studio") / "studio.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture
def studio_path(tmp_path: Path, studio_bytes: bytes) -> Path:
    path = tmp_path / "Demo studio.stillroom"
    path.write_bytes(studio_bytes)
    return path


@pytest.fixture
def studio(studio_path: Path, clock) -> Iterator[Book]:
    with Book.open(studio_path, clock) as book:
        yield book
