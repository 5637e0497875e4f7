"""Machine code written outright: rows of the stencil in vectors, and a meeting point of threads. Optional: without this
file rows are a plain loop (air.py) and a room is simulated by one thread (cpu.py), with the same results to rounding.

`benchmarks/speed.py` has the gain: whole simulations take 1.3 to 2.7 times as long without. The compiler's own
vectoriser spends as long on a row of sixty cells as the row itself: it first asks of every pair of slices whether they
overlap, and then goes through what is left at the end number by number. Here rows that differ only in where they stand
are advanced one after another with their weights in registers; the weights along the rows are read number by number
only where they change within a vector.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

from fdtd.kernels.compiled import FAST_MATH, steady
from fdtd.kernels.tables import OWN_CODE, VECTOR_BYTES

AHEAD_BYTES = 1024
"""How far ahead of a vector the memory is asked for; without it, rooms that no cache holds take half as long again."""
code: Any = intrinsic
"""Marks what makes code itself; the declared type is that of the generator, not of the function it makes."""
LOOSE = tuple(sorted(FAST_MATH))
"""What the compiler may do to sums and products here, as in all kernels."""


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


def data(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    """Pointer to the numbers of an array."""
    return cgutils.create_struct_proxy(kind)(context, builder, value).data


def _times(builder: Any, excitations: Any, step: int) -> Any:
    """excitations * step, worked out here where the number of excitations is known."""
    if isinstance(excitations, ir.Constant):
        return ir.Constant(excitations.type, excitations.constant * step)
    return builder.mul(excitations, excitations.type(step))


class _Rows:
    """Code of the intrinsic below; its arguments, unpacked."""

    def __init__(self, context: Any, builder: Any, signature: Any, arguments: Any) -> None:
        self.p, self.q, line, self.start, self.parts = (
            data(context, builder, signature.args[k], arguments[k]) for k in (0, 1, 2, 3, 7)
        )
        self.builder, self.real, self.number = builder, self.p.type.pointee, ir.IntType(64)
        self.begin, self.end, self.count = arguments[4:7]
        part, first, self.excitations, offsets, weights = arguments[8:]
        self.part, offset, self.weights = (cgutils.unpack_tuple(builder, x) for x in (part, offsets, weights))
        self.others = [builder.gep(self.p, [o]) for o in offset]
        along = cgutils.create_struct_proxy(signature.args[2])(context, builder, arguments[2])
        length = cgutils.unpack_tuple(builder, along.shape)[1]
        starts = [builder.add(builder.mul(length, self.number(k)), first) for k in range(5)]
        self.profile = [builder.gep(line, [start]) for start in starts]

    def _loop(self, place: Any, goes_on: Callable[[Any], Any], step: Any, body: Callable[[Any], None]) -> None:
        """While goes_on(what stands in `place`): body of it, then add `step`."""
        builder = self.builder
        check, inside, done = (builder.append_basic_block(name) for name in ("check", "inside", "done"))
        builder.branch(check)
        builder.position_at_end(check)
        value = builder.load(place)
        builder.cbranch(goes_on(value), inside, done)
        builder.position_at_end(inside)
        body(value)
        builder.store(builder.add(value, step), place)
        builder.branch(check)
        builder.position_at_end(done)

    def _put(self, unit: Vectors, at: Any, old: Any, excitations: Any, inner: list, outer: list) -> None:
        """Writes the vector at `at`; old : what it was; inner, outer : weights along, across."""
        builder = self.builder
        for pointer in (self.q, self.others[7]):  # what no row before has asked for: the old value, the furthest layer
            unit.fetch(pointer, at)
        along = [builder.add(at, _times(builder, excitations, step)) for step in (0, -1, 1, -2, 2)]
        line = [unit.load(self.p, place) for place in along]
        across = [unit.load(other, at) for other in self.others]
        total = builder.fsub(unit.weighted(inner, line), old, flags=LOOSE)
        sides = [unit.weighted(outer[k : k + 4], across[k : k + 4]) for k in (0, 4)]
        total = builder.fadd(total, builder.fadd(*sides, flags=LOOSE), flags=LOOSE)
        unit.store(total, self.q, at)

    def _uneven(self, unit: Vectors, o: Any, t: Any, old: Any, excitations: Any, weights: list) -> None:
        """The vector at t of the row at o, whose weights along it are read number by number."""
        if isinstance(excitations, ir.Constant) and excitations.constant >= unit.size:
            cell = self.builder.sdiv(t, excitations)
            inner = [unit.splat(self.builder.load(self.builder.gep(w, [cell]))) for w in self.profile]
        else:
            inner = [unit.load(w, t) for w in self.profile]
        inner[0] = self.builder.fadd(inner[0], weights[8], flags=LOOSE)
        self._put(unit, self.builder.add(o, t), old, excitations, inner, weights[:8])

    def _each(self, advance: Callable[[Any], None]) -> None:
        """advance(where the row begins) for every row."""
        builder = self.builder
        row = cgutils.alloca_once_value(builder, self.begin)

        def one(r: Any) -> None:
            advance(builder.mul(builder.load(builder.gep(self.start, [r])), self.excitations))

        self._loop(row, lambda r: builder.icmp_signed("<", r, self.end), self.number(1), one)

    def _in_part(self, unit: Vectors, o: Any, part: Any, place: Any, excitations: Any, weights: list) -> None:
        """The vectors of one part of the row at o, from the number in `place` on."""
        builder, row = self.builder, self.builder.mul(part, self.number(2))
        stop, column = (builder.load(builder.gep(self.parts, [builder.add(row, self.number(k))])) for k in (0, 1))

        def before(t: Any) -> Any:
            return builder.icmp_signed("<", t, stop)

        def old(t: Any) -> Any:
            return unit.load(self.q, builder.add(o, t))

        step = self.number(unit.size)
        with builder.if_else(builder.icmp_signed(">=", column, self.number(0))) as (even, uneven):
            with even:
                inner = [unit.splat(builder.load(builder.gep(w, [column]))) for w in self.profile]
                inner[0] = builder.fadd(inner[0], weights[8], flags=LOOSE)
                self._loop(
                    place,
                    before,
                    step,
                    lambda t: self._put(unit, builder.add(o, t), old(t), excitations, inner, weights[:8]),
                )
            with uneven:
                self._loop(place, before, step, lambda t: self._uneven(unit, o, t, old(t), excitations, weights))

    def whole(self, size: int, excitations: Any) -> None:
        """Rows in whole vectors, the last of which ends with its row and may overlap the one before it."""
        builder, unit = self.builder, Vectors(self.builder, self.real, size)
        last, weights = builder.sub(self.count, self.number(size)), [unit.splat(w) for w in self.weights]
        place, part = cgutils.alloca_once(builder, self.number), cgutils.alloca_once(builder, self.number)

        def advance(o: Any) -> None:
            builder.store(self.number(0), place)
            builder.store(self.part[0], part)
            at_end = unit.load(self.q, builder.add(o, last))
            self._loop(
                part,
                lambda k: builder.icmp_signed("<", k, self.part[1]),
                self.number(1),
                lambda k: self._in_part(unit, o, k, place, excitations, weights),
            )
            with builder.if_then(builder.icmp_signed("<", builder.load(place), self.count)):
                self._uneven(unit, o, last, at_end, excitations, weights)

        self._each(advance)

    def _for_excitations(self, known: tuple[int, ...], make: Callable[[Any], None]) -> None:
        """Code for each number of excitations that is known, and for any other."""
        if not known:
            make(self.excitations)
            return
        builder = self.builder
        with builder.if_else(builder.icmp_signed("==", self.excitations, self.number(known[0]))) as (this, other):
            with this:
                make(self.number(known[0]))
            with other:
                self._for_excitations(known[1:], make)

    def walk(self) -> None:
        """Rows in the longest vectors that they can fill."""
        builder, count = self.builder, self.count
        long = Vectors(builder, self.real).size
        with builder.if_else(builder.icmp_signed(">=", count, self.number(long))) as (fits, other):
            with fits:
                # Where the number of excitations is known, it takes no register.
                self._for_excitations(OWN_CODE, lambda excitations: self.whole(long, excitations))
            with other:
                self.whole(long // 2, self.excitations)


@code
def stencil_rows(typing, p, q, along, start, begin, end, count, parts, part, first, excitations, offsets, weights):
    """For rows begin <= r < end and numbers 0 <= t < count of each, with o = start[r] excitations:

    q[o + t] = sum along[k, first + t] p[o + t + excitations (0, -1, 1, -2, 2)[k]]
               + sum weights[k] p[o + offsets[k] + t]
               + weights[8] p[o + t] - q[o + t]

    along : as in `AirTables`: for `excitations` that have code of their own, every weight stands there once only
    parts, part : as `AirTables.part`, and bounds (2 int64) of those of these rows
    offsets : 8 int64, of the rows across; weights : 9, of those eight and of the row itself
    """
    signature = types.void(p, q, along, start, begin, end, count, parts, part, first, excitations, offsets, weights)

    def generate(context, builder, signature, arguments):
        _Rows(context, builder, signature, arguments).walk()
        return context.get_dummy_value()

    return signature, generate


SPINS = 4000
"""Looks at the counter before giving way: some microseconds, about what threads of one step differ by."""
_give_way = types.ExternalFunction("SwitchToThread" if os.name == "nt" else "sched_yield", types.int32())


@code
def _arrive(typing, barrier):
    """Adds 1 to barrier[0] as one indivisible act; returns what it was before."""

    def generate(context, builder, signature, arguments):
        place = data(context, builder, signature.args[0], arguments[0])
        return builder.atomic_rmw("add", place, ir.Constant(ir.IntType(64), 1), "seq_cst")

    return types.int64(barrier), generate


@code
def _arrived(typing, barrier):
    """barrier[0] as other threads have left it; nothing is read ahead of it."""

    def generate(context, builder, signature, arguments):
        place = data(context, builder, signature.args[0], arguments[0])
        return builder.load_atomic(place, "seq_cst", 8)

    return types.int64(barrier), generate


@steady
def meet(barrier, thread_group):
    """Returns once all threads of a group have called it as often; barrier : (1,) int64, zero at the start.

    Threads spin for a moment, then give way: a barrier of the operating system puts them to sleep and wakes them, which
    takes longer than a step of a small room.
    """
    goal = (_arrive(barrier) // thread_group + 1) * thread_group
    spins = 0
    while _arrived(barrier) < goal:
        spins += 1
        if spins > SPINS:
            _give_way()
