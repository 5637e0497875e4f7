"""Where a march goes, and that each reason is told once."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fdtd.march import device, gpu_choice
from fdtd.march.device import cards_for, marching_on
from fdtd.march.gpu_choice import CardError

ROOM = SimpleNamespace(
    cells=SimpleNamespace(volume=np.ones(1000)), pieces=SimpleNamespace(area=np.ones(100)),
    loose=SimpleNamespace(mass=np.ones(0)),
)  # fmt: skip


def card(free: float) -> SimpleNamespace:
    return SimpleNamespace(number=0, name="a card", free=int(free), total=int(free))


def found(monkeypatch: pytest.MonkeyPatch, *cards: SimpleNamespace) -> None:
    why = "" if cards else "no graphics card with CUDA was found"
    monkeypatch.setattr(gpu_choice, "find_cards", lambda: (cards, why))


def test_the_processor_without_a_wish() -> None:
    assert cards_for(ROOM, 64, 0, "single", 1e6) == ()


def test_auto_takes_the_card_for_long_marches_only(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, card(1e9))
    told: list[str] = []
    with marching_on("auto", told.append):
        assert cards_for(ROOM, 1, 0, "single", 1.0) == ()
        assert cards_for(ROOM, 2, 0, "single", 2.0) == ()  # the same reason with other numbers
        assert cards_for(ROOM, 1, 0, "single", 0.1) == ()  # or in words
        assert len(cards_for(ROOM, 1, 0, "single", 100.0)) == 1
    assert told[0] == "Marched on the processor: it takes about 1 s there."
    assert [line.partition(":")[0] for line in told] == [
        "Marched on the processor", "Marched on the graphics card (a card)",
    ]  # fmt: skip


def test_a_room_too_large_for_the_card(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, card(1e6))
    told: list[str] = []
    with marching_on("auto", told.append):
        cards_for(ROOM, 1, 0, "single", 1.0)
        assert cards_for(ROOM, 1, 0, "single", 100.0) == ()
    assert len(told) == 2 and "coarser grid" in told[1]
    with marching_on("gpu"), pytest.raises(CardError, match="coarser grid"):
        cards_for(ROOM, 1, 0, "single", 1.0)


@pytest.mark.parametrize("text", ["[2] Call to cuMemAlloc results in CUDA_ERROR_OUT_OF_MEMORY", "out of memory"])
def test_memory_that_another_program_took(text: str) -> None:
    with pytest.raises(gpu_choice.CardError, match="ran out.*coarser grid, fewer maps or --device cpu"):
        with gpu_choice.within_memory():
            raise RuntimeError(text)
    with pytest.raises(RuntimeError, match="launch failure"), gpu_choice.within_memory():
        raise RuntimeError("launch failure")


def test_no_card(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch)
    with marching_on("gpu"), pytest.raises(CardError, match="no graphics card"):
        cards_for(ROOM, 1, 0, "single", 1.0)
    told: list[str] = []
    with marching_on("auto", told.append):
        assert cards_for(ROOM, 1, 0, "single", 100.0) == ()
    assert "no graphics card" in told[0]


@pytest.mark.parametrize("lanes, used", [(1, 1), (64, 1), (127, 1), (128, 2), (640, 2)])
def test_a_second_card_only_with_its_fill_of_lanes(monkeypatch: pytest.MonkeyPatch, lanes: int, used: int) -> None:
    found(monkeypatch, card(1e10), card(1e10))
    with marching_on("gpu"):
        assert len(cards_for(ROOM, lanes, 0, "single", 1.0)) == used
    assert device._setting.wish == "cpu"  # as before


def test_a_short_march_takes_less_than_a_second() -> None:
    told: list[str] = []
    with marching_on("auto", told.append):
        cards_for(ROOM, 2, 0, "single", 0.04)
    assert told == ["Marched on the processor: it takes less than a second there."]
