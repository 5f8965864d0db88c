# ruff: noqa: E501, SIM905 (lists of words)
"""Headings of columns as units write them: English, German, French, Spanish, Italian, Dutch.

A heading means a column when each of its groups of words is met and no other word stands there: a word that is not known
makes a heading unknown. Words of the trade, from memory, without accents; no single source.
"""

import re
import unicodedata
from dataclasses import dataclass

_FILLERS = frozenset(
    "of the at in de des du d l le la les der die das dem den am im bei del della dello di al alla allo los las el y et e und van het een a o n no nr nro num"
    " value wert valeur valor valore waarde".split()
)
_BIRTH = "birth delivery geburt geb naissance accouchement nacimiento parto nacer nascita geboorte partus baby kind newborn neonatal neonatale"
_CORD = "cord umbilical umb nabelschnur ns cordon au ombilical ombilicale cordon umbilical funicolo ombelicale navelstreng fetal ns"
_ARTERY = "artery arterial art arteriell arteriel arterielle artere arteria arterioso arteriosa arterie arterieel ua na ao nabelarterie pa"
# the umbilical artery in Spanish, and 'at the' in French; A, and 'at' in Italian: beside pH alone they are the artery
_ARTERY_ALONE = "au a"
_VEIN = "vein venous ven venos venose veineux veineuse veine venoso venosa vena vene veneus uv nv vo vu nabelvene"
_PH = "ph phwert"
_FETAL = "fetal foetal fetale foetale fetalen foetus fetus feto fetaal"
_FETUS = "fetus foetus feto fotus kind baby twin zwilling jumeau gemelo gemello tweeling"
_MATERNAL = "maternal materno materna maternel maternelle mutter mutterliche mutterlicher moeder mere madre maternale"
_HEART_RATE = "hr herzfrequenz frequence frequenz rythme cardiaque frecuencia frec cardiaca frequenza cardiaco battito hartfrequentie heart rate fc pulse puls pouls pulso polso pols"


@dataclass(frozen=True)
class Heading:
    """What one of our columns may be called: a word of each group, and others that may stand beside."""

    column: str
    groups: tuple[str, ...]
    beside: str = ""

    def fits(self, words: list[str]) -> bool:
        """Whether these words mean this column."""
        groups = [frozenset(group.split()) for group in self.groups]
        known = frozenset().union(*groups, self.beside.split(), _FILLERS)
        return all(any(word in group for word in words) for group in groups) and all(word in known for word in words)


