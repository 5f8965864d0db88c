"""The same labour sampled or measured otherwise: its minutes keep their category.

The target is 97 % of the minutes under every standard. It is not reached where the toco is written 20 s late: early and
late are told apart by their time against the contraction (NICHD 2008; FIGO 2015: more than 20 s after its onset), so a
toco that is as late as that moves the finding itself, and no margin may take the threshold's place. The floor there is
what is reached.
"""

import functools

import pytest

from audit.tracing.types import Tracing
from tests.accuracy.disturbances import CHANGES, Read, as_they_are, kept_minutes
from tests.simulate import simulate_labour

LEAST, LEAST_WITH_LATE_TOCO = 0.97, 0.90


@functools.cache
def labours() -> list[Read]:
    """Ten drawn labours of three hours with artefacts."""
    made = []
    for seed in range(720, 730):
        samples, _ = simulate_labour(seed, artefact_level="moderate", hours=3.0)
        made.append(Tracing(samples["fhr_bpm"], samples["toco"]))
    return as_they_are(made)


@pytest.mark.parametrize("change", CHANGES)
def test_drawn_labours_keep_their_categories(change: str) -> None:
    least = LEAST_WITH_LATE_TOCO if change == "toco 20 s late" else LEAST
    shares = kept_minutes(labours(), CHANGES[change])
    assert {name: share for name, share in shares.items() if share.same < least} == {}
