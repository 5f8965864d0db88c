"""The name of a concern episode: the same at every run that finds the same."""

import hashlib
import math


def episode_id(case_id: str, fetus: str, standard: str, trigger: str, recognisable_s: float) -> str:
    """16 hexadecimal digits made of whose episode it is, under what, and the millisecond at which it was recognisable.

    The schema step that brings older databases forward says the same in SQL (a test holds the two together).
    """
    moment = math.floor(recognisable_s * 1000 + 0.5)
    parts = (case_id, fetus, standard, trigger, str(moment))
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:16]
