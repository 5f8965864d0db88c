# ruff: noqa: E501 (one form a line reads best)
"""What in a person's own text looks as if it named somebody: a warning to confirm, not a lock.

Kinds follow the list of the United States Safe Harbor rule, 45 CFR 164.514(b)(2)(i): names, parts of dates, telephone
numbers, e-mail and network addresses, national, record, account and device numbers, places. Forms are from memory, of
several countries. No rule of this kind is complete; imported files do not rest on it (see the door of the import).
"""

import re

from audit.intake.door.words import CASE_WORDS, DETAIL_WORDS
from audit.people.ordinary_words import is_ordinary

_MONTHS = (
    "jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    "|nov(?:ember)?|dec(?:ember)?|januar|februar|m[äa]rz|mai|juni|juli|oktober|dezember|janvier|f[ée]vrier|mars|avril"
    "|juin|juillet|ao[uû]t|septembre|octobre|novembre|d[ée]cembre|enero|febrero|marzo|abril|mayo|junio|julio|agosto"
    "|septiembre|octubre|noviembre|diciembre|gennaio|febbraio|aprile|maggio|giugno|luglio|settembre|ottobre|dicembre"
)
_DAY = r"(?:0?[1-9]|[12]\d|3[01])"
_TITLES = (
    "Dr|Doctor|Mrs?|Miss|Ms|Mx|Prof|Professor|Sister|Sr|Nurse|Midwife|Frau|Herr|Fru|Mme|Madame|Monsieur|Sra|Señora|Señor"
    "|Signora|Dott|Mevr|Mevrouw|Dhr|Rouva"
)
_PATTERNS: tuple[tuple[str, str], ...] = (
    ("an e-mail address", r"[\w.+-]+ ?(?:@|\(at\)|\[at\]) ?[\w-]+(?:\.[\w-]+)+"),
    ("a web address", r"(?i)\b(?:https?://|www\.)\S+|\b[\w-]+\.(?:com|org|net|example|co\.uk|de|fr|nl|dk|se|no|es|it)\b(?:/\S*)?"),
    ("a network address", r"\b(?:\d{1,3}\.){3}\d{1,3}\b|\b(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}\b"),
    ("a network address", r"(?i)\b(?:[0-9a-f]{1,4}:){3,7}:?[0-9a-f]{1,4}\b"),
    ("a calendar date", r"(?<!\d)(?:19|20)\d\d[-/. ]?(?:0[1-9]|1[0-2])[-/. ]?(?:0[1-9]|[12]\d|3[01])(?!\d)"),
    ("a calendar date", rf"(?<![\d.]){_DAY}([-/.]) ?{_DAY}\1 ?(?:(?:19|20)\d\d|\d\d)(?![\d])"),
    ("a calendar date", rf"(?i)\b{_DAY}(?:st|nd|rd|th|\.)?[ -]?(?:of |de |den )?(?:{_MONTHS})\b\.?(?!\w)"),
    ("a calendar date", rf"(?i)\b(?:{_MONTHS})\.? {_DAY}(?:st|nd|rd|th)?\b(?! ?(?:at|bpm|min|%|labours|births|cases|ml|units))"),
    ("a calendar date", r"(?:19|20)\d\d ?年 ?\d{1,2} ?月|\d{1,2} ?月 ?\d{1,2} ?日|(?:19|20)\d\d ?년 ?\d{1,2} ?월"),
    ("a calendar date", r"(?i)\b(?:mon|tues|wednes|thurs|fri|satur|sun)day (?:the )?\d"),
    # 03:26 alone, or 'at 03:26', is a time of the tracing, counted from its first sample; these are of a clock on the wall
    ("a time of day", r"(?i)(?:\btime of birth|\bborn|\buhr|\bkl\.?)(?: at| um)? (?:[01]?\d|2[0-3])[:.h][0-5]\d\b"),
    ("a time of day", r"\b(?:[01]?\d|2[0-3]):[0-5]\d:[0-5]\d\b"),
    ("a time of day", r"(?i)\b(?:[01]?\d|2[0-3])(?:[:.][0-5]\d)? ?(?:am|pm|a\.m\.|p\.m\.|uhr|hrs)\b|\b[0-2]\dh[0-5]\d\b"),
    ("a telephone number", r"(?<![\w.])\+\d{1,3}(?:[ ()./-]*\d){6,13}(?!\d)"),
    ("a telephone number", r"(?<![\w.])\(?0\d{1,4}\)?(?:[ /.-]?\d){5,9}(?![\w])"),
    ("a telephone number", r"(?<![\w.])\(\d{3}\) ?\d{3}[ .-]?\d{4}\b|(?<![\w.])\d{3}[.-]\d{3}[.-]\d{4}\b"),
    ("a telephone number", r"(?<![\w.])\d{2}(?:[ .-]\d{2}){3,4}(?![\w.])"),
    ("a telephone number", r"(?i)\b(?:bleep|pager|ext|extension|phone|tel|mobile|fax|call)\.?:? ?(?:no\.? )?\d{3,}\b"),
    ("a national number", r"(?<![\w.])[3-9]\d\d \d{3} \d{4}(?!\d)|(?<![\w.])\d{4} \d{4} \d{4}(?!\d)"),
    ("a national number", r"(?<![\w.])\d{3}\.\d{3}\.\d{3}-\d{2}(?!\d)|(?<![\w.])\d{7}[A-Z]{2}(?!\w)"),
    ("a national number", r"(?<![\w.])\d{3}-\d{2}-\d{4}(?![\w.])|(?<![\w.])\d{6}[-+A ]\d{3,4}[A-Z]?(?![\w.])"),
    ("a national number", r"(?<![\w.])[A-Z]{2} ?\d{2} ?\d{2} ?\d{2} ?[A-D](?!\w)|(?<![\w.])\d{2}\.\d{2}\.\d{2}-\d{3}\.\d{2}\b"),
    ("a national number", r"(?<![\w.])[12] ?\d{2} ?\d{2} ?\d[\dAB] ?\d{3} ?\d{3}(?: ?\d{2})?(?!\d)"),
    ("a national number", r"(?<![\w.])[A-Z]{6}\d{2}[A-Z]\d{2}[A-Z]\d{3}[A-Z](?!\w)|(?<![\w.])[XYZ]?-?\d{7,8}-?[A-Z](?!\w)"),
    ("a device serial number", r"(?i)\b(?:s/?n|serial|imei|udi|asset|device)[ .:#-]*(?:no|number|id)?[ .:#-]*[a-z]*[-\d]*\d{3,}"),
    ("a record number", r"(?i)\b(?:mrn|nhs|hosp\w*|record|chart|file|account|policy|insurance|passport|licen[cs]e|case ?note|patient|csn|encounter|visit)s?(?: (?:no|number|id|nr))?[ .:#-]*[a-z]{0,3}[- ]?\d{3,}"),
    ("a record number", r"(?<![\w.-])[A-Z]{0,3}[-/]?\d{6,}(?:[-/]\d+)?[A-Z]?(?![\w-])"),
    ("a record number", r"\b[A-Z]{2}\d{2}(?: ?[A-Z0-9]{4}){2,7}(?: ?[A-Z0-9]{1,3})?\b"),
    ("a record number", r"\b[A-Z]{1,3}\d{2,4}[A-Z]{1,3}\d*\b|\b[A-Z]{1,3}[- ]\d{1,4}[- ][A-Z]{1,3}\b|\b[A-Z]\d{7,}\b|\b[A-Z]{1,3}-[A-Z]{2}[- ]?\d{3,4}\b"),
    ("a place", r"\b[A-Z]{1,2}\d[A-Z\d]? \d[A-Z]{2}\b|\b[A-Z]\d[A-Z] ?\d[A-Z]\d\b|\b\d{4} [A-Z]{2}\b"),
    ("a place", r"(?i)\b\d{1,4}[a-z]?,? (?:[a-zäöüßéø'’-]+ ){1,3}(?:street|st|road|rd|avenue|ave|lane|drive|close|way|court|crescent|square|terrace)\b"),
    ("a place", r"(?i)\b(?:[a-zäöüßéø-]+(?:stra(?:ß|ss)e|str\.|gade|gatan|vej|straat|weg|gata|laan|allee|platz))\.? ?\d{1,4}\b|\b(?:rue|via|calle|avenida|boulevard|piazza|plaza|avenue) (?:de |la |del |des |du )*[a-zéèáíóúñ'’-]+"),
    ("a place", r"(?<![\w.])-?\d{1,2}\.\d{4,}[,; ] ?-?\d{1,3}\.\d{4,}(?!\d)"),
    ("a place", r"(?i)\b(?:lives (?:in|at|near)|from the village of|home address|post ?code|zip)\b:? ?\w+"),
    ("a name", rf"\b(?:{_TITLES})\.? (?:[A-Z]\. ?)*(?:van |von |de |der |den |la |al-)*[A-ZÀ-Ý][\w'’-]+"),
    ("a name", r"(?i:\b(?:named|called|name is|known as|surname|forename|initials|husband|partner|mother|baby|daughter|son))(?:[:,]? (?:is )?)[A-ZÀ-Ý][\w'’-]+"),
    ("a name", r"(?<![\w.])(?:[A-ZÀ-Ý]\. ?){1,3}(?:van |von |de |der |den )*[A-ZÀ-Ý][a-zà-ÿā-ž'’-]+"),
    ("a name", r"\b[A-ZÀ-Ý][a-zà-ÿā-ž'’-]+,? [A-ZÀ-Ý]\.(?!\w)"),
    ("a name", r"^\s*[A-ZÀ-Ý](?:[^\W\d]|['’-])+, ?[A-ZÀ-Ý](?:[^\W\d]|['’-])+|\b[A-ZÀ-Ý]{3,}, ?[A-ZÀ-Ý][\w'’-]+"),
    ("a name", r"\b(?:O['’]|Mc|Mac)[A-Z][a-z]+|\b[a-zà-ÿā-ž]{3,}[._][a-zà-ÿā-ž]{3,}\b(?!\.)"),
)  # fmt: skip
_CONTENT = tuple((kind, re.compile(pattern)) for kind, pattern in _PATTERNS)

