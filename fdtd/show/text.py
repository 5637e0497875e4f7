"""Text that users wrote, made safe for drawings, captions, file names and the metadata of pictures."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from fdtd.wording.names import shown

NAMELESS = "(no name)"


def plain_text(text: object, limit: int = 60) -> str:
    """User text as one printable line of at most `limit` characters, for captions and metadata.

    Line ends, control characters, halves of characters and marks that turn the direction of writing become spaces.
    """
    # Cut first: what comes may be very long, and most of it is thrown away.
    start = str(text)[: 8 * limit + 64]
    line = " ".join("".join(c if c.isprintable() else " " for c in start).split())
    if len(line) > limit:
        line = line[: limit - 1].rstrip() + "…"
    return line or NAMELESS


def in_caption(text: str) -> str:
    """A sentence of wording/ for captions and alternative texts."""
    return shown(text, lambda name: f"“{plain_text(name, 40)}”")


def safe_text(text: object, limit: int = 28) -> str:
    """User text as one printable line of at most `limit` characters that is drawn as it stands.

    Dollar signs don't start a formula, and a leading underscore doesn't hide a legend entry.
    """
    line = plain_text(text, limit)
    if line.startswith("_"):
        line = " " + line
    return line.replace("$", r"\$")


def safe_file_name(text: str, limit: int = 40) -> str:
    """`text` as part of a file name on any system: letters, digits, '-' and '.', at most `limit` characters."""
    plain = unicodedata.normalize("NFKD", text[: 20 * limit]).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9.]+", "-", plain)[:limit].strip("-.").lower()


def variant_names(names: Iterable[str], limit: int = 28) -> list[str]:
    """Names for a legend: safe, and told apart by a number where cutting them short made them equal."""
    short = [safe_text(name, limit) for name in names]
    return [f"{one} ({k + 1})" if short.count(one) > 1 else one for k, one in enumerate(short)]


def paragraph(text: str, limit: int = 4000) -> str:
    """Text of the program's own making for metadata: what XML and PNG cannot hold is left out, lines are kept."""
    kept = "".join(c for c in text if c.isprintable() or c in "\n ")
    return kept if len(kept) <= limit else kept[: limit - 1] + "…"
