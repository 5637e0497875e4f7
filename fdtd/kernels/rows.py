"""One row of the stencil, written for vector units outright.

The compiler's own vectoriser spends as long on a row of sixty cells as the row itself: it first asks of every pair of
slices whether they overlap, and then goes through what is left at the end number by number. Here whole vectors are
followed by one under a mask.
"""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

VECTOR_BYTES = 64
"""Machines with shorter vectors take several for one."""
AHEAD_BYTES = 1024
"""How far ahead of a row the memory is asked for."""
_code: Any = intrinsic  # its declared type is that of the generator, not of the function it makes
_LOOSE = ("contract", "nsz", "arcp")


class _Row:
    """Code of one row: pointers to numbers, and what is done with a vector of them."""

    def __init__(self, builder: Any, real: Any, size: int) -> None:
        self.builder, self.real, self.size = builder, real, size
        self.vector = ir.VectorType(real, self.size)
        self.integer, self.item = ir.IntType(32), 4 if isinstance(real, ir.FloatType) else 8

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

    def weighted(self, pairs: list[tuple[Any, Any]]) -> Any:
        """Sum of products."""
        total = self.builder.fmul(*pairs[0], flags=_LOOSE)
        for weight, value in pairs[1:]:
            total = self.builder.fadd(total, self.builder.fmul(weight, value, flags=_LOOSE), flags=_LOOSE)
        return total

    def first_of(self, count: Any) -> Any:
        """Mask of the first `count` numbers of a vector."""
        number = ir.IntType(64)
        order = ir.Constant(ir.VectorType(number, self.size), list(range(self.size)))
        return self.builder.icmp_unsigned("<", order, self.splat(count))

    def shift(self, left: Any, right: Any, steps: int) -> Any:
        """The vector `steps` numbers after the first one; right : what follows two after it, left : two before."""
        # Numbers 0 to size - 1 of the pair stand for places -2 and on, the others for places 2 and on.
        places = [i + steps + 2 if i + steps + 2 < self.size else self.size + i + steps - 2 for i in range(self.size)]
        return self.builder.shuffle_vector(left, right, ir.Constant(ir.VectorType(self.integer, self.size), places))

    def along(self, spot: Any, lanes: Any, t: Any, mask: Any, single: bool) -> list[Any]:
        """The five values along the row, in the order of `AirTables.along`; single : of one lane, whole vectors."""
        steps = (0, -1, 1, -2, 2)
        places = [self.builder.add(t, self.builder.mul(lanes, lanes.type(step))) for step in steps]
        if not single or mask is not None:
            return [self.load(spot, place, mask) for place in places]
        # Loads that straddle two cache lines cost more than moving numbers about.
        left, right = (self.load(spot, places[k], None) for k in (3, 4))
        middle = [self.shift(left, right, step) for step in steps[:3]]
        return [*middle, left, right]


def _over(row: _Row, out: list[Any], count: Any, advance: Any) -> None:
    """Calls advance(t, old) for whole vectors, the last of which ends with the row and may overlap the one before it.

    old : what the vectors of `out` at t were before any was written; count : at least one vector
    """
    builder, size = row.builder, count.type(row.size)
    last = builder.sub(count, size)
    place = cgutils.alloca_once_value(builder, count.type(0))
    olds = [cgutils.alloca_once_value(builder, row.load(pointer, count.type(0), None)) for pointer in out]
    body, done = builder.append_basic_block("vector"), builder.append_basic_block("row.done")
    builder.branch(body)
    builder.position_at_end(body)
    t = builder.load(place)
    following = builder.add(t, size)
    following = builder.select(builder.icmp_signed("<", following, last), following, last)
    upcoming = [row.load(pointer, following, None) for pointer in out]
    advance(t, [builder.load(old) for old in olds])
    for old, value in zip(olds, upcoming, strict=True):
        builder.store(value, old)
    builder.store(following, place)
    builder.cbranch(builder.icmp_signed("<", t, last), body, done)
    builder.position_at_end(done)


def _put(row: _Row, out: Any, t: Any, mask: Any, old: Any, parts: list[list[tuple[Any, Any]]]) -> None:
    """out = sum of products - old."""
    builder = row.builder
    sums = [row.weighted(part) for part in parts]
    total = builder.fsub(sums[0], old, flags=_LOOSE)
    total = builder.fadd(total, builder.fadd(sums[1], sums[2], flags=_LOOSE), flags=_LOOSE)
    row.store(total, out, t, mask)


