"""Damage done to a result file, one place at a time: every array, every attribute, every kind of harm."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import h5py
import numpy as np

SCALE_ATTRIBUTES = ("CLASS", "NAME", "DIMENSION_LIST", "REFERENCE_LIST", "_Netcdf4Dimid")
"""What HDF5 itself keeps beside axes; nothing here reads it."""
VALUES = {"NaN": np.nan, "infinite": np.inf, "huge": 1e300, "negative": -1.0, "zero": 0.0, "tiny": 1e-300}
ARRAY_HARMS = (
    "shorter",
    "one axis more",
    "transposed",
    "scalar",
    "text",
    "number",
    "compound",
    "nothing",
    "no values",
    *(f"{where} {name}" for where in ("one", "all") for name in VALUES),
    "no UTF-8",
    "deleted",
    "group",
    "exchanged",
    "reversed",
    "same",
)
ATTRIBUTE_HARMS = (
    "row",
    "text",
    "number",
    "compound",
    "nothing",
    *(f"all {name}" for name in VALUES),
    "no UTF-8",
    "deleted",
    "exchanged",
)
LABEL_HARMS = ("number", "deleted", "exchanged")
"""Units and meanings: there are many, and all are read by the same lines."""
FILE_HARMS = tuple(f"cut to {k}/12" for k in range(12)) + tuple(f"flipped {seed}" for seed in range(80))
"""Flips that HDF5 itself survives: on damaged tables of contents the library now and then crashes, which no reader can
catch (one of the next 40 does)."""


@dataclass(frozen=True)
class Harm:
    """what : kind of harm; path : of the array or group, '' for the file itself; attribute : '' for the array"""

    what: str
    path: str = ""
    attribute: str = ""

    def __str__(self) -> str:
        return f"{self.path}{'@' if self.attribute else ''}{self.attribute}: {self.what}"


def all_harms(path: Path) -> list[Harm]:
    """Everything that `damage` can do to this file; groups that no reader looks at are left alone."""
    found = [Harm(what) for what in FILE_HARMS]
    with h5py.File(path, "r") as file:
        for name, item in _items(file):
            for key in item.attrs:
                if key not in SCALE_ATTRIBUTES:
                    label = key in ("units", "long_name") or key.endswith("_units")
                    found += [Harm(what, name, key) for what in (LABEL_HARMS if label else ATTRIBUTE_HARMS)]
            if isinstance(item, h5py.Dataset):
                found += [Harm(what, name) for what in ARRAY_HARMS]
            elif name != "/":
                found += [Harm(what, name) for what in ("deleted", "array", "copied", "renamed")]
    return found


def damage(whole: Path, target: Path, harm: Harm) -> bool:
    """Write `whole` with that harm to `target`; False if it can't be done to this array."""
    shutil.copyfile(whole, target)
    if not harm.path:
        _harm_bytes(target, harm.what)
        return True
    random = np.random.default_rng(list(str(harm).encode()))
    with h5py.File(target, "r+") as file:
        if harm.attribute:
            return _harm_attribute(file[harm.path].attrs, harm, random)
        if isinstance(file[harm.path], h5py.Group):
            return _harm_group(file, harm)
        return _harm_array(file, harm, random)


def _items(file: h5py.File) -> Iterator[tuple[str, Any]]:
    names: list[str] = []
    file.visit(names.append)
    yield "/", file
    yield from ((name, file[name]) for name in names if "listening" not in name)


