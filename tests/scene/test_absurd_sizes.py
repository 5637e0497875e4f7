"""What is absurdly deep, long, many, near zero or large is refused at once, in one or a few clear lines."""

from __future__ import annotations

import re
import time
import tracemalloc

import pytest

from fdtd import workflow
from fdtd.errors import FdtdError, SceneError
from fdtd.model import size
from fdtd.scene.mistakes import MOST_MISTAKES
from fdtd.scene.read import read_scene_text

from .sample import TEXT, edited


def refused(text: str) -> tuple[str, ...]:
    """The problems told of a scene."""
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    return caught.value.problems


DEEP = [
    ".".join("a" * 3000) + " = 1",
    " . ".join(['"a"'] * 3000) + " = 1",
    "[" + ".".join("a" * 3000) + "]",
    "[[" + ".".join("a" * 3000) + "]]",
    "a = " + "[" * 3000 + "]" * 3000,
    "a = " + "{ a = " * 3000 + "1" + "}" * 3000,
    "a.b = " + "[{ c.d = " * 7 + "1" + "}]" * 7,
]


@pytest.mark.parametrize("deep", DEEP, ids=[line[:12] for line in DEEP])
def test_deep_keys_and_brackets_are_refused_before_they_cost_anything(deep: str) -> None:
    tracemalloc.start()
    (problem,) = refused(TEXT.replace("[air]", deep + "\n[air]"))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert problem.startswith("scene.toml, line 5: found keys or brackets nested more than 20 deep")
    assert most < 2e6  # 3000 parts in the TOML parser take 20 MB, 50,000 nearly 3 GB


def test_brackets_as_deep_as_any_scene_needs_are_followed() -> None:
    problems = refused(TEXT.replace("[[seats]]", "[[seats]]\nat.b.c.d.e.f = [[[[1]]]]", 1))
    assert not any("nested" in p for p in problems)


@pytest.mark.parametrize("line", ["k{} = 1", "[t{}]", '"key {}" = 1', "[materials.m{}]\nmass = 1"])
def test_reading_ends_after_a_hundred_mistakes(line: str) -> None:
    start = time.process_time()
    problems = refused("\n".join(line.format(k) for k in range(5_000)))
    assert len(problems) == MOST_MISTAKES + 1 and len(set(problems)) == len(problems)
    assert problems[-1] == "scene.toml: reading ended after 100 mistakes; correct these first"
    assert time.process_time() - start < 3.0  # telling of all 5,000 takes longer than the rest of reading


def test_as_many_materials_as_things_are_taken() -> None:
    materials = "".join(f"[materials.m{k}]\nadmittance_ratio = 0.1\n" for k in range(501))
    assert any('"materials": found 504 of them; at most 500' in p for p in refused(TEXT + materials))


@pytest.mark.parametrize("value", ["5e-324", "-1e-310"])
def test_numbers_too_near_zero_to_reckon_with(value: str) -> None:
    (problem,) = refused(edited(("resistance = 850.0", f"resistance = {value}")))
    assert "too close to zero" in problem and "write 0" in problem


def test_rooms_in_centimetres_are_refused() -> None:
    problems = refused(edited(("[6.0, 0]", "[600, 0]"), ("[6.0, 3.1]", "[600, 310]")))
    assert any("are these cm or mm?" in p for p in problems)


def test_seats_in_a_room_in_centimetres_are_said_with_it() -> None:
    problems = refused(edited(("[6.0, 0]", "[600, 0]"), ("at = [5.0, 1.6, 1.1]", "at = [500, 160, 110]")))
    assert any('[[seats]] "sofa"' in p and "are these cm or mm?" in p for p in problems)


def test_a_room_with_more_cells_than_there_is_memory_is_refused_with_an_estimate(monkeypatch) -> None:
    scene = read_scene_text(edited(("height = 2.5", "height = 100"), ("grid = 0.12", "grid = 0.01")))
    monkeypatch.setattr(size, "machine_memory", lambda: 24e9)
    with pytest.raises(FdtdError) as caught:
        workflow.check(scene)
    said = str(caught.value)
    # 6 × 3.1 + 4 × 2.1 m² by 100 m of air in cells of a cubic centimetre, at 480 B each.
    assert said.startswith("cells of 0.01 m: this room, 6 × 5.2 × 100 m, would have about 2,700,000,000 of them")
    assert "1,300 GB of memory, and this machine has 24 GB; choose larger cells, about 0.04 m" in said


def test_the_size_that_is_advised_fits(monkeypatch) -> None:
    scene = read_scene_text(edited(("grid = 0.12", "grid = 0.02")))
    monkeypatch.setattr(size, "machine_memory", lambda: 8e6)
    with pytest.raises(FdtdError) as caught:
        workflow.check(scene)
    advised = re.search(r"choose larger cells, about ([\d.]+) m", str(caught.value))
    assert advised and 0.1 < float(advised[1]) < 0.25
    assert workflow.check(scene, grid=float(advised[1])).cells < 8e6 / size.ROOM_BYTES


def test_thin_partitions_a_hair_apart_are_refused_for_the_time_step_that_they_would_take() -> None:
    other = TEXT[TEXT.index("[[sheets]]") : TEXT.index("[[fills]]")].replace('"screen"', '"curtain"')
    for apart, refusal in ((1e-6, True), (2e-3, False)):
        text = TEXT.replace("[[fills]]", other.replace("[4.0,", f"[{4.0 + apart},") + "[[fills]]")
        scene = read_scene_text(text.replace("grid = 0.12", "grid = 0.4"))
        if refusal:
            with pytest.raises(FdtdError, match=r"at x = 4 m and 4\.000001 m are only 1e-06 m apart; move them"):
                workflow.check(scene)
        else:
            assert workflow.check(scene).smallest_cell == pytest.approx(apart)
