"""Entries of result files that occur often: levels, shares, whole numbers, yes or no."""

from __future__ import annotations

from typing import Any

from fdtd.results.statement import Entry


def decibels(meaning: str, *axes: str, **more: Any) -> Entry:
    """A level, or a difference of levels."""
    return Entry(axes, "dB", meaning, **more)


def share(meaning: str, *axes: str, nan: bool = False) -> Entry:
    """A share of something."""
    return Entry(axes, "1", meaning, least=0.0, most=1.0, nan=nan)


def sooner(meaning: str, *axes: str) -> Entry:
    """A share by which a decay is shorter; below 0 it is longer, without limit."""
    return Entry(axes, "1", meaning, most=1.0, nan=True)


def whole(meaning: str, least: int = 0, **more: Any) -> Entry:
    """A whole number."""
    return Entry((), "1", meaning, "whole", least=least, **more)


def yes(meaning: str, *axes: str) -> Entry:
    """1 for yes, 0 for no."""
    return Entry(axes, "1", meaning, "whole", choices=(0.0, 1.0))