def _harm_bytes(path: Path, what: str) -> None:
    data = bytearray(path.read_bytes())
    if what.startswith("cut"):
        path.write_bytes(data[: len(data) * int(what.split()[-1].split("/")[0]) // 12])
        return
    seed = int(what.split()[-1])
    random = np.random.default_rng(seed)
    # Most bytes are numbers; those that say where what is stand mostly at the beginning.
    reach = len(data) if seed % 2 else min(len(data), 40000)
    for place in random.integers(8, reach, size=1 + seed % 7 * 4):
        data[place] ^= 1 << int(random.integers(8))
    path.write_bytes(data)


def _harm_group(file: h5py.File, harm: Harm) -> bool:
    parent, _, name = harm.path.rpartition("/")
    if harm.what == "copied":
        file.copy(harm.path, file[parent] if parent else file, name=f"{name} again")
    elif harm.what == "renamed":
        file.move(harm.path, f"{harm.path}x")
    else:
        del file[harm.path]
        if harm.what == "array":
            file[harm.path] = np.arange(3.0)
    return True


def _harm_array(file: h5py.File, harm: Harm, random: np.random.Generator) -> bool:
    old = file[harm.path]
    values = old.asstr()[()] if h5py.check_string_dtype(old.dtype) else old[()]
    told = {key: value for key, value in old.attrs.items() if key not in SCALE_ATTRIBUTES}
    if harm.what == "exchanged":
        others = [
            item.name
            for _, item in _items(file)
            if isinstance(item, h5py.Dataset)
            and item.shape == old.shape
            and item.dtype == old.dtype
            and item.name != old.name
        ]
        if not others:
            return False
        other = str(random.choice(others))
        file[harm.path][...], file[other][...] = file[other][()], file[harm.path][()]
        return True
    new = _harmed(np.asarray(values), harm.what, random)
    if new is None:
        return False
    del file[harm.path]
    if harm.what == "deleted":
        return True
    if harm.what == "group":
        file.create_group(harm.path)
        return True
    text = isinstance(new, np.ndarray) and new.dtype.kind == "O"
    made = file.create_dataset(harm.path, data=new, **({"dtype": h5py.string_dtype()} if text else {}))
    made.attrs.update(told)
    return True


def _harmed(values: np.ndarray, what: str, random: np.random.Generator) -> Any:
    """The values after the harm; None if it can't be done to them."""
    number = values.dtype.kind in "fciu"
    where, _, which = what.partition(" ")
    if which in VALUES and where in ("one", "all"):
        if not number or not values.size or (where == "one" and not values.ndim):
            return None
        new = values.astype(values.dtype if values.dtype.kind in "fc" else float)
        with np.errstate(over="ignore"):
            new[tuple(random.integers(n) for n in new.shape) if where == "one" else ...] = VALUES[which]
        return new.astype(values.dtype) if values.dtype.kind in "iu" and abs(VALUES[which]) <= 1.0 else new
    if what in ("shorter", "reversed", "same", "one axis more", "transposed", "no values") and not values.ndim:
        return None
    changed: dict[str, Any] = {
        "shorter": lambda: values[..., :-1],
        "reversed": lambda: values[::-1] if len(values) > 1 else None,
        "same": lambda: np.broadcast_to(values[:1], values.shape).copy() if len(values) > 1 else None,
        "one axis more": lambda: values[..., None],
        "transposed": lambda: values.T if values.ndim > 1 else None,
        "no values": lambda: values[:0],
        "scalar": lambda: values.ravel()[0] if values.ndim and values.size else None,
        "text": lambda: np.full(values.shape, "damaged", dtype=object),
        "number": lambda: np.full(values.shape, 7.5),
        "compound": lambda: np.zeros(values.shape, dtype=[("a", "f8"), ("b", "i4")]),
        "nothing": lambda: h5py.Empty(values.dtype if number else "f8"),
        "no UTF-8": lambda: None if number else np.full(values.shape, b"\xff\xfe\xfa"),
    }
    return changed.get(what, lambda: 0)()


def _harm_attribute(attributes: h5py.AttributeManager, harm: Harm, random: np.random.Generator) -> bool:
    name, value = harm.attribute, attributes[harm.attribute]
    number = not isinstance(value, str)
    if harm.what == "exchanged":
        alike = [
            k for k, v in attributes.items() if k != name and isinstance(v, str) != number and k not in SCALE_ATTRIBUTES
        ]
        if not alike:
            return False
        other = str(random.choice(alike))
        attributes[name], attributes[other] = attributes[other], value
        return True
    del attributes[name]
    where, _, which = harm.what.partition(" ")
    if which in VALUES and where == "all":
        attributes[name] = VALUES[which]
    elif harm.what != "deleted":
        attributes[name] = {
            "row": np.array([value, value], dtype=None if number else h5py.string_dtype()),
            "text": "damaged",
            "number": 7.5,
            "compound": np.zeros((), dtype=[("a", "f8"), ("b", "i4")]),
            "nothing": h5py.Empty("f8"),
            "no UTF-8": np.bytes_(b"\xff\xfe"),
        }[harm.what]
    return True
