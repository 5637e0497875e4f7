"""Code for vector units outright: loads, stores and sums of whole vectors, and copies of stretches of numbers.

Stretches here are short, sixty numbers or eight; for those the compiler's own loops spend longer on asking whether
arrays overlap and on what is left at the end than on the numbers.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

from fdtd.kernels.compiled import FAST_MATH

VECTOR_BYTES = 32
"""With longer vectors the weights do not fit in the registers of most machines."""
AHEAD_BYTES = 1024
"""How far ahead of a vector the memory is asked for; without it, rooms that no cache holds take half as long again."""
code: Any = intrinsic
"""Marks what makes code itself; the declared type is that of the generator, not of the function it makes."""
uncompiled: bool = getattr(numba.config, "DISABLE_JIT", False)
"""Whether kernels run as plain Python."""
LOOSE = tuple(sorted(FAST_MATH))
"""What the compiler may do to sums and products here, as in all kernels."""


def vector_size(real: type) -> int:
    """Numbers in a whole vector."""
    return VECTOR_BYTES // np.dtype(real).itemsize


class Vectors:
    """Code for vectors of `size` numbers, or as many as `VECTOR_BYTES` holds."""

    def __init__(self, builder: Any, real: Any, size: int = 0) -> None:
        self.integer, self.item = ir.IntType(32), 4 if isinstance(real, ir.FloatType) else 8
        self.builder, self.real, self.size = builder, real, size or VECTOR_BYTES // self.item
        self.vector = ir.VectorType(real, self.size)

    def splat(self, value: Any) -> Any:
        """A vector of the same number."""
        kind = ir.VectorType(value.type, self.size)
        one = self.builder.insert_element(ir.Constant(kind, ir.Undefined), value, self.integer(0))
        return self.builder.shuffle_vector(
            one, one, ir.Constant(ir.VectorType(self.integer, self.size), [0] * self.size)
        )

    def load(self, pointer: Any, t: Any) -> Any:
        """The vector at t numbers after `pointer`."""
        return self.builder.load(self._place(pointer, t), align=self.item)

    def store(self, value: Any, pointer: Any, t: Any) -> None:
        """The counterpart of `load`."""
        self.builder.store(value, self._place(pointer, t), align=self.item)

    def _place(self, pointer: Any, t: Any) -> Any:
        return self.builder.bitcast(self.builder.gep(pointer, [t]), ir.PointerType(self.vector))

    def fetch(self, pointer: Any, t: Any) -> None:
        """Ask for what will be read soon: rows are too short for the processor to see where they lead."""
        builder, byte = self.builder, ir.IntType(8)
        shape = ir.FunctionType(ir.VoidType(), [ir.PointerType(byte), self.integer, self.integer, self.integer])
        ask = cgutils.get_or_insert_function(builder.module, shape, "llvm.prefetch.p0")
        ahead = t.type(AHEAD_BYTES // self.item)
        place = builder.bitcast(builder.gep(pointer, [builder.add(t, ahead)]), ir.PointerType(byte))
        builder.call(ask, [place, self.integer(0), self.integer(3), self.integer(1)])

    def weighted(self, weights: list[Any], values: list[Any]) -> Any:
        """Sum of products."""
        total = self.builder.fmul(weights[0], values[0], flags=LOOSE)
        for weight, value in zip(weights[1:], values[1:], strict=True):
            total = self.builder.fadd(total, self.builder.fmul(weight, value, flags=LOOSE), flags=LOOSE)
        return total


@numba.extending.register_jitable
def whole_vector(array):
    """`vector_size` of an array's numbers, within kernels."""
    return np.uint64(VECTOR_BYTES // array.itemsize)


def data(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    """Pointer to the numbers of an array."""
    return cgutils.create_struct_proxy(kind)(context, builder, value).data


@code
def _copy_vectors(typing, to, place, source, start, count):
    """What `_plain_copy` does."""
    signature = types.void(to, place, source, start, count)

    def generate(context, builder, signature, arguments):
        number = ir.IntType(64)
        out, into = (
            builder.gep(data(context, builder, signature.args[k], arguments[k]), [arguments[k + 1]]) for k in (0, 2)
        )
        unit = Vectors(builder, out.type.pointee)
        last = builder.sub(arguments[4], number(unit.size))
        with cgutils.for_range_slice(builder, number(0), last, number(unit.size), number) as (t, _):
            unit.store(unit.load(into, t), out, t)
        unit.store(unit.load(into, last), out, last)
        return context.get_dummy_value()

    return signature, generate


def _plain_copy(to, place, source, start, count):
    """to[place : place + count] = source[start : start + count] for at least a whole vector; the two don't overlap."""
    to[place : place + count] = source[start : start + count]


copy_vectors: Any = _plain_copy if uncompiled else _copy_vectors
"""Stretches of numbers; fewer than a whole vector would be written beyond their place."""
