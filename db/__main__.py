# SPDX-License-Identifier: MIT
"""The book from a terminal: `python -m db demo | check | show | export | read | backup`."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from db import demo
from db.book import Book
from db.errors import BookError
from perfumery import Composition, Refused, Shelf, Version, compose, parse_number, parse_strength


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command; 0 where all is well, 1 where the book has findings or refuses, 2 for unusable words."""
    asked = _parser().parse_args(arguments)
    try:
        return int(asked.run(asked))
    except (BookError, Refused) as error:
        print(f"{type(error).__name__}: {error}", file=sys.stderr)
        return 1


def _demo(asked: argparse.Namespace) -> int:
    with demo.make(asked.book) as book:
        print(f"{book.name}: {asked.book}")
    print(demo.CAUTION)
    return 0


def _check(asked: argparse.Namespace) -> int:
    with Book.open(asked.book) as book:
        findings = book.check()
    for finding in findings:
        print(f"{finding.code} {dict(finding.data)}")
    print("sound" if not findings else f"{len(findings)} findings")
    return 1 if findings else 0


def _show(asked: argparse.Namespace) -> int:
    strength = None if asked.strength is None else _fraction(asked.strength)
    with Book.open(asked.book) as book:
        version = book.get(Version, asked.version)
        if version is None:
            print(f"no version {asked.version} in this book", file=sys.stderr)
            return 1
        shelf = book.shelf(version)
        composition = compose(version, shelf, asked.amount, strength)
        if asked.json:
            print(json.dumps(_as_json(version, shelf, composition), ensure_ascii=False, indent=1))
        else:
            _print(version, shelf, composition, book.currency)
    return 0


def _fraction(text: str) -> float:
    """0.12, 12 % and 12% all mean twelve percent; a bare figure is the fraction."""
    return parse_strength(text if "%" in text else f"{parse_number(text) * 100:.12g}")


def _name(shelf: Shelf, key: int) -> str:
    return shelf.materials[key].short


def _line_name(shelf: Shelf, row: Any) -> str:
    line = row.line
    if line.accord is not None:
        accord = shelf.accords[line.accord]
        return accord.name or accord.code
    neat = _name(shelf, line.material)
    return neat if line.carrier is None else f"{neat} {line.strength * 100:g} % in {_name(shelf, line.carrier)}"


def _as_json(version: Version, shelf: Shelf, composition: Composition) -> dict[str, Any]:
    return {
        "version": version.code,
        "total_parts": composition.total_parts,
        "neat_parts": composition.neat_parts,
        "cost_per_g": composition.cost_per_g,
        "unpriced": [_name(shelf, key) for key in composition.unpriced],
        "amount_g": composition.amount_g,
        "strength": composition.strength,
        "odorant_share": composition.odorant_share(),
        "carriers": {_name(shelf, key): parts for key, parts in composition.carriers.items()},
        "expanded": {_name(shelf, key): parts for key, parts in composition.expanded.items()},
        "rows": [
            {
                "name": _line_name(shelf, row),
                "parts": row.line.parts,
                "share": row.share,
                "per_thousand": row.per_thousand,
                "grams": row.grams,
                "neat_parts": row.neat_parts,
                "cost": row.cost,
            }
            for row in composition.rows
        ],
        "findings": [{"code": f.code, "data": dict(f.data)} for f in composition.findings],
    }


def _print(version: Version, shelf: Shelf, composition: Composition, currency: str) -> None:
    print(f"{version.code} {version.name}".rstrip())
    for row in composition.rows:
        grams = "" if row.grams is None else f"{row.grams:10.4f} g"
        print(f"{_line_name(shelf, row):44} {row.line.parts:10g} {row.share * 100:9.4f} % {row.neat_parts:10.4f}{grams}")
    carriers = ", ".join(f"{_name(shelf, key)} {parts:.3f}" for key, parts in composition.carriers.items())
    print(f"total {composition.total_parts:g} parts, neat {composition.neat_parts:.4f}, carriers: {carriers or 'none'}")
    if composition.cost_per_g is not None:
        print(f"cost {'at least ' if composition.unpriced else ''}{composition.cost_per_g:.4f} {currency}/g")
    if composition.strength is not None:
        print(f"finished at {composition.strength * 100:g} %: odorant {composition.odorant_share() * 100:.2f} %")
    for finding in composition.findings:
        print(f"{finding.code} {dict(finding.data)}")


def _export(asked: argparse.Namespace) -> int:
    with Book.open(asked.book) as book:
        book.export(asked.folder)
    return 0


def _read(asked: argparse.Namespace) -> int:
    Book.read_export(asked.folder, asked.book).close()
    return 0


def _backup(asked: argparse.Namespace) -> int:
    with Book.open(asked.book) as book:
        book.backup(asked.to)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m db", description=__doc__)
    commands = parser.add_subparsers(required=True)

    def command(name: str, run: Any, what: str, *paths: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=what)
        for path in paths:
            made.add_argument(path, type=Path)
        made.set_defaults(run=run)
        return made

    command("demo", _demo, "make the invented demo studio's book", "book")
    command("check", _check, "read the whole file and say what is wrong with it", "book")
    show = command("show", _show, "work one version out", "book")
    show.add_argument("version")
    show.add_argument("--amount", type=float, help="g of concentrate")
    show.add_argument("--strength", help="finished strength, 0.12 or '12 %%'")
    show.add_argument("--json", action="store_true")
    command("export", _export, "write everything as open files", "book", "folder")
    command("read", _read, "make a book of an exported folder", "folder", "book")
    command("backup", _backup, "write a checked copy", "book", "to")
    return parser


if __name__ == "__main__":
    sys.exit(main())
