# SPDX-License-Identifier: MIT
"""The starting materials and words: sound in themselves, and added to a book without doubling what is there."""

from pathlib import Path

import pytest

import resources
from db import Book, add_starter
from db.starter import BENCH_NAME_MAX, ESTIMATED, FROM_MEMORY, MEASURED, starter_materials, starter_words
from perfumery import Material, Property, Word, cas
from perfumery.text import fold
from perfumery.values import FORMS

MATERIALS = starter_materials()


@pytest.fixture
def book(tmp_path, clock):
    with Book.create(tmp_path / "starter.stillroom", name="Starter", clock=clock) as made:
        yield made


def _named(name: str) -> Material:
    return next(m for m in MATERIALS if m.name == name)


def _datum(name: str, kind: str) -> Property:
    return next(p for p in _named(name).properties if p.kind == kind)


def test_every_material_is_sound():
    assert len(MATERIALS) == 182
    assert [m.name for m in MATERIALS if cas.findings(m.cas)] == []
    assert [m.name for m in MATERIALS if m.form not in FORMS] == []
    assert [m.name for m in MATERIALS if len(m.bench_name) > BENCH_NAME_MAX] == []
    assert all(m.name and m.name.strip() == m.name for m in MATERIALS)


def test_no_material_stands_twice():
    assert len({m.cas for m in MATERIALS}) == len(MATERIALS)
    names = [fold(m.name) for m in MATERIALS]
    assert len(set(names)) == len(names)
    # no other name of one is the name of another, or a search would find the wrong one first
    for material in MATERIALS:
        others = {fold(m.name) for m in MATERIALS if m is not material}
        assert others.isdisjoint(map(fold, material.synonyms)), material.name
        assert len({fold(s) for s in material.synonyms}) == len(material.synonyms)


def test_every_datum_says_how_it_is_known():
    for material in MATERIALS:
        for datum in material.properties:
            assert datum.source or datum.basis, (material.name, datum)
            assert datum.basis in (MEASURED, ESTIMATED, FROM_MEMORY, "")
            assert (datum.value is None) == bool(datum.text)


@pytest.mark.parametrize(
    "name, kind, basis",
    [
        ("Ethanol", "vapour_pressure_pa", MEASURED),
        ("Ethanol", "boiling_point_c", MEASURED),
        ("Camphene", "vapour_pressure_pa", ESTIMATED),  # mean of a measured value and an estimate
        ("Coumarin", "state", ESTIMATED),  # drawn from the melting point
        ("Dipropylene glycol", "state", FROM_MEMORY),
        ("Linalool", "density_kg_m3", FROM_MEMORY),
        ("Linalool", "note class", FROM_MEMORY),
        ("Camphene", "flash_point_c", ""),  # the collection does not say how it was found
    ],
)
def test_basis_follows_the_source(name, kind, basis):
    assert _datum(name, kind).basis == basis


def test_an_extrapolated_or_calculated_vapour_pressure_is_an_estimate():
    for material in MATERIALS:
        for datum in material.properties:
            if datum.kind == "vapour_pressure_pa" and any(w in datum.source for w in ("EXTRAPOLATED", "QSPR", "EXT at")):
                assert datum.basis == ESTIMATED, material.name


def test_figures_keep_their_units():
    assert _datum("Ethanol", "boiling_point_c").value == 78.2
    assert _datum("Ethanol", "density_kg_m3").value == 789.3
    assert _datum("Ethanol", "molar_mass_g_mol").value == 46.07
    assert _datum("Ethanol", "formula").text == "C2H6O"


@pytest.mark.parametrize(
    "name, bench_name, form",
    [
        ("cis-3-Hexenol", "cis-3-Hexenol", "liquid"),
        ("1,8-Cineole", "1,8-Cineole", "liquid"),
        ("d-Limonene", "d-Limonene", "liquid"),
        ("4-tert-Butylcyclohexyl acetate", "PTBCHA", "liquid"),
        ("Sandalwood oil, East Indian", "", "essential oil"),
        ("Isobornyl cyclohexanol", "Isobornyl cyclohexanol", "viscous liquid"),
        ("Labdanum absolute", "Labdanum absolute", "absolute"),
        ("Benzoin resinoid", "Benzoin resinoid", "resinoid"),
        ("Vanillin", "Vanillin", "crystals"),
        ("Benzyl benzoate", "Benzyl benzoate", "solvent"),
    ],
)
def test_names_and_forms(name, bench_name, form):
    material = _named(name)
    assert (material.bench_name, material.form) == (bench_name, form)


