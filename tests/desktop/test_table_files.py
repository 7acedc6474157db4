# SPDX-License-Identifier: MIT
"""Tables from whatever spreadsheet, in whatever encoding; what is written reads back the same and is no formula."""

import subprocess
import sys
import tempfile
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desktop import table_files
from desktop.table_files import TableFile, UnreadTable

HEAD = ("name", "CAS", "parts")
ROWS = (("Vétiver, oil", "8016-96-4", "10.5"), ("=2+3", "", "-4"), ("'quoted'; name", "78-70-6", ""))


def of_text(path: Path, text: str, encoding: str = "utf-8", mark: bytes = b"") -> TableFile:
    path.write_bytes(mark + text.encode(encoding))
    (table,) = table_files.read(path)
    return table


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize(
    ("encoding", "begins"), [("utf-8", b""), ("utf-8-sig", b""), ("utf-16", b""), ("utf-16-be", b"\xfe\xff"), ("cp1252", b"")]
)
def test_any_mark_and_any_encoding(tmp_path: Path, mark: str, encoding: str, begins: bytes) -> None:
    lines = [["name", "CAS", "price"], ["Vétiver oil", "8016-96-4", "0.30"], [f'"a{mark} b"', "", "1"]]
    table = of_text(tmp_path / "t.csv", "\r\n".join(mark.join(line) for line in lines), encoding, begins)
    assert table.rows[1] == ("Vétiver oil", "8016-96-4", "0.30")
    assert table.rows[2] == (f"a{mark} b", "", "1")
    assert bool(table.remark) == (encoding == "cp1252")


def test_decimal_commas_do_not_count_as_marks(tmp_path: Path) -> None:
    table = of_text(tmp_path / "t.csv", "name;parts\nLemon oil;10,5\nCedar;2,25\n")
    assert table.rows == (("name", "parts"), ("Lemon oil", "10,5"), ("Cedar", "2,25"))


def test_rows_are_even_and_empty_ones_gone(tmp_path: Path) -> None:
    assert of_text(tmp_path / "t.csv", "a,b,,\n\n,,,\n1\n1,2,3,\n").rows == (("a", "b", ""), ("1", "", ""), ("1", "2", "3"))


def test_a_sheet_reads_as_it_is_shown(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "materials"
    book.active.append(("name", "price", "since", "carrier"))
    book.active.append(("Lemon oil", 0.1, datetime(2025, 3, 1), True))
    book.active.append(("Cedar", 3, date(2025, 1, 2), None))
    book.create_sheet("empty")
    book.save(tmp_path / "t.xlsx")
    (table,) = table_files.read(tmp_path / "t.xlsx")
    assert table == TableFile(
        "materials",
        (("name", "price", "since", "carrier"), ("Lemon oil", "0.1", "2025-03-01", "yes"), ("Cedar", "3", "2025-01-02", "")),
    )


@pytest.mark.parametrize("name", ["t.csv", "t.xlsx"])
def test_what_is_written_reads_back(tmp_path: Path, name: str) -> None:
    table_files.write(tmp_path / name, HEAD, ROWS)
    assert table_files.read(tmp_path / name)[0].rows == (HEAD, *ROWS)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_no_text_is_a_formula_to_a_spreadsheet(tmp_path: Path) -> None:
    from openpyxl import load_workbook

    table_files.write(tmp_path / "t.xlsx", HEAD, [("=HYPERLINK(1)", "+1", 5)])
    cells = list(load_workbook(tmp_path / "t.xlsx").active.iter_rows())[1]
    assert [cell.data_type for cell in cells] == ["s", "s", "n"]
    table_files.write(tmp_path / "t.csv", HEAD, [("=HYPERLINK(1)", " @x", -5)])
    assert (tmp_path / "t.csv").read_text("utf-8-sig").splitlines()[1] == "'=HYPERLINK(1),' @x,-5"


TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=12).map(lambda text: " ".join(text.split(" ")).strip())


@given(st.lists(st.tuples(TEXT, TEXT), min_size=1, max_size=5))
def test_any_text_reads_back(rows: list[tuple[str, str]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for name in ("t.csv", "t.xlsx"):
            path = Path(folder) / name
            table_files.write(path, ("one", "two"), rows)
            assert table_files.read(path)[0].rows[1:] == tuple(row for row in rows if any(row))


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        (b"", "no rows"),
        (b"\n\n;;\n", "no rows"),
        (b"PK\x03\x04 not whole", "not a whole spreadsheet"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", ".xls"),
        (b"SQLite format 3\0....", "not a table"),
    ],
)
def test_what_is_no_table_is_said(tmp_path: Path, kept: bytes, said: str) -> None:
    (tmp_path / "t.csv").write_bytes(kept)
    with pytest.raises(UnreadTable, match=said):
        table_files.read(tmp_path / "t.csv")


def test_too_much_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "t.csv").write_text("a\n" * 30)
    monkeypatch.setattr(table_files, "MOST_ROWS", 20)
    with pytest.raises(UnreadTable, match="more than 20 rows"):
        table_files.read(tmp_path / "t.csv")
    monkeypatch.setattr(table_files, "MOST_BYTES", 10)
    with pytest.raises(UnreadTable, match="larger"):
        table_files.read(tmp_path / "t.csv")


def test_a_file_that_cannot_be_written_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "t.csv"
    table_files.write(path, HEAD, ROWS)
    before = path.read_bytes()

    def rows():
        yield ROWS[0]
        raise OSError(28, "no room")

    with pytest.raises(OSError, match="no room"):
        table_files.write(path, HEAD, rows())
    assert path.read_bytes() == before and [one.name for one in tmp_path.iterdir()] == ["t.csv"]


def test_nothing_heavy_is_imported_for_a_csv() -> None:
    code = "import sys, desktop.table_files; print('openpyxl' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"
