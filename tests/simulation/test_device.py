"""Where a simulation goes, and that each reason is told once."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fdtd.simulation import device, gpu_choice
from fdtd.simulation.device import gpus_for, simulating_on
from fdtd.simulation.gpu_choice import GpuError

ROOM = SimpleNamespace(
    cells=SimpleNamespace(volume=np.ones(1000), index=np.argwhere(np.ones((10, 10, 10)))),
    elements=SimpleNamespace(area=np.ones(100)),
    impedance_links=SimpleNamespace(mass=np.ones(0)),
)


def gpu(free: float) -> SimpleNamespace:
    return SimpleNamespace(number=0, name="a GPU", free=int(free), total=int(free))


def found(monkeypatch: pytest.MonkeyPatch, *gpus: SimpleNamespace) -> None:
    why = "" if gpus else "no GPU with CUDA was found"
    monkeypatch.setattr(gpu_choice, "find_gpus", lambda: (gpus, why))


def test_the_processor_without_a_wish() -> None:
    assert gpus_for(ROOM, 64, 0, "single", 1e6) == ()


def test_auto_takes_the_gpu_for_long_simulations_only(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, gpu(1e9))
    told: list[str] = []
    with simulating_on("auto", told.append):
        assert gpus_for(ROOM, 1, 0, "single", 1.0) == ()
        assert gpus_for(ROOM, 2, 0, "single", 2.0) == ()  # the same reason with other numbers
        assert gpus_for(ROOM, 1, 0, "single", 0.1) == ()  # or in words
        assert len(gpus_for(ROOM, 1, 0, "single", 100.0)) == 1
    assert told[0] == "Simulated on the processor: it takes about 1 s there."
    assert [line.partition(":")[0] for line in told] == [
        "Simulated on the processor",
        "Simulated on the GPU (a GPU)",
    ]


def test_a_room_too_large_for_the_gpu(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, gpu(1e6))
    told: list[str] = []
    with simulating_on("auto", told.append):
        gpus_for(ROOM, 1, 0, "single", 1.0)
        assert gpus_for(ROOM, 1, 0, "single", 100.0) == ()
    assert len(told) == 2 and "coarser grid" in told[1]
    with simulating_on("gpu"), pytest.raises(GpuError, match="coarser grid"):
        gpus_for(ROOM, 1, 0, "single", 1.0)


@pytest.mark.parametrize("text", ["[2] Call to cuMemAlloc results in CUDA_ERROR_OUT_OF_MEMORY", "out of memory"])
def test_memory_that_another_program_took(text: str) -> None:
    with pytest.raises(gpu_choice.GpuError, match="ran out.*coarser grid, fewer maps or --device cpu"):
        with gpu_choice.within_memory():
            raise RuntimeError(text)
    with pytest.raises(RuntimeError, match="launch failure"), gpu_choice.within_memory():
        raise RuntimeError("launch failure")


def test_no_gpu(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch)
    with simulating_on("gpu"), pytest.raises(GpuError, match="no GPU"):
        gpus_for(ROOM, 1, 0, "single", 1.0)
    told: list[str] = []
    with simulating_on("auto", told.append):
        assert gpus_for(ROOM, 1, 0, "single", 100.0) == ()
    assert "no GPU" in told[0]


@pytest.mark.parametrize("excitations, used", [(1, 1), (64, 1), (127, 1), (128, 2), (640, 2)])
def test_a_second_gpu_only_with_its_fill_of_excitations(
    monkeypatch: pytest.MonkeyPatch, excitations: int, used: int
) -> None:
    found(monkeypatch, gpu(1e10), gpu(1e10))
    with simulating_on("gpu"):
        assert len(gpus_for(ROOM, excitations, 0, "single", 1.0)) == used
    assert device._setting.wish == "cpu"  # as before


def test_a_short_simulation_takes_less_than_a_second() -> None:
    told: list[str] = []
    with simulating_on("auto", told.append):
        gpus_for(ROOM, 2, 0, "single", 0.04)
    assert told == ["Simulated on the processor: it takes less than a second there."]