_MINUTES = "min mins minute minutes minuten minuto minutos minuti nach after apres dopo na score"
HEADINGS: tuple[Heading, ...] = (
    Heading(
        "case_id",
        ("case fall casus caso cas casenumber geburtennummer fallnummer fallid fallnr casusnummer zaaknummer record dossier dossiernr dossiernummer identifiant study labour codice codigo cartella historia pratica geburtennr partusid geburten partus code numero"
         " number id identifier episode",),
        "id number nummer numero codice codigo code no nr case fall record study labour dossier caso cas casus pratica partus geburten",
    ),
    Heading("period", ("date datum data fecha dob month monat mois mes mese maand geburtsdatum entbindungsdatum geburtsmonat geboortedatum geboortemaand",), _BIRTH),
    Heading(
        "gestation_weeks",
        ("gestation gestational gestationsalter ssw schwangerschaftswoche terme gestationnel ag sa ga edad eg semanas gestacion eta gestazionale settimane epoca zwangerschapsduur ad amenorroeduur termijn weeks wochen semaines weken gest",),
        "age alter gestacional gestational gestationnel gestazionale completed wochen weeks",
    ),
    Heading("parity", ("parity para paritat parite pare paridad paras parita pariteit",), ""),
    Heading("cord_artery_ph", (_PH, _ARTERY), _CORD),
    Heading("cord_artery_ph", (_PH, _ARTERY_ALONE)),
    Heading("cord_vein_ph", (_PH, _VEIN), _CORD),
    Heading(
        "cord_artery_base_deficit_mmol_l",
        ("be bd eb db base basen basendefizit basenexzess basi basedeficit baseexcess baseoverschot",),
        f"deficit defizit exces excess exzess exceso eccesso overschot base basen basi {_ARTERY} {_CORD}",
    ),
    Heading("cord_artery_pco2_kpa", ("pco2 paco2", _ARTERY + " paco2"), _CORD),
    Heading("cord_artery_pco2_kpa", ("pco2", _ARTERY_ALONE)),
    Heading("cord_vein_pco2_kpa", ("pco2 pvco2", _VEIN + " pvco2"), _CORD),
    Heading("cord_lactate_mmol_l", ("lactate lactates laktat lactato lactatos lattato lattati lactaat",), f"{_CORD} {_ARTERY}"),
    Heading("apgar_1", ("apgar as", "1"), _MINUTES),
    Heading("apgar_5", ("apgar as", "5"), _MINUTES),
    Heading("apgar_10", ("apgar as", "10"), _MINUTES),
    Heading(
        "birth_weight_g",
        ("weight birthweight bw geburtsgewicht gewicht gg poids pn peso geboortegewicht",),
        _BIRTH,
    ),
    Heading("birth_s", ("time uhrzeit zeit geburtszeit heure hora ora tijd tijdstip geboortetijd", _BIRTH + " geburtszeit geboortetijd"), ""),
    Heading(
        "time",
        ("time timestamp seconds zeit zeitstempel zeitpunkt sekunden uhrzeit temps horodatage secondes heure horaire tiempo marca segundos hora tempo temporale secondi ora orario tijd tijdstempel seconden tijdstip date datetime sec s",),
        "time tiempo tempo temporale event evento gebeurtenis acte registro ereignis",
    ),
    Heading("fhr_bpm", ("fhr fhf rcf fcf bcf",), f"bpm {_FETUS}"),
    Heading("fhr_bpm", (_HEART_RATE, _FETAL), "bpm cardiaque cardiaca cardiaco"),
    Heading(
        "toco",
        ("toco toko ua cu du wehen wehentatigkeit uterine uterines contractions contracciones contrazioni contracties weeen weeenactiviteit dinamica attivita activite",),
        "activity uterine uterines uterina activite dinamica attivita contractions",
    ),
    Heading("mhr_bpm", ("mhr mhf fcm",), "bpm"),
    Heading("mhr_bpm", (_HEART_RATE, _MATERNAL), "bpm cardiaque cardiaca cardiaco"),
    Heading("event", ("event ereignis evenement evento gebeurtenis action massnahme acte accion azione handeling intervention intervencion intervento interventie",), ""),
)  # fmt: skip
# The unit's words for care events, as compared; ours stand beside. Words of the trade, from memory.
EVENT_WORDS: dict[str, str] = {
    **dict.fromkeys("birth geburt naissance nacimiento nascita geboorte".split(), "birth"),
    **dict.fromkeys("epidural pda peridurale epidurale epiduraal".split(), "epidural"),
    **dict.fromkeys(
        ("position change", "lagewechsel", "changement de position", "cambio de posicion", "cambio di posizione",
         "positieverandering"), "position_change"),
    **dict.fromkeys(
        ("blasensprung", "rupture des membranes", "amniorrexis", "rottura membrane", "vliezen gebroken",
         "membranes ruptured"), "membranes_ruptured"),
    **dict.fromkeys(("ph scalp", "ph au scalp", "mikroblutuntersuchung", "mbu", "fbs"), "fetal_blood_sample"),
    **dict.fromkeys(
        ("decision for birth", "decision for delivery", "decision for caesarean", "entschluss zur sectio"),
        "decision_for_birth"),
}  # fmt: skip
_UNIT = re.compile(
    r"[\[(]?\b(kpa|mm ?hg|mmol ?/ ?l|mg ?/ ?dl|kg|g|gr|lbs?|oz|ms|sec|bpm|w\+d|ssw\+t|sa\+j|s\+d|/min|lpm)\b[\])]?$"
    # only in brackets: they are words elsewhere
    r"|[\[(](s|days|tage|jours|dias|giorni|dagen|lb ?[+/]? ?oz)[\])]$",
    re.IGNORECASE,
)
_UNIT_NAMES = {"kpa": "kPa", "mmhg": "mmHg", "mmol/l": "mmol/L", "mg/dl": "mg/dL", "kg": "kg", "g": "g", "gr": "g", "lb": "lb", "lbs": "lb", "oz": "oz", "ms": "milliseconds", "sec": "seconds", "s": "seconds", **dict.fromkeys("days tage jours dias giorni dagen".split(), "days")}  # fmt: skip


def plain_heading(typed: str) -> tuple[list[str], str | None]:
    """The words of a heading in small letters without accents, and the unit that it ends with, if any."""
    text = unicodedata.normalize(
        "NFKD", typed.casefold().replace("ß", "ss").replace("œ", "oe").replace("º", " ").replace("°", " ")
    )
    text = "".join(character for character in text if not unicodedata.combining(character)).strip()
    found = _UNIT.search(text)
    unit = None
    if found and found.start() > 0:
        unit = _UNIT_NAMES.get((found[1] or found[2]).replace(" ", ""))
        text = text[: found.start()]
    text = re.sub(r"(?<=[a-z])-(?=pco2|ph\b)", " ", text)
    text = re.sub(r"\b(geb|n)\.", r"\1 ", text)
    words = re.findall(r"[a-z]+[0-9]*[a-z]*|[0-9]+", text)
    return words, unit


def columns_of(words: list[str]) -> list[str]:
    """Which of our columns a heading may mean; none when a word of it is not known."""
    return list(dict.fromkeys(heading.column for heading in HEADINGS if words and heading.fits(words)))


def mark_of_heart_rate(typed: str) -> str | None:
    """The number or letter that ends a fetal heart rate's heading, as in `FHR 1` and `FHR2`; None for another heading."""
    words, _ = plain_heading(typed)
    ends = re.fullmatch(r"([a-z]*?)([1-4a-d])", words[-1]) if words else None
    if ends and "fhr_bpm" in columns_of([*words[:-1], *([ends[1]] if ends[1] else [])]):
        return ends[2]
    return "" if "fhr_bpm" in columns_of(words) else None


def event_of(typed: str) -> str | None:
    """The event that a unit's word means, or None."""
    return EVENT_WORDS.get(" ".join(plain_heading(typed)[0]))