def test_a_state_without_its_melting_point_is_not_believed():
    """Two rows are called solid from a melting point they do not give; both are liquids on every bench."""
    for name in ("6-Methyl-5-hepten-2-one", "Benzyl salicylate"):
        assert not _named(name).is_solid
        assert "state" not in {p.kind for p in _named(name).properties}


def test_only_solvents_are_carriers():
    assert {m.name for m in MATERIALS if m.is_carrier} == {m.name for m in MATERIALS if m.form == "solvent"}
    assert len([m for m in MATERIALS if m.is_carrier]) == 13


def test_latin_and_inci_names():
    assert _named("Lemon oil").botanical == "Citrus limon"
    assert _named("Olibanum oil").botanical == "Boswellia"
    assert _named("Water").inci == "Aqua"
    assert "(1R,2S,5R)-5-methyl-2-propan-2-yl-cyclohexan-1-ol" in _named("l-Menthol").synonyms


def test_words_without_keys_have_no_synonyms():
    words = starter_words()
    assert len({word.text for word in words}) == len(words)
    assert all(word.same_as is None and word.key is None for word in words)
    groups = {word.text: word.group for word in words}
    assert groups["pine"] == groups["conifer"] == "conifer"
    assert "effects and faults" not in groups
    assert groups["rancid"] == "effects and faults"


def test_starter_is_added_once_as_one_step(book):
    changes = []
    book.on_change(changes.append)
    put = add_starter(book)
    assert len(changes) == 1 and book.can_undo == "starter materials"
    assert len([v for v in put if isinstance(v, Material)]) == 182
    assert add_starter(book) == ()
    assert len(changes) == 1
    zest, peel = book.get(Word, "zest"), book.get(Word, "peel")
    assert zest.same_as == peel.key and zest.group == "citrus"
    book.undo()
    assert book.material_rows() == () and list(book.all(Word)) == []


def test_starter_leaves_alone_what_the_book_has(book):
    peel = Word(text="peel", group="my own")
    own = (
        Material(name="Ethanol 96 %, denatured", cas="64-17-5"),
        Material(name="juniper  BERRY oil", cas="8002-68-4"),  # the list has another CAS number
        Material(name="Aldehyde with a long name", bench_name="Décanal"),
    )
    kept = book.put(peel, *own)
    put = add_starter(book)
    names = {v.name for v in put if isinstance(v, Material)}
    assert len(names) == 179 and names.isdisjoint({"Ethanol", "Juniper berry oil", "Decanal"})
    assert "peel" not in {v.text for v in put if isinstance(v, Word)}
    assert book.get(Word, "zest").same_as == kept[0].key


def test_family_finds_its_materials(book):
    add_starter(book)
    book.put(Material(name="Pine needle oil", words=("pine", "sharp")), Material(name="Lime oil", words=("zest",)))
    assert [row.name for row in book.find_materials("conifer")] == ["Pine needle oil"]
    assert [row.name for row in book.find_materials("citrus lime")] == ["Lime oil"]


@pytest.mark.parametrize("name", ["", "/etc/hostname", "../pyproject.toml", "icons/../../pyproject.toml", "C:/x", "..\\x"])
def test_resource_names_stay_inside(name):
    with pytest.raises(ValueError, match="not a resource name"):
        resources.path(name)


def test_resources_are_read():
    assert resources.read_text("words.json").startswith("{")
    assert resources.read_bytes("materials.csv").startswith(b"kind,name,cas")
    assert resources.path("materials.csv").parent == Path(resources.__file__).parent
    with pytest.raises(FileNotFoundError):
        resources.read_text("nothing.txt")
