"""Where a simulation goes, and what is told of it."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fdtd.cli.options import told_at_end
from fdtd.simulation import device
from fdtd.simulation.device import DOUBLE, Execution, GpuError, gpus_for

ROOM = SimpleNamespace(
    cells=SimpleNamespace(volume=np.ones(1000), index=np.argwhere(np.ones((10, 10, 10)))),
    elements=SimpleNamespace(area=np.ones(100)),
    impedance_links=SimpleNamespace(mass=np.ones(0)),
)

GPU = Execution("single", "gpu")


def gpu(free: float) -> SimpleNamespace:
    return SimpleNamespace(number=0, name="a GPU", free=int(free), total=int(free))


def found(monkeypatch: pytest.MonkeyPatch, *gpus: SimpleNamespace) -> None:
    why = "" if gpus else "no GPU with CUDA was found"
    monkeypatch.setattr(device, "find_gpus", lambda: (gpus, why))


def test_the_processor_without_a_wish() -> None:
    assert gpus_for(ROOM, 64, 0, DOUBLE, 1e6) == ()


def test_auto_takes_the_gpu_for_long_simulations_only(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, gpu(1e9))
    told: list[str] = []
    execution = Execution("single", "auto", tell=told.append)
    assert gpus_for(ROOM, 1, 0, execution, 1.0) == ()
    assert gpus_for(ROOM, 2, 0, execution, 2.0) == ()
    assert gpus_for(ROOM, 1, 0, execution, 0.1) == ()
    assert len(gpus_for(ROOM, 1, 0, execution, 100.0)) == 1
    assert told[0] == "Simulated on the processor: it takes about 1 s there."
    assert told[-1].startswith("Simulated on the GPU (a GPU): ")


def test_each_reason_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    reasons = [
        "Simulated on the processor: it takes about 1 s there.",
        "Simulated on the processor: it takes about 2 s there.",  # the same reason with other numbers
        "Simulated on the processor: it takes less than a second there.",  # or in words
        "Simulated on the GPU (a GPU): the processor would take about 100 s.",
    ]
    with told_at_end() as tell:
        for reason in reasons:
            tell(reason)
    assert capsys.readouterr().err.splitlines() == [reasons[0], reasons[-1]]


def test_threads_are_those_asked_for() -> None:
    assert Execution(threads=1).workers == 1
    assert DOUBLE.workers == device.available_threads()


def test_a_room_too_large_for_the_gpu(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, gpu(1e6))
    told: list[str] = []
    execution = Execution("single", "auto", tell=told.append)
    gpus_for(ROOM, 1, 0, execution, 1.0)
    assert gpus_for(ROOM, 1, 0, execution, 100.0) == ()
    assert len(told) == 2 and "coarser grid" in told[1]
    with pytest.raises(GpuError, match="coarser grid"):
        gpus_for(ROOM, 1, 0, GPU, 1.0)


@pytest.mark.parametrize("text", ["[2] Call to cuMemAlloc results in CUDA_ERROR_OUT_OF_MEMORY", "out of memory"])
def test_memory_that_another_program_took(text: str) -> None:
    with pytest.raises(device.GpuError, match="ran out.*coarser grid, fewer maps or --device cpu"):
        with device.within_memory():
            raise RuntimeError(text)
    with pytest.raises(RuntimeError, match="launch failure"), device.within_memory():
        raise RuntimeError("launch failure")


def test_no_gpu(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch)
    with pytest.raises(GpuError, match="no GPU"):
        gpus_for(ROOM, 1, 0, GPU, 1.0)
    told: list[str] = []
    execution = Execution("single", "auto", tell=told.append)
    assert gpus_for(ROOM, 1, 0, execution, 100.0) == ()
    assert "no GPU" in told[0]


@pytest.mark.parametrize("excitations, used", [(1, 1), (64, 1), (127, 1), (128, 2), (640, 2)])
def test_a_second_gpu_only_with_its_fill_of_excitations(
    monkeypatch: pytest.MonkeyPatch, excitations: int, used: int
) -> None:
    found(monkeypatch, gpu(1e10), gpu(1e10))
    assert len(gpus_for(ROOM, excitations, 0, GPU, 1.0)) == used


def test_a_short_simulation_takes_less_than_a_second() -> None:
    told: list[str] = []
    execution = Execution("single", "auto", tell=told.append)
    gpus_for(ROOM, 2, 0, execution, 0.04)
    assert told == ["Simulated on the processor: it takes less than a second there."]
