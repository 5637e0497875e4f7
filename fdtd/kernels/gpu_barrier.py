"""A meeting point of all blocks of threads on a GPU, for a launch that has all of them resident at once.

The last to come releases the others by a plain counter that each block looks at with a load: looking with an atomic
operation, as could be written without machine code, makes those that arrive queue behind those that wait.
"""

from __future__ import annotations

from typing import Any

import numba
from llvmlite import ir
from numba import cuda as _cuda

cuda: Any = _cuda
SIMULATED = bool(getattr(numba.config, "ENABLE_CUDASIM", False))

if SIMULATED:

    def _arrive(barrier):
        cuda.atomic.add(barrier, 0, 1)

    def _arrived(barrier):
        return cuda.atomic.add(barrier, 0, 0)

else:
    from numba.core import types
    from numba.cuda.extending import intrinsic

    def _counter(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    @intrinsic
    def _arrive(typingctx, barrier):
        """Adds 1; all that this block has written is seen by whoever sees the sum."""

        def generate(context, builder, signature, arguments):
            place = _counter(context, builder, signature, arguments)
            number = ir.IntType(32)
            shape = ir.FunctionType(ir.VoidType(), [place.type, number])
            code = ir.InlineAsm(shape, "red.release.gpu.global.add.s32 [$0], $1;", "l,r,~{memory}", side_effect=True)
            builder.call(code, [place, number(1)])
            return context.get_dummy_value()

        return types.void(barrier), generate

    @intrinsic
    def _arrived(typingctx, barrier):
        """The sum; what blocks wrote before they added to it is seen from here on."""

        def generate(context, builder, signature, arguments):
            place = _counter(context, builder, signature, arguments)
            shape = ir.FunctionType(ir.IntType(32), [place.type])
            code = ir.InlineAsm(shape, "ld.acquire.gpu.global.s32 $0, [$1];", "=r,l,~{memory}", side_effect=True)
            return builder.call(code, [place])

        return types.int32(barrier), generate


@cuda.jit(device=True)
def everyone(barrier, target):
    """Waits until all blocks have called it so often that their arrivals sum up to `target`; barrier : (1,) int32."""
    cuda.syncthreads()
    if cuda.threadIdx.x == 0:
        _arrive(barrier)
        while _arrived(barrier) < target:
            pass
    cuda.syncthreads()