class _Operands:
    """Arguments of the two intrinsics below, unpacked."""

    def __init__(self, context: Any, builder: Any, signature: Any, arguments: Any) -> None:
        p, q, along = (
            cgutils.create_struct_proxy(kind)(context, builder, value)
            for kind, value in zip(signature.args[:3], arguments[:3], strict=True)
        )
        self.builder, self.real = builder, p.data.type.pointee
        self.count, first, self.lanes = arguments[3:6]
        places, self.weights = (cgutils.unpack_tuple(builder, x) for x in arguments[6:8])
        self.targets = [builder.gep(q.data, [places[k]]) for k in range(len(self.weights) // 9)]
        self.spots = [builder.gep(p.data, [s]) for s in places]
        length = cgutils.unpack_tuple(builder, along.shape)[1]
        self.profile = [
            builder.gep(along.data, [builder.add(builder.mul(length, length.type(k)), first)]) for k in range(5)
        ]

    def walk(self, advance: Any) -> None:
        """Calls advance(row, weights, t, mask, single, old) along the row, in the longest vectors that it can fill.

        single : of one lane, whole vectors
        """
        builder, count = self.builder, self.count
        long = VECTOR_BYTES // (4 if isinstance(self.real, ir.FloatType) else 8)

        def whole(size: int) -> None:
            row = _Row(builder, self.real, size)
            weights = [row.splat(w) for w in self.weights]
            with builder.if_else(builder.icmp_signed("==", self.lanes, self.lanes.type(1))) as branches:
                for branch, single in zip(branches, (True, False), strict=True):
                    with branch:
                        _over(row, self.targets, count, lambda t, old: advance(row, weights, t, None, single, old))  # noqa: B023

        with builder.if_else(builder.icmp_signed(">=", count, count.type(long))) as (fits, other):
            with fits:
                whole(long)
            with other, builder.if_else(builder.icmp_signed(">=", count, count.type(long // 2))) as (half, less):
                with half:
                    whole(long // 2)
                with less:
                    row, zero = _Row(builder, self.real, long // 2), count.type(0)
                    mask, weights = row.first_of(count), [row.splat(w) for w in self.weights]
                    old = [row.load(target, zero, mask) for target in self.targets]
                    advance(row, weights, zero, mask, False, old)


@_code
def stencil_row(typing, p, q, along, count, first, lanes, places, weights):
    """For 0 <= t < count, with o = places[0]:

    q[o + t] = sum along[k, first + t] p[o + t + lanes (0, -1, 1, -2, 2)[k]] + sum weights[k] p[places[1 + k] + t]
               + weights[8] p[o + t] - q[o + t]

    places : 9 int64, of the row itself and eight across it; weights : 9, of those eight and once more of the row itself
    """
    signature = types.void(p, q, along, count, first, lanes, places, weights)

    def generate(context, builder, signature, arguments):
        o = _Operands(context, builder, signature, arguments)

        def advance(row: _Row, weights: list, t: Any, mask: Any, single: bool, old: list) -> None:
            for pointer in (o.targets[0], o.spots[8]):
                row.fetch(pointer, t)
            line = row.along(o.spots[0], o.lanes, t, mask, single)
            inner = [(row.load(w, t, mask), value) for w, value in zip(o.profile, line, strict=True)]
            outer = [(w, row.load(s, t, mask)) for w, s in zip(weights[:8], o.spots[1:], strict=True)]
            _put(row, o.targets[0], t, mask, old[0], [inner, [*outer[:4], (weights[8], line[0])], outer[4:]])

        o.walk(advance)
        return context.get_dummy_value()

    return signature, generate


@_code
def stencil_pair(typing, p, q, along, count, first, lanes, places, weights):
    """Two rows side by side, which are neighbours and have the same weights along them: each value is read once.

    places : 14 int64: the two rows; two before and two after them; the four others across of each
    weights : 18, nine of each, as for `stencil_row`: two others, two before, two after, two others, the row itself
    """
    signature = types.void(p, q, along, count, first, lanes, places, weights)

    def generate(context, builder, signature, arguments):
        o = _Operands(context, builder, signature, arguments)

        def advance(row: _Row, weights: list, t: Any, mask: Any, single: bool, old: list) -> None:
            for pointer in (*o.targets, o.spots[9], o.spots[13]):
                row.fetch(pointer, t)
            lines = [row.along(spot, o.lanes, t, mask, single) for spot in o.spots[:2]]
            profile = [row.load(w, t, mask) for w in o.profile]
            side = [row.load(s, t, mask) for s in o.spots[2:6]]
            layers = [*side[:2], lines[0][0], lines[1][0], *side[2:]]
            for k in range(2):
                others = [row.load(s, t, mask) for s in o.spots[6 + 4 * k : 10 + 4 * k]]
                values = [*others[:2], *(layers[k + m] for m in (0, 1, 3, 4)), *others[2:]]
                outer = list(zip(weights[9 * k : 9 * k + 9], [*values, lines[k][0]], strict=True))
                inner = list(zip(profile, lines[k], strict=True))
                _put(row, o.targets[k], t, mask, old[k], [inner, [*outer[:4], outer[8]], outer[4:8]])

        o.walk(advance)
        return context.get_dummy_value()

    return signature, generate


def plain_row(p, q, along, count, first, lanes, places, weights):
    """What `stencil_row` does, for kernels that run uncompiled."""
    target = places[0]
    total = -q[target : target + count]
    for k, step in enumerate((0, -1, 1, -2, 2)):
        total = total + along[k, first : first + count] * p[target + step * lanes : target + step * lanes + count]
    for weight, place in zip(weights, (*places[1:], target), strict=True):
        total = total + weight * p[place : place + count]
    q[target : target + count] = total


def plain_pair(p, q, along, count, first, lanes, places, weights):
    """What `stencil_pair` does, for kernels that run uncompiled."""
    a, b, *side = places[:6]
    layers = (*side[:2], a, b, *side[2:])
    for k in range(2):
        others = places[6 + 4 * k : 10 + 4 * k]
        near = (layers[k], layers[k + 1], layers[k + 3], layers[k + 4])
        mine = (places[k], *others[:2], *near, *others[2:])
        plain_row(p, q, along, count, first, lanes, mine, weights[9 * k : 9 * k + 9])
