"""A meeting point for threads that share a simulation: they spin for a moment, then give way to whoever else wants to
run.

A barrier of the operating system puts threads to sleep and wakes them, which takes longer than a step of a small room.
"""

from __future__ import annotations

import os
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

from fdtd.kernels.compiled import steady

_code: Any = intrinsic  # its declared type is that of the generator, not of the function it makes
SPINS = 4000
"""Looks at the counter before giving way: some microseconds, about what threads of one step differ by."""
_give_way = types.ExternalFunction("SwitchToThread" if os.name == "nt" else "sched_yield", types.int32())


def _counter(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
    return cgutils.create_struct_proxy(signature.args[0])(context, builder, arguments[0]).data


@_code
def _arrive(typing, barrier):
    """Adds 1 to gate[0] as one indivisible act; returns what it was before."""

    def generate(context, builder, signature, arguments):
        place = _counter(context, builder, signature, arguments)
        return builder.atomic_rmw("add", place, ir.Constant(ir.IntType(64), 1), "seq_cst")

    return types.int64(barrier), generate


@_code
def _arrived(typing, barrier):
    """gate[0] as other threads have left it; nothing is read ahead of it."""

    def generate(context, builder, signature, arguments):
        place = _counter(context, builder, signature, arguments)
        return builder.load_atomic(place, "seq_cst", 8)

    return types.int64(barrier), generate


@steady
def meet(barrier, thread_group):
    """Returns once all `thread group` threads have called it as often; gate : (1,) int64, zero at the start."""
    goal = (_arrive(barrier) // thread_group + 1) * thread_group
    spins = 0
    while _arrived(barrier) < goal:
        spins += 1
        if spins > SPINS:
            _give_way()
