# SPDX-License-Identifier: MIT
"""The book from a terminal, for scripts and for a day when the window will not open: what is printed, and how it ends.

Run in this process for the most part; a few in a process of their own, as a user would.
"""

import json
import runpy
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

import db
from db import Book, demo
from db.__main__ import main
from perfumery import Line, Material, Project, Version, compose

ROOT = Path(db.__file__).parents[1]


def _python(*arguments, cwd=ROOT):
    return subprocess.run([sys.executable, *map(str, arguments)], cwd=cwd, capture_output=True, text=True, encoding="utf-8")


def _run(capsys, *arguments):
    """(exit code, lines printed, text of errors)"""
    code = main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return code, said.out.splitlines(), said.err


def _garbage(path, table):
    raw = sqlite3.connect(path)
    page = raw.execute("PRAGMA page_size").fetchone()[0]
    (root,) = raw.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    raw.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * page)
        file.write(b"\xa5" * page)


def test_as_a_user_runs_it(tmp_path):
    """Demo, check, show, export, read and back up, each in a process of its own."""
    path, copy, back, folder = (tmp_path / name for name in ("d.stillroom", "copy.stillroom", "back.stillroom", "export"))
    made = _python("-m", "db", "demo", path)
    assert (made.returncode, made.stderr) == (0, "")
    assert str(path) in made.stdout and demo.CAUTION in made.stdout
    for arguments in (("export", path, folder), ("read", folder, back), ("backup", back, copy)):
        done = _python("-m", "db", *arguments)
        assert (done.returncode, done.stdout, done.stderr) == (0, "", ""), arguments
    checked = _python("-m", "db", "check", copy)
    assert (checked.returncode, checked.stdout, checked.stderr) == (0, "sound\n", "")
    shown = [_python("-m", "db", "show", place, "SR-1").stdout for place in (path, copy)]
    assert shown[0] == shown[1] and shown[0].startswith("SR-1\n")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["back.stillroom", "copy.stillroom", "d.stillroom", "export"]
    refused = _python("-m", "db", "check", tmp_path / "none.stillroom")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert refused.stderr.startswith("MissingBook: ") and "Traceback" not in refused.stderr


def test_out_and_back(tmp_path, capsys):
    path, copy, back, folder = (tmp_path / name for name in ("d.stillroom", "copy.stillroom", "back.stillroom", "export"))
    code, out, err = _run(capsys, "demo", path)
    assert (code, out[-1], err) == (0, demo.CAUTION, "")
    for arguments in (("export", path, folder), ("read", folder, back), ("backup", back, copy)):
        assert _run(capsys, *arguments) == (0, [], "")
    with Book.open(path) as first, Book.look(copy) as last:
        assert list(last.all(Version)) == list(first.all(Version))
        assert last.check() == ()
    # an older copy of the same book is replaced, another book is not
    assert _run(capsys, "backup", back, copy)[0] == 0
    assert _run(capsys, "demo", tmp_path / "other.stillroom")[0] == 0
    code, _, err = _run(capsys, "backup", tmp_path / "other.stillroom", copy)
    assert code == 1 and err.startswith("BookExists: ")