# Capitalised words of the trade, of our standards and of sentences: any other within a sentence may be a name.
_TRADE = """
    Apgar Sarnat Bishop Doppler Pinard Hartmann Hartmanns Ringer Kielland Kiellands Neville Barnes Wrigley Wrigleys
    Simpson McRoberts Syntocinon Category Grade Class Case Fetus Twin Reader Stage Trigger Standard Room Theatre Labour
    Labor Ward Unit Level Type Figure Table Section Caesarean Cesarean Ventouse Forceps Position Change Late Early
    Variable Prolonged Deceleration Decelerations Acceleration Accelerations Contraction Contractions Baseline
    Variability Tachysystole Oxytocin Ephedrine Terbutaline Midwife Midwives Obstetrician Registrar Consultant Senior
    Junior Anaesthetist Anesthetist Paediatrician Neonatal Coordinator Team Lead Chair Meeting Birth Delivery Epidural
    Scalp Sample Monday Tuesday Wednesday Thursday Friday Saturday Sunday Mondays Tuesdays
    Wednesdays Thursdays Fridays Saturdays Sundays Saving Babies Lives Each Baby Counts January February March April May June July
    August September October November December Christmas Easter English Review Good Poor No Not Yes None Normal
    Suspicious Pathological Decision Action Question Learning Point Fluid Bolus Called Given Started Stopped Reduced
    Increased Left Right Second First Third Maternal Fetal Intrauterine External Electrode Monitoring Tracing Signal
    Toco Hypotension Amnioinfusion Pushing Membranes Ruptured Incision Instrument Applied Bedside Day Night Evening
    Morning Shift Handover Induction Spontaneous Elective Emergency Cord Artery Vein Lactate Base Deficit Excess
"""
_WORDS = frozenset(_TRADE.split())
_CODED = DETAIL_WORDS.union(*CASE_WORDS.values())
_CAPITALISED = re.compile(r"[^\W\d_][^\W\d_]*(?:['’-][^\W\d_]+)*")
_STARTS = re.compile(r"(?:^|[.!?:;•\n]\s*|[-–\"“]\s*)$")
_ROLE_BEFORE = re.compile(
    r"(?i)\b(?:consultant|midwife|registrar|obstetrician|an(?:a)?esthetist|reader|lead|chair|student|doctor|nurse): ?$"
)
# what persons alone do, or are called: after a strange word that begins a sentence
_OF_A_PERSON = re.compile(
    r"['’]s\b|,? (?:and \w+ )?(?:thought|said|says|saw|told|asked|called|left|arrived|agreed|disagreed|wrote|noted|felt|came|went"
    r"|reviewed|signed|answered|read|heard|knew|wanted|worried|suggested|recalled|explained|decided|apologised)\b"
    r"|, (?:the|our|a|who) "
)
_APGAR = re.compile(r"(?i)apgars? ?(?:scores? )?(?:of |were |was )?\d|^\W*\d{1,2}/\d{1,2}/10\W*$")
_SCORES = re.compile(r"(?<![\d/])(?:10|\d)(?:/(?:10|\d)){2}(?![\d/])")
_RATES = re.compile(r"(?<!\d)\d{2,3}(?:[ ,-]+\d{2,3})*(?!\d)(?= ?(?:bpm|/min|kPa|mmHg))")


