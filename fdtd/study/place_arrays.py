"""A placement study as labelled arrays, for its result file (docs/result-file.md)."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

import fdtd
from fdtd.placement.search import Scored
from fdtd.placement.study import Design
from fdtd.results.layout import XYZ
from fdtd.results.placement_layout import ATTRIBUTES, labelled
from fdtd.results.statement import LabelledArray
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import PlacementStudy, played
from fdtd.study.place_text import Arrays, text_arrays, texts

FIGURES = ("ringing", "uneven", "spread", "loss", "benefit")
AT_SEATS = ("ringing_at", "uneven_at", "level_at")


def placement_attributes(done: FinishedPlacement) -> dict[str, str | float]:
    """Attributes of the root."""
    study, air = done.study, done.study.scene.air
    numbers = {"grid": study.spacing, "speed_of_sound": air.speed_of_sound, "density": air.density}
    return {
        "version": fdtd.__version__,
        "created": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "title": study.scene.title,
        "computed_from": study.response.key,
        "precision": done.precision,
        "designs": float(study.found.number),
        "reused": float(study.response.reused),
        **numbers,
        **{f"{name}_units": ATTRIBUTES[name].units for name in numbers},
    }


def placement_arrays(done: FinishedPlacement) -> dict[str, list[LabelledArray]]:
    """Group name, "" for the root -> arrays with what results/placement_layout.py states of them.

    Matrices of a simulation in single precision are complex64.
    """
    study = done.study
    kind = np.dtype(np.complex64 if done.precision == "single" else np.complex128)
    groups: dict[str, Arrays] = {
        "": _axes(study) | _matrices(study, kind),
        "places": _places(study),
        "singles": _singles(study),
        "best": _designs(study, "design", study.found.best),
        "counts": _designs(study, "count", [s for s in study.found.best_of_count if s is not None], first=0),
        "pareto": _designs(study, "design", study.found.pareto),
    }
    groups |= text_arrays(done)
    return {name: labelled(name, arrays) for name, arrays in groups.items()}


def _axes(study: PlacementStudy) -> Arrays:
    start, spots = study.variant, study.spots
    numbers = np.array([p.number for p in study.places])
    return {
        "scene": np.array(study.scene.text, dtype=object),
        "frequency": study.given.frequency,
        "source": texts([s.name for s in start.sources]),
        "seat": texts([s.name for s in start.seats]),
        "place": numbers,
        "driven_place": numbers,
        "device": texts([d.name for d in spots.devices]),
        "gain": np.asarray(spots.gains, dtype=float),
    }


def _matrices(study: PlacementStudy, kind: np.dtype) -> Arrays:
    m, faces = study.response.matrices, study.response.faces
    return {
        "seats_from_sources": m.seats_from_sources.astype(kind),
        "places_from_sources": m.ports_from_sources.astype(kind),
        "seats_from_places": m.seats_from_ports.astype(kind),
        "places_from_places": m.ports_from_ports.astype(kind),
        "playback": played(study.variant, m.frequency, study.scene.air.density),
        "admittance": study.given.admittance,
        "face_area": faces.area,
        "air_mass": faces.air_mass,
        "seat_weight": np.asarray(study.given.weights, dtype=float),
    }


def _places(study: PlacementStudy) -> Arrays:
    places = study.places
    return {name: texts([getattr(p, name) for p in places]) for name in ("on", "corner", "height")} | {
        "bottom": np.array([p.bottom for p in places]),
        "axis": texts(XYZ.fixed),
        "position": np.array([p.at for p in places]),
        "excludes": np.asarray(study.given.excludes).astype(np.int8),
    }


def _singles(study: PlacementStudy) -> Arrays:
    table = study.found.singles
    order = np.argsort(-table.benefit, kind="stable")
    columns = [*(table.figures[order].T), table.benefit[order]]
    return {
        "rank": np.arange(1, len(order) + 1),
        **_choice(study, table.ports[order, 0], table.kinds[order, 0], table.gains[order, 0]),
        **dict(zip(FIGURES, columns, strict=True)),
    }


def _choice(study: PlacementStudy, ports: NDArray, kinds: NDArray, gains: NDArray) -> Arrays:
    """Place, device and gain of each unit; ports -1: no unit."""
    numbers = np.array([p.number for p in study.places])
    gain = np.asarray(study.spots.gains, dtype=float)
    there = ports >= 0
    return {
        "unit_place": np.where(there, numbers[ports], 0),
        "unit_device": np.where(there, kinds, -1),
        "unit_gain": np.where(there, gain[gains], np.nan),
    }


def _designs(study: PlacementStudy, axis: str, scored: Sequence[Scored], first: int = 1) -> Arrays:
    most = max((len(s.design.ports) for s in scored), default=1) or 1
    ports, kinds, gains = (_padded([s.design for s in scored], name, most) for name in ("ports", "kinds", "gains"))
    objectives = [s.objectives for s in scored]
    return {
        axis: np.arange(first, first + len(scored)),
        "unit": np.arange(1, most + 1),
        **_choice(study, ports, kinds, gains),
        **{name: np.array([getattr(o, name) for o in objectives]) for name in (*FIGURES, *AT_SEATS)},
    }


def _padded(designs: Sequence[Design], name: str, most: int) -> NDArray[np.int64]:
    rows = [[*getattr(d, name), *[-1] * (most - len(d.ports))] for d in designs]
    return np.array(rows, dtype=np.int64).reshape(len(designs), most)
