"""The answer of a run: what changes most between its variants, or what rings most in its only one."""

from __future__ import annotations

from fdtd.listening.changes import changes_at
from fdtd.listening.study import Listening
from fdtd.report.cards import Card, Lead, audible, change_card, note, rank, seconds, strongest
from fdtd.report.loading import Audible
from fdtd.report.markup import Markup, escaped, number, prose, quoted
from fdtd.wording.letters import capital
from fdtd.wording.seats import seat_sentences

SENTENCES, CARDS = 8, 3
"""On the first screen; all of it is told below."""


def run_lead(run: Audible) -> Lead:
    """The answer of a run."""
    if run.listening is None:
        return Lead(Markup("This run is too short to tell what is audible."), (escaped(f"{run.reason}."),), ())
    listening = run.listening
    if len(listening.variants) == 1:
        return _of_one_variant(listening)
    names = [variant.name for variant in listening.variants]
    cards = []
    for second in range(1, len(names)):
        found = strongest(listening, 0, second)
        if found is not None:
            card = change_card(listening, *found)
            cards.append(
                Card(Markup("{} against {}").format(quoted(names[second]), quoted(names[0])), card.big, card.small)
            )
    sentences = [prose(line) for seat in range(len(listening.seats)) for line in seat_sentences(listening, seat)]
    return Lead(_run_sentence(listening), tuple(sentences[:SENTENCES]), tuple(cards[:CARDS]))


def _run_sentence(listening: Listening) -> Markup:
    """The first sentence: the change of decay that matters most over all variants."""
    names = [variant.name for variant in listening.variants]
    found = [(k, one) for k in range(1, len(names)) if (one := strongest(listening, 0, k)) is not None]
    if not found:
        if any(variant.too_short for variant in listening.variants):
            return Markup("The simulation was too short to tell what changes.")
        return Markup("No resonance was found in both variants to compare.")
    second, (seat, change) = max(found, key=lambda one: rank(one[1][1]))
    pair = Markup("with {} instead of {}.").format(quoted(names[second]), quoted(names[0]))
    if not audible(change):
        if len(names) > 2:
            return Markup("No variant changes a resonance audibly, against {}.").format(quoted(names[0]))
        return Markup("No resonance changes audibly {}").format(pair)
    return Markup("{} {}").format(Markup(capital(note(listening, seat, change))), pair)


def _of_one_variant(listening: Listening) -> Lead:
    """With nothing to compare: what rings most at each seat, the worst seat first."""
    worst = [
        (seat, max(changes, key=lambda change: change.weight))
        for seat in range(len(listening.seats))
        if (changes := changes_at(listening, seat, 0, 0))
    ]
    worst.sort(key=lambda one: -one[1].weight)
    text = [seat for seat, _ in worst] or list(range(len(listening.seats)))
    first, *rest = (prose(line) for seat in text for line in seat_sentences(listening, seat))
    cards = [
        Card(
            quoted(listening.seats[seat]),
            seconds(change.decay[0], "decay-only"),
            Markup("for the {} note to decay by 60 dB").format(number(change.frequency, 0, "Hz", key="frequency")),
        )
        for seat, change in worst
        if change.decay[0] is not None
    ]
    return Lead(first, tuple(rest[:SENTENCES]), tuple(cards[:CARDS]))
