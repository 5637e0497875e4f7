"""Names in sentences are quoted where they are shown, whatever is in them."""

from __future__ import annotations

import pytest

from fdtd.wording.names import END, NAME, TYPED, named, on_screen, shown, typed


@pytest.mark.parametrize("name", ["sofa", "Anna's chair", "' and '", "two\nlines", "", f"a{NAME}b{END}c{TYPED}"])
def test_a_name_is_found_whatever_is_in_it(name: str) -> None:
    found: list[str] = []
    text = f"At {named(name)} and {named('desk')} try {typed('--count 3')}."
    told = shown(text, lambda one: found.append(one) or "*", lambda one: f"<{one}>", str.upper)  # type: ignore[func-returns-value]
    assert told == "AT * AND * TRY <--count 3>."
    assert found == [name.translate(dict.fromkeys(map(ord, NAME + END + TYPED))), "desk"]


def test_a_screen_obeys_no_name() -> None:
    name = named("so\x1b[31mfa")
    assert on_screen(f"At {name} it rings.") == "At 'so\\x1b[31mfa' it rings."
