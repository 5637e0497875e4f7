"""What people call tables and keys: every word leads to the name here, and the rest of the file is read as meant."""

from __future__ import annotations

import pytest

from fdtd.errors import SceneError
from fdtd.scene import tables
from fdtd.scene.read import read_scene_text
from fdtd.scene.sections import heading
from fdtd.scene.text import did_you_mean
from fdtd.scene.words import TERMS, WORDS, terms_for

from .sample import TEXT, edited, line_of


def problems(text: str) -> list[str]:
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    return list(caught.value.problems)


@pytest.mark.parametrize(
    ("word", "table"),
    [
        ("listeners", "seats"),
        ("listening_positions", "seats"),
        ("microphones", "seats"),
        ("mics", "seats"),
        ("chairs", "seats"),
        ("speakers", "sources"),
        ("Loudspeakers", "sources"),
        ("subwoofers", "sources"),
        ("subs", "sources"),
        ("left speaker", "sources"),
        ("speaker 2", "sources"),
        ("window_1", "patches"),
        ("partitions", "sheets"),
        ("room-dividers", "sheets"),
        ("screens", "sheets"),
        ("traps", "absorbers"),
        ("bass_traps", "absorbers"),
        ("panels", "absorbers"),
        ("doors", "patches"),
        ("windows", "patches"),
        ("carpet", "patches"),
        ("cupboards", "blocks"),
        ("boxes", "blocks"),
        ("couch", "fills"),
        ("sofas", "fills"),
        ("scenarios", "variants"),
        ("environment", "air"),
        ("geometry", "room"),
        ("simulation", "run"),
        ("placement", "spots"),
    ],
)
def test_a_table_by_another_name(word: str, table: str) -> None:
    (told,) = problems(
        edited(("[run]", f'[["{word}"]]\nname = "x"\n\n[run]'))
        if table not in ("run", "air", "room")
        else TEXT.replace(f"[{table}]", f"[{word}]")
    )[:1]
    assert f'key "{word}": found a table that has no meaning here; did you mean {heading(table)} (' in told


@pytest.mark.parametrize(
    ("word", "two"),
    [
        ("furniture", ("[[fills]]", "[[blocks]]")),
        ("walls", ("[surfaces]", "[[sheets]]")),
        ("openings", ("[[patches]]", "[[sheets]]")),
        ("curtains", ("[[patches]]", "[[sheets]]")),
    ],
)
def test_a_word_for_two_tables_names_both(word: str, two: tuple[str, str]) -> None:
    told = problems(edited(("[run]", f'[[{word}]]\nname = "x"\n\n[run]')))
    assert len(told) == 1 and all(f"{one} (" in told[0] for one in two), told


@pytest.mark.parametrize(
    ("word", "table"),
    [
        ("speakers", "sources"),
        ("listeners", "seats"),
        ("dividers", "sheets"),
        ("traps", "absorbers"),
        ("scenarios", "variants"),
    ],
)
def test_a_table_by_another_name_is_one_mistake(word: str, table: str) -> None:
    """No follow-ups: what is inside is read as it is meant."""
    (told,) = problems(TEXT.replace(f"[[{table}]]", f"[[{word}]]"))
    assert f"line {line_of(TEXT, f'[[{table}]]')}, " in told


def test_what_is_in_a_table_by_another_name_is_checked_with_its_lines() -> None:
    text = TEXT.replace("[[sources]]", "[[speakers]]").replace("delay = 2.5", "delay = -1")
    told = problems(text)
    assert len(told) == 2 and f"line {line_of(text, 'delay = -1')}, [[sources]] " in told[1]


def test_a_key_above_the_first_heading() -> None:
    (told,) = problems(edited(("scene = 1", "scene = 1\ngrid = 0.12"), ("\ngrid = 0.12\nduration", "\nduration")))
    assert 'key "grid": found a key that has no meaning here; it belongs to [run]: put it below that heading' in told


@pytest.mark.parametrize(
    ("word", "fields", "key"),
    [
        ("position", "seats", "at"),
        ("xyz", "seats", "at"),
        ("location", "sources", "at"),
        ("coords", "seats", "at"),
        ("label", "sources", "name"),
        ("crossover", "sources", "lowpass"),
        ("volume", "sources", "level"),
        ("size", "blocks", "from"),
        ("width", "blocks", "to"),
        ("finish", "blocks", "material"),
        ("wall", "patches", "on"),
        ("doors", "sheets", "openings"),
        ("resistivity", "fills", "flow_resistivity"),
        ("model", "absorbers", "device"),
        ("enclosure", "absorbers", "cabinet"),
    ],
)
def test_a_key_by_another_name(word: str, fields: str, key: str) -> None:
    hint = did_you_mean(word, [f.key for f in tables.TABLES[fields]], "known keys")
    assert hint.startswith("did you mean") and f'"{key}"' in hint, hint


@pytest.mark.parametrize(
    ("word", "fields", "key"),
    [
        ("width", tables.TABLES["room"], "plan"),
        ("dimensions", tables.TABLES["room"], "plan"),
        ("ceiling_height", tables.TABLES["room"], "height"),
        ("fmax", tables.TABLES["run"], "max_frequency"),
        ("cell_size", tables.TABLES["run"], "grid"),
        ("temp", tables.TABLES["air"], "temperature"),
        ("dimensions", tables.TABLES["cabinet"], "size"),
        ("exclude", tables.TABLES["variant"], "without"),
        ("changes", tables.TABLES["variant"], "set"),
        ("alpha", tables.TABLES["material"], "absorption"),
    ],
)
def test_a_key_of_a_single_table_by_another_name(word: str, fields: tuple[tables.Field, ...], key: str) -> None:
    assert did_you_mean(word, [f.key for f in fields], "known keys") == f'did you mean "{key}"?'


def test_the_words_are_data_that_fit_the_tables() -> None:
    assert set(WORDS["meanings"]) == set(tables.SECTIONS) >= set(WORDS["tables"])
    for table, words in WORDS["tables"].items():
        assert all(table in TERMS[word] for word in words.split(", "))
    assert all(word == word.lower() and "_" not in word for word in TERMS if word not in ("surface_mass",))
    assert terms_for("shelves") == terms_for("shelf") and terms_for("no such word") == ()
