"""Published agreement of clinicians on intrapartum tracings, for a unit to set its own figures beside.

Figures were read from the papers' abstracts; they are context, not targets. 'PA' is the proportion of agreement as each
paper defines it: some mean the agreement among readings in which at least one reader chose the class (the Jaccard
form), which is lower than specific agreement, S = 2 J / (1 + J). Kappas compare only at like shares of the categories.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class PublishedAgreement:
    """One published figure."""

    study: str
    reference: str
    setting: str
    item: str
    part: str  # overall, or the category or feature
    statistic: str
    value: float
    low: float | None = None  # 95 % interval
    high: float | None = None


def _study(study: str, reference: str, setting: str, *figures: tuple[object, ...]) -> tuple[PublishedAgreement, ...]:
    return tuple(PublishedAgreement(study, reference, setting, *figure) for figure in figures)  # type: ignore[arg-type]


PUBLISHED_AGREEMENT = (
    *_study(
        "Hruban 2015", "J Eval Clin Pract 2015;21:694-702", "9 obstetricians, 634 recordings, FIGO 1986",
        ("category", "overall", "PA", 0.48, 0.47, 0.50),
        ("category", "normal", "PA", 0.57, 0.54, 0.60),
        ("category", "pathological", "PA", 0.41, 0.36, 0.46),
    ),
    *_study(
        "Santo 2017", "Acta Obstet Gynecol Scand 2017;96:166-75", "27 clinicians, 151 tracings",
        ("category", "FIGO overall", "kappa", 0.37, 0.31, 0.43),
        ("category", "NICE overall", "kappa", 0.33, 0.28, 0.39),
        ("category", "ACOG overall", "kappa", 0.15, 0.10, 0.21),
        ("category", "ACOG category II", "PA", 0.73, 0.70, 0.76),
    ),
    *_study(
        "Rei 2016", "Eur J Obstet Gynecol Reprod Biol 2016;205:27-31", "6 clinicians, 151 tracings, FIGO 2015",
        ("baseline_bpm", "baseline", "PA", 0.85, 0.82, 0.90),
        ("variability", "variability", "PA", 0.82, 0.78, 0.85),
        ("accelerations", "accelerations", "PA", 0.72, 0.68, 0.75),
        ("contractions_per_10_min", "tachysystole", "PA", 0.77, 0.74, 0.81),
        ("decelerations", "decelerations", "PA", 0.92, 0.90, 0.95),
        ("decelerations", "variable decelerations", "PA", 0.62, 0.58, 0.65),
        ("decelerations", "late decelerations", "PA", 0.63, 0.59, 0.66),
        ("decelerations", "repetitive decelerations", "PA", 0.73, 0.69, 0.78),
        ("decelerations", "prolonged decelerations", "PA", 0.81),
    ),
    *_study(
        "Blackwell 2011", "Am J Obstet Gynecol 2011;205:378.e1-5", "3 examiners, 154 segments of 15 to 20 min, NICHD",
        ("category", "overall", "kappa", 0.45),
        ("category", "category I", "kappa", 0.48),
        ("category", "category II", "kappa", 0.44),
        ("category", "category III", "kappa", 0.0),
    ),
    *_study(
        "Epstein 2013", "Am J Perinatol 2013;30:463-8", "5 reviewers, 32 tracings, NICHD",
        ("baseline_bpm", "baseline rate", "free-marginal kappa", 0.97),
        ("variability", "moderate variability", "free-marginal kappa", 0.80),
        ("accelerations", "accelerations", "free-marginal kappa", 0.62),
        ("decelerations", "decelerations", "free-marginal kappa", 0.63),
        ("category", "category", "free-marginal kappa", 0.68),
    ),
    *_study(
        "Ayres-de-Campos 1999", "Br J Obstet Gynaecol 1999;106:1307-10", "experts, 33 tracings, FIGO",
        ("category", "overall", "kappa", 0.48),
        ("category", "normal", "PA", 0.62),
        ("category", "suspicious", "PA", 0.42),
        ("category", "pathological", "PA", 0.25),
        ("would_act", "overall", "kappa", 0.59),
        ("would_act", "no action", "PA", 0.79),
        ("would_act", "intervene immediately", "PA", 0.38),
    ),
    *_study(
        "Palomaki 2006", "J Perinat Med 2006;34:298-302", "31 obstetricians, 22 cases",
        ("would_act", "no intervention", "PA", 0.63, 0.62, 0.64),
        ("would_act", "intervention", "PA", 0.55, 0.54, 0.56),
    ),
    *_study(
        "Devane & Lalor 2005", "J Adv Nurs 2005;52:133-41", "28 midwives, 3 tracings",
        ("decelerations", "decelerations", "kappa", 0.79),
        ("variability", "baseline variability", "kappa", 0.50),
    ),
    *_study(
        "Paret 2018", "Int J Obstet Gynecol 2018;6:211-8", "3 obstetricians and 3 midwives, 60 tracings, FIGO 2015",
        ("category", "overall", "Fleiss kappa", 0.62, 0.52, 0.73),
        ("category", "normal", "PA", 0.715, 0.675, 0.752),
        ("category", "suspicious", "PA", 0.364, 0.309, 0.419),
        ("category", "pathological", "PA", 0.574, 0.513, 0.635),
    ),
)  # fmt: skip


def published_agreement(item: str) -> tuple[PublishedAgreement, ...]:
    """The published figures for one item, in order of study; empty for an item without any."""
    return tuple(figure for figure in PUBLISHED_AGREEMENT if figure.item == item)


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

    `kappa`: at most 1; None or NaN = not defined.
    Gives word: None for an undefined kappa.
    Raises ValueError: a value above 1, which no kappa can take.
    """
    if kappa is None or kappa != kappa:
        return None
    if kappa < 0.0:
        return "poor"
    for top, word in _BANDS:
        if kappa <= top + 1e-12:
            return word
    raise ValueError(f"kappa {kappa}: more than 1")
