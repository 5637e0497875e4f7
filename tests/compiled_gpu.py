"""A GPU for tests: the text of kernels/gpu.cu compiled as C++ for this machine, its threads run one after the other."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from fdtd.kernels.gpu import ROOM, SOURCE, Gpu

COMPILER = next((found for name in ("g++", "c++", "clang++") if (found := shutil.which(name))), None)
NO_COMPILER = "needs a C++ compiler (g++) to run the kernels without a GPU"
BEFORE = """
#include <algorithm>
#include <cstddef>
#define __device__
#define __forceinline__ inline
#define __global__
#define __launch_bounds__(...)
#define __syncthreads()
#define unroll GCC unroll 1
using std::max;
using std::min;
struct Three { unsigned x, y, z; };
static Three blockIdx, threadIdx, blockDim, gridDim;
static void atomicAdd(double *sum, double more) { *sum += more; }
"""
AFTER = """
extern "C" void run(void (*kernel)(Room, int, int), const Room *room, int odd, int ahead, int blocks, Three threads) {
    gridDim = {unsigned(blocks), 1, 1}, blockDim = threads;
    for (blockIdx.x = 0; blockIdx.x < gridDim.x; blockIdx.x++)
        for (threadIdx.z = 0; threadIdx.z < threads.z; threadIdx.z++)
            for (threadIdx.y = 0; threadIdx.y < threads.y; threadIdx.y++)
                for (threadIdx.x = 0; threadIdx.x < threads.x; threadIdx.x++) kernel(*room, odd, ahead);
}
"""


@cache
def _library(real: str) -> ctypes.CDLL:
    assert COMPILER is not None
    folder = Path(tempfile.mkdtemp())
    (folder / "gpu.cpp").write_text(BEFORE + SOURCE + AFTER, encoding="utf-8")
    command = [COMPILER, "-std=c++17", "-O1", "-w", "-fPIC", "-shared", f"-DREAL={real}", "gpu.cpp", "-o", "gpu.so"]
    subprocess.run(command, cwd=folder, check=True)
    return ctypes.CDLL(str(folder / "gpu.so"))


class _Three(ctypes.Structure):
    _fields_ = [(name, ctypes.c_uint) for name in "xyz"]


class CompiledSession:
    """What `fdtd.kernels.gpu.Session` does, with arrays of this machine."""

    def __init__(self, number: int, real: Any) -> None:
        self.library = _library("float" if real is np.float32 else "double")

    def put(self, array: np.ndarray) -> np.ndarray:
        copy = self.zeros(len(array), array.dtype)
        copy[:] = array
        return copy

    def zeros(self, count: int, kind: Any) -> np.ndarray:
        room = np.zeros(count * np.dtype(kind).itemsize + 64, np.uint8)  # wide loads need what a GPU's arrays have
        skip = -room.ctypes.data % 64
        return room[skip:][: count * np.dtype(kind).itemsize].view(kind)

    def get(self, array: np.ndarray) -> np.ndarray:
        return array.copy()

    def address(self, array: np.ndarray) -> int:
        return array.ctypes.data

    def launch(self, kernel: str, blocks: int, threads: tuple[int, ...], room: np.ndarray, odd: int, ahead: int):
        threads = (1,) if kernel == "ports" else threads  # its threads wait for each other
        three = _Three(*(*threads, 1, 1)[:3])
        assert room.dtype == ROOM
        self.library.run(self.library[kernel], ctypes.c_void_p(room.ctypes.data), odd, ahead, blocks, three)

    def captured(self, work: Callable[[], None]) -> Callable[[], None]:
        return work


COMPILED_GPU = Gpu(0, "compiled for the CPU", 1 << 40, 1 << 40, CompiledSession)
