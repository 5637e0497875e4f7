"""Rows of the stencil, written for vector units outright.

The compiler's own vectoriser spends as long on a row of sixty cells as the row itself: it first asks of every pair of
slices whether they overlap, and then goes through what is left at the end number by number. Here rows that differ only
in where they stand are advanced one after another with their weights in registers; the weights along the rows are read
number by number only where they change within a vector.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils

from fdtd.kernels.vectors import LOOSE, Vectors, code, data

EXCITATIONS = (1, 8)
"""Numbers of excitations that have code of their own, the most usual ones: one, or whole vectors of them."""


def _times(builder: Any, excitations: Any, step: int) -> Any:
    """excitations * step, worked out here where the number of excitations is known."""
    if isinstance(excitations, ir.Constant):
        return ir.Constant(excitations.type, excitations.constant * step)
    return builder.mul(excitations, excitations.type(step))


def repeated(excitations: int) -> int:
    """How often each weight stands in `AirTables.along`."""
    return 1 if excitations in EXCITATIONS else excitations


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
                self._for_excitations(EXCITATIONS, lambda excitations: self.whole(long, excitations))
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


def plain_rows(p, q, along, start, begin, end, count, parts, part, first, excitations, offsets, weights):
    """What `stencil_rows` does, for kernels that run uncompiled."""
    times = repeated(excitations)
    for r in range(begin, end):
        o = start[r] * excitations
        total = weights[8] * p[o : o + count] - q[o : o + count]
        for k, step in enumerate((0, -1, 1, -2, 2)):
            weight = np.repeat(along[k, first : first + count // excitations * times], excitations // times)
            total = total + weight * p[o + step * excitations : o + step * excitations + count]
        for weight, offset in zip(weights[:8], offsets, strict=True):
            total = total + weight * p[o + offset : o + offset + count]
        q[o : o + count] = total
