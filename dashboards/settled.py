"""What was loaded once stays: keep the collector of garbage from looking through it again and again.

The pages' library collects after each run of a page, which took half of a run's processor time: 0.15 s for all that the
modules hold. What is there after the first run of a page is put aside, once for each page.
"""

import gc

_RUN: set[str] = set()


def after_run(page: str) -> None:
    """Put aside what the first run of a page has loaded."""
    if page not in _RUN:
        _RUN.add(page)
        gc.collect()
        gc.freeze()
