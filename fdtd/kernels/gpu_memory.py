"""Reading and writing beside a place in memory, with the address of the place worked out once.

Array indexes are 64-bit sums, of several instructions each. Here the way from a place is a 32-bit number, which the
GPU adds in one, and a distance beyond it a constant, which it adds in none.
"""

from __future__ import annotations

from typing import Any

from fdtd.kernels.gpu_barrier import SIMULATED

if SIMULATED:

    def place(array, k):
        """Where element k stands."""
        return k

    def moved(array, spot, count):
        """The place `count` elements after `spot`."""
        return spot + count

    def beside(array, spot, way, further):
        """The element `way` + `further` after `spot`; further : a constant."""
        return array[spot + way + further]

    def put(array, spot, further, value):
        """The element `further` after `spot` becomes `value`."""
        array[spot + further] = value

else:
    from llvmlite import ir
    from numba.core import types
    from numba.cuda.extending import intrinsic

    ADDRESS = ir.IntType(64)
    GLOBAL = 1
    """Number of the GPU's main memory among its kinds of memory."""

    def _element(context: Any, builder: Any, array: Any, spot: Any, *ways: Any) -> Any:
        pointer = ir.PointerType(context.get_data_type(array.dtype), GLOBAL)
        found = builder.inttoptr(spot, pointer)
        for way in ways:
            found = builder.gep(found, [way])
        return found

    @intrinsic
    def place(typingctx, array, k):
        """Where element k stands."""

        def generate(context, builder, signature, arguments):
            start = context.make_array(signature.args[0])(context, builder, arguments[0]).data
            address = builder.ptrtoint(builder.gep(start, [arguments[1]]), ADDRESS)
            # Through machine code that does nothing, so that the compiler doesn't take the sum apart again.
            code = ir.InlineAsm(ir.FunctionType(ADDRESS, [ADDRESS]), "mov.u64 $0, $1;", "=l,l")
            return builder.call(code, [address])

        return types.int64(array, k), generate

    @intrinsic
    def moved(typingctx, array, spot, count):
        """The place `count` elements after `spot`."""

        def generate(context, builder, signature, arguments):
            size = context.get_abi_sizeof(context.get_data_type(signature.args[0].dtype))
            count = context.cast(builder, arguments[2], signature.args[2], types.int64)
            return builder.add(arguments[1], builder.mul(count, ADDRESS(size)))

        return types.int64(array, spot, count), generate

    @intrinsic
    def beside(typingctx, array, spot, way, further):
        """The element `way` + `further` after `spot`; further : a constant."""

        def generate(context, builder, signature, arguments):
            return builder.load(_element(context, builder, signature.args[0], *arguments[1:]))

        return array.dtype(array, spot, way, further), generate

    @intrinsic
    def put(typingctx, array, spot, further, value):
        """The element `further` after `spot` becomes `value`."""

        def generate(context, builder, signature, arguments):
            kind = signature.args[0]
            given = context.cast(builder, arguments[3], signature.args[3], kind.dtype)
            builder.store(given, _element(context, builder, kind, *arguments[1:3]))
            return context.get_dummy_value()

        return types.void(array, spot, further, value), generate
