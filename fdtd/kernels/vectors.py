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

VECTOR_BYTES = 32
"""With longer vectors the weights do not fit in the registers of most machines."""
AHEAD_BYTES = 1024
"""How far ahead of a vector the memory is asked for; without it, rooms that no cache holds take half as long again."""
code: Any = intrinsic  # its declared type is that of the generator, not of the function it makes
uncompiled: bool = getattr(numba.config, "DISABLE_JIT", False)
"""Whether kernels run as plain Python."""
LOOSE = ("contract", "nsz", "arcp")


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

    def _masked(self, kind: str) -> Any:
        short = f"v{self.size}f{8 * self.item}"
        mask, pointer = ir.VectorType(ir.IntType(1), self.size), ir.PointerType(self.vector)
        if kind == "load":
            shape = ir.FunctionType(self.vector, [pointer, self.integer, mask, self.vector])
        else:
            shape = ir.FunctionType(ir.VoidType(), [self.vector, pointer, self.integer, mask])
        return cgutils.get_or_insert_function(self.builder.module, shape, f"llvm.masked.{kind}.{short}.p0")

    def load(self, pointer: Any, t: Any, mask: Any) -> Any:
        """The vector at t numbers after `pointer`; what the mask hides is not touched."""
        place = self.builder.bitcast(self.builder.gep(pointer, [t]), ir.PointerType(self.vector))
        if mask is None:
            return self.builder.load(place, align=self.item)
        nothing = ir.Constant(self.vector, [0.0] * self.size)
        return self.builder.call(self._masked("load"), [place, self.integer(self.item), mask, nothing])

    def store(self, value: Any, pointer: Any, t: Any, mask: Any) -> None:
        """The counterpart of `load`."""
        place = self.builder.bitcast(self.builder.gep(pointer, [t]), ir.PointerType(self.vector))
        if mask is None:
            self.builder.store(value, place, align=self.item)
        else:
            self.builder.call(self._masked("store"), [value, place, self.integer(self.item), mask])

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

    def first_of(self, count: Any) -> Any:
        """Mask of the first `count` numbers of a vector."""
        number = ir.IntType(64)
        order = ir.Constant(ir.VectorType(number, self.size), list(range(self.size)))
        return self.builder.icmp_unsigned("<", order, self.splat(count))


@numba.extending.register_jitable
def whole_vector(array):
    """Numbers of a whole vector."""
    return VECTOR_BYTES // array.itemsize


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
            unit.store(unit.load(into, t, None), out, t, None)
        unit.store(unit.load(into, last, None), out, last, None)
        return context.get_dummy_value()

    return signature, generate


@code
def _move_link(typing, p, q, u, x, lanes, one, other, row, rule, into, dt):
    """What `_plain_link` does."""
    signature = types.void(p, q, u, x, lanes, one, other, row, rule, into, dt)

    def generate(context, builder, signature, arguments):
        number = ir.IntType(64)
        p, q, u, x = (data(context, builder, signature.args[k], arguments[k]) for k in range(4))
        lanes, one, other, row = arguments[4:8]
        real = p.type.pointee
        unit = Vectors(builder, real)
        rule, given = (cgutils.unpack_tuple(builder, value) for value in arguments[8:10])
        keep, push, pull, dt = (unit.splat(value) for value in (*rule, arguments[10]))
        give = [unit.splat(value) for value in (builder.fneg(given[0]), given[1])]
        with cgutils.for_range_slice(builder, number(0), lanes, number(unit.size), number) as (t, _):
            here, there, own = (builder.add(place, t) for place in (one, other, row))
            drop = builder.fsub(unit.load(p, here, None), unit.load(p, there, None), flags=LOOSE)
            old, way = unit.load(u, own, None), unit.load(x, own, None)
            pulled = builder.fmul(pull, way, flags=LOOSE)
            new = builder.fsub(unit.weighted([keep, push], [old, drop]), pulled, flags=LOOSE)
            unit.store(new, u, own, None)
            unit.store(builder.fadd(way, builder.fmul(dt, new, flags=LOOSE), flags=LOOSE), x, own, None)
            change = builder.fsub(new, old, flags=LOOSE)
            for k, place in enumerate((here, there)):
                with builder.if_then(builder.fcmp_unordered("!=", given[k], ir.Constant(real, 0.0))):
                    added = builder.fmul(give[k], change, flags=LOOSE)
                    unit.store(builder.fadd(unit.load(q, place, None), added, flags=LOOSE), q, place, None)
        return context.get_dummy_value()

    return signature, generate


def _plain_copy(to, place, source, start, count):
    """to[place : place + count] = source[start : start + count] for at least a whole vector; the two don't overlap."""
    to[place : place + count] = source[start : start + count]


def _plain_link(p, q, u, x, lanes, one, other, row, rule, into, dt):
    """A loose link between the cells whose lanes begin at `one` and `other`; its own begin at `row`.

    lanes : a multiple of a whole vector; rule : keep, push, pull; into : what it gives to its two cells, 0 if not this
    but a copy of it gives
    """
    here, there, own = (slice(place, place + lanes) for place in (one, other, row))
    old = u[own].copy()
    u[own] = rule[0] * old + rule[1] * (p[here] - p[there]) - rule[2] * x[own]
    x[own] += dt * u[own]
    q[here] -= into[0] * (u[own] - old)
    q[there] += into[1] * (u[own] - old)


copy_vectors: Any = _plain_copy if uncompiled else _copy_vectors
move_link: Any = _plain_link if uncompiled else _move_link