def test_the_book_needs_neither_the_window_nor_the_charts():
    """Whoever reads a book from a script must not wait for libraries that draw."""
    probe = (
        "import sys, db, db.__main__\n"
        "heavy = {'PySide6', 'shiboken6', 'numpy', 'scipy', 'matplotlib', 'desktop', 'sqlalchemy.orm'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = _python("-c", probe)
    assert (done.stdout, done.stderr) == ("[]\n", "")


def test_module_run_as_a_program(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["db", "check", "none at all"])
    monkeypatch.delitem(sys.modules, "db.__main__")
    with pytest.raises(SystemExit) as ended:
        runpy.run_module("db", run_name="__main__", alter_sys=True)
    assert ended.value.code == 1
    assert capsys.readouterr().err.startswith("MissingBook: ")


def test_demo_takes_no_taken_place(tmp_path, capsys):
    path = tmp_path / "d.stillroom"
    path.write_text("mine")
    code, out, err = _run(capsys, "demo", path)
    assert (code, out) == (1, []) and err.startswith("BookExists: ")
    assert path.read_text() == "mine"


def test_check_of_a_sound_and_of_a_damaged_book(studio_path, capsys):
    assert _run(capsys, "check", studio_path) == (0, ["sound"], "")
    _garbage(studio_path, "reading")
    code, out, err = _run(capsys, "check", studio_path)
    assert (code, err) == (1, "")
    assert out[0].startswith("file-damaged {") and out[-1] == "1 findings"


@pytest.mark.parametrize("words", ["", "fly book", "check", "show book", "export book", "show book SR-1 --amount much"])
def test_unusable_words_end_with_2(capsys, words):
    with pytest.raises(SystemExit) as ended:
        main(words.split())
    assert ended.value.code == 2
    assert "usage: python -m db" in capsys.readouterr().err


@pytest.mark.parametrize("command", [("check",), ("show", "SR-1"), ("export", "to"), ("backup", "to")])
@pytest.mark.parametrize("content, error", [(None, "MissingBook"), (b"text", "NotABook"), (b"SQLite format 3\0", "DamagedBook")])
def test_refusal_is_one_line(tmp_path, capsys, monkeypatch, command, content, error):
    monkeypatch.chdir(tmp_path)
    if content is not None:
        Path("b.stillroom").write_bytes(content)
    before = sorted(tmp_path.iterdir())
    code, out, err = _run(capsys, command[0], "b.stillroom", *command[1:])
    assert (code, out) == (1, [])
    assert err.startswith(f"{error}: ") and err.count("\n") == 1
    assert sorted(tmp_path.iterdir()) == before


def test_book_open_elsewhere(studio, capsys):
    code, out, err = _run(capsys, "check", studio.path)
    assert (code, out) == (1, []) and err.startswith("LockedBook: ")


def test_read_of_a_broken_folder(tmp_path, capsys):
    (tmp_path / "export").mkdir()
    code, out, err = _run(capsys, "read", tmp_path / "export", tmp_path / "b.stillroom")
    assert (code, out) == (1, []) and err.startswith("DamagedBook: ")
    assert [entry.name for entry in tmp_path.iterdir()] == ["export"]


# show ---------------------------------------------------------------------------------------------------------------------


@pytest.fixture
def shown(tmp_path, clock):
    """A closed book with a formula whose figures are worked out by hand, and an accord in it."""
    path = tmp_path / "shown.stillroom"
    with Book.create(path, "Shown", "CHF", clock) as book:
        ethanol, linalool, ambrox = book.put(
            Material("Ethanol", is_carrier=True), Material("Linalool"), Material("Ambroxide", bench_name="Ambrox")
        )
        (project,) = book.put(Project("P"))
        diluted = Line(200.0, ambrox.key, strength=0.1, carrier=ethanol.key)
        (accord,) = book.put(Version(project.key, "A-1", (Line(50.0, linalool.key), Line(50.0, ambrox.key)), name="Inside"))
        book.put(Version(project.key, "A-2", (Line(1.0, ethanol.key),)))
        lines = (Line(700.0, linalool.key), diluted, Line(100.0, accord=accord.key))
        book.put(Version(project.key, "P-1", lines, name="Outside"))
        (bare,) = book.put(Version(project.key, "A-3", (Line(1.0, linalool.key),)))
        book.put(Version(project.key, "P-2", (Line(3.0, accord=bare.key),)))
    return path


def test_show_as_text(shown, capsys):
    code, out, err = _run(capsys, "show", shown, "P-1")
    assert (code, err) == (0, "")
    assert out[0] == "P-1 Outside"
    rows = [line.split() for line in out[1:4]]
    assert rows[0] == ["Linalool", "700", "70.0000", "%", "700.0000"]
    assert rows[1] == ["Ambrox", "10", "%", "in", "Ethanol", "200", "20.0000", "%", "20.0000"]
    assert rows[2] == ["Inside", "100", "10.0000", "%", "100.0000"]
    assert out[4] == "total 1000 parts, neat 820.0000, carriers: Ethanol 180.000"


def test_show_a_finished_amount_as_text(studio_path, capsys):
    code, out, err = _run(capsys, "show", studio_path, "SR-1", "--amount", "5", "--strength", "12 %")
    assert (code, err) == (0, "")
    grams = [float(line.split()[-2]) for line in out if line.endswith(" g")]
    assert sum(grams) == pytest.approx(5, abs=1e-3)
    (cost,) = [line for line in out if line.startswith("cost ")]
    assert cost.endswith(" EUR/g")
    (finished,) = [line for line in out if line.startswith("finished at 12 %: odorant ")]
    with Book.open(studio_path) as book:
        version = book.get(Version, "SR-1")
        composed = compose(version, book.shelf(version), 5.0, 0.12)
    assert finished.endswith(f" {composed.odorant_share() * 100:.2f} %")
    assert f"{composed.cost_per_g:.4f}" in cost
    assert ("at least" in cost) == bool(composed.unpriced)


def test_show_an_accord_without_a_name_and_without_carriers(shown, capsys):
    code, out, _ = _run(capsys, "show", shown, "P-2")
    assert code == 0 and out[0] == "P-2"
    assert out[1].startswith("A-3 ")
    assert out[2].endswith("carriers: none")


def test_show_says_what_the_sums_found(shown, capsys):
    with Book.open(shown) as book:
        version = book.get(Version, "A-2")
        codes = [finding.code for finding in compose(version, book.shelf(version)).findings]
    assert "all-carrier" in codes
    code, out, _ = _run(capsys, "show", shown, "A-2")
    assert code == 0
    assert [line.split(" ", 1)[0] for line in out[-len(codes) :]] == codes


def test_show_as_json(shown, capsys):
    code, out, err = _run(capsys, "show", shown, "P-1", "--json", "--amount", "10", "--strength", "0.2")
    assert (code, err) == (0, "")
    whole = json.loads("\n".join(out))
    assert (whole["version"], whole["total_parts"], whole["amount_g"], whole["strength"]) == ("P-1", 1000.0, 10.0, 0.2)
    assert whole["neat_parts"] == pytest.approx(820)
    assert whole["carriers"] == pytest.approx({"Ethanol": 180})
    assert whole["expanded"] == pytest.approx({"Linalool": 750, "Ambrox": 70, "Ethanol": 180})
    assert whole["odorant_share"] == pytest.approx(0.82 * 0.2)
    assert set(whole["unpriced"]) >= {"Linalool", "Ambrox"}
    row = whole["rows"][1]
    assert (row["name"], row["parts"]) == ("Ambrox 10 % in Ethanol", 200.0)
    assert (row["share"], row["per_thousand"], row["grams"], row["neat_parts"]) == pytest.approx((0.2, 200, 2, 20))
    (unpriced,) = [finding["data"] for finding in whole["findings"] if finding["code"] == "price-unknown"]
    assert unpriced == {"names": whole["unpriced"]}


@pytest.mark.parametrize("text", ["0.12", "12 %", "12%"])
def test_strength_as_fraction_or_percent(studio_path, capsys, text):
    code, out, _ = _run(capsys, "show", studio_path, "SR-1", "--json", "--strength", text)
    assert code == 0
    assert json.loads("\n".join(out))["strength"] == pytest.approx(0.12)


@pytest.mark.parametrize("text", ["strong", "", "1.2.3", "0", "-0.1", "120 %", "nan", "inf"])
def test_strength_that_is_none_is_refused(studio_path, capsys, text):
    code, out, err = _run(capsys, "show", studio_path, "SR-1", f"--strength={text}")
    assert (code, out) == (1, []) and err and "Traceback" not in err


@pytest.mark.parametrize("amount", ["0", "-5", "nan", "inf"])
def test_amount_that_is_none_is_refused(studio_path, capsys, amount):
    code, out, err = _run(capsys, "show", studio_path, "SR-1", f"--amount={amount}")
    assert (code, out) == (1, []) and err and "Traceback" not in err


def test_version_that_is_not_there(studio_path, capsys):
    assert _run(capsys, "show", studio_path, "XX-1") == (1, [], "no version XX-1 in this book\n")
