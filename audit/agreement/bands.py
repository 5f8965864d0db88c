"""Words for a kappa, with where they come from and why not to lean on them."""

LANDIS_KOCH_SOURCE = "Landis & Koch, Biometrics 1977;33:159-74"
LANDIS_KOCH_CAUTION = (
    "The authors call these divisions arbitrary. A kappa also depends on how often each category occurs, so the same "
    "word can stand for different agreement; read it beside the proportions of agreement."
)
# upper end of each band, belonging to it; below 0 is poor
_BANDS = (
    (0.2, "slight"), (0.4, "fair"), (0.6, "moderate"), (0.8, "substantial"), (1.0, "almost perfect"),
)  # fmt: skip


def landis_koch_band(kappa: float | None) -> str | None:
    """The word of Landis & Koch for a kappa; show it only with LANDIS_KOCH_SOURCE and LANDIS_KOCH_CAUTION.

    Parameters
    ----------
    kappa : at most 1; None or NaN = not defined.

    Returns
    -------
    word : None for an undefined kappa.

    Raises
    ------
    ValueError : a value above 1, which no kappa can take.
    """
    if kappa is None or kappa != kappa:
        return None
    if kappa < 0.0:
        return "poor"
    for top, word in _BANDS:
        if kappa <= top + 1e-12:
            return word
    raise ValueError(f"kappa {kappa}: more than 1")
