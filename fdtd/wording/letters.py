"""Numbers in letters, lists and sentences put together."""

from __future__ import annotations

from collections.abc import Sequence

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth")

LEAST_DECAY = 0.005
"""Share below which a decay is said not to change."""
SLOWEST = 9.0
"""Share by which decays become longer beyond which no figure is given: where hardly anything rang, it means little."""


def number(value: int) -> str:
    """In letters as far as that is usual."""
    return NUMBERS[value] if value < len(NUMBERS) else str(value)


def listed(names: Sequence[str]) -> str:
    """'a, b and c'."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"


def capital(text: str) -> str:
    """`text` as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def decibels(value: float, decimals: int = 1) -> str:
    """'1.5 dB', never '-0.0 dB'."""
    return f"{round(value, decimals) + 0.0:.{decimals}f} dB"


def money(value: float) -> str:
    """'1,180', or '12.50' of small sums; in whatever currency prices are."""
    return f"{value:,.0f}" if abs(value) >= 100.0 or value == round(value) else f"{value:,.2f}"


def louder(step: float, decimals: int = 1) -> str:
    """'1.5 dB louder' or '1.5 dB quieter'."""
    return f"{decibels(abs(step), decimals)} {'louder' if step > 0.0 else 'quieter'}"


def more_even(step: float) -> str:
    """'1.5 dB more even' or '1.5 dB less even'."""
    return f"{decibels(abs(step))} {'more' if step >= 0.0 else 'less'} even"


def faster(share: float) -> str:
    """'12 % faster' or '12 % slower', of a decay that became shorter by `share`."""
    return f"{100.0 * abs(share):.0f} % {'faster' if share >= 0.0 else 'slower'}"


def decay_text(share: float, seats: int = 1) -> str:
    """'resonances decay 12 % faster, averaged over the seats'; share : by which decays become shorter"""
    mean = ", averaged over the seats" if seats > 1 else ""
    if abs(share) < LEAST_DECAY:
        return f"resonances decay as before{mean}"
    if share < -SLOWEST:
        return f"resonances take more than {1.0 + SLOWEST:.0f} times as long to decay{mean}"
    return f"resonances decay {faster(share)}{mean}"


def plural(count: int, one: str) -> str:
    """'1 unit', '2 units'."""
    return f"{count} {one}{'' if count == 1 else 's'}"


def seats_closer(step: float) -> str:
    """'the seats are 1.2 dB closer to each other', or farther from each other."""
    return f"the seats are {decibels(abs(step))} {'closer to' if step > 0.0 else 'farther from'} each other"