def looks_like(text: str) -> str | None:
    """What kind of identifier the text seems to hold, or None."""
    plain = _SCORES.sub("n", _RATES.sub("n", text)) if _APGAR.search(text) or _RATES.search(text) else text
    plain = _SCORES.sub("n", plain)
    for kind, pattern in _CONTENT:
        if any(kind != "a name" or not _all_known(found[0]) for found in pattern.finditer(plain)):
            return kind
    return "a name" if _names(plain) else None


def _known(word: str) -> bool:
    """A word of the trade, of everyday speech, or one that a coded column may hold."""
    first = word.split("-")[0].removesuffix("'s").removesuffix("’s")
    return first in _WORDS or first.casefold() in _CODED or is_ordinary(first)


def _all_known(text: str) -> bool:
    words = [word for word in _CAPITALISED.findall(text) if word[0].isupper()]
    return bool(words) and all(_known(word) for word in words)


def _names(text: str) -> bool:
    """A capitalised word that is neither of the trade nor begins a sentence, two such words side by side, or one that
    begins a sentence and does what persons do."""
    before_was_strange, end = False, 0
    for found in _CAPITALISED.finditer(text):
        word = found[0]
        strange = word[0].isupper() and len(word) > 1 and not word.isupper() and not _known(word)
        beside = before_was_strange and text[end : found.start()].strip(" ") in ("", ",", "-")
        begins = bool(_STARTS.search(text[: found.start()]))
        after = text[found.start() + len(word.removesuffix("'s").removesuffix("’s")) :]
        person = _OF_A_PERSON.match(after) or _ROLE_BEFORE.search(text[: found.start()])
        if strange and (not begins or beside or person):
            return True
        before_was_strange, end = strange, found.end()
    return False
