"""Words of the trade that a coded column or a care event's detail may hold; a unit adds its own in its settings.

A value is stored when every word of it is known, so nothing else can be. Single figures grade (category 1, class 2).
Common usage, no single source; the spellings are British and American.
"""

import re

_BIRTH = """
    spontaneous vaginal birth delivery normal assisted instrumental operative vacuum ventouse cup extraction extractor
    forceps kielland kiellands neville barnes wrigley wrigleys simpson rotational nonrotational non low mid outlet
    breech cephalic vertex occiput caesarean cesarean section lscs cs emcs elcs svd nvd svb nvb avd ovd c d s in second
    stage first elective emergency planned unplanned prelabour intrapartum urgent crash category cat grade class failed
    trial of after before with without and or unknown other not known vbac waterbirth water
"""
_ONSET = """
    spontaneous induced induction pre labour labor onset
    augmented augmentation prelabour no none not in rupture membranes
    rom prom pprom srom arom amniotomy balloon prostaglandin oxytocin misoprostol elective planned unknown other of with
"""
_SHIFT = """
    day days night nights evening morning afternoon late early long short twilight weekday weekend holiday handover on
    off call duty shift am pm unknown other
"""
_DETAIL = """
    left right lateral supine semi recumbent knee knees chest elbow all fours standing sitting squatting upright
    position change changed positions to from side turned wedge tilt head down up prone mobilising birthing ball
    stool bolus litre litres crystalloid colloid hartmanns hartmann ringer ringers lactate saline normal plasma
    infusion drip rate increased reduced started stopped restarted given repeated again oxytocin terbutaline
    salbutamol nifedipine atosiban glyceryl trinitrate gtn ephedrine phenylephrine metaraminol paracetamol pethidine
    morphine remifentanil fentanyl diamorphine bupivacaine levobupivacaine lidocaine antibiotics benzylpenicillin
    syntocinon prostaglandin dinoprostone misoprostol magnesium sulphate sulfate labetalol hydralazine ondansetron
    oral iv im sc sublingual subcutaneous intravenous intramuscular mask nasal epidural spinal combined top topup
    general local pudendal block anaesthetic anaesthesia category cat grade class urgency ph be lactate sample scalp
    stimulation acceleration accelerations absent present positive negative response reactive decelerations
    deceleration dec early late variable prolonged recovered recovery no not with without after before during
    contraction contractions clear meconium thick thin blood stained liquor membranes spontaneous artificial
    hindwater forewater vacuum ventouse forceps cup pull pulls traction breech cephalic vertex occiput anterior
    posterior transverse low mid outlet rotational nonrotational lscs caesarean section emergency elective senior
    registrar consultant midwife obstetrician anaesthetist paediatrician neonatal team coordinator called informed
    attended present review reviewed bedside theatre first second third stage active passive pushing pushes directed
    head crowning shoulder dystocia fully dilated vaginal examination cm every dose doses maximum minimum and at for
    of in on off per by x
"""
_UNITS = """
    ml l litre litres mu miu iu u unit units mg mcg ug g kg h hr hour hours min mins minute minutes s sec bpm mmol kpa
    mmhg cm percent
"""

CASE_WORDS: dict[str, frozenset[str]] = {
    "onset_of_labour": frozenset(_ONSET.split()),
    "mode_of_birth": frozenset(_BIRTH.split()),
    "shift": frozenset(_SHIFT.split()),
}
DETAIL_WORDS = frozenset(_DETAIL.split()) | frozenset(_UNITS.split())
_SIGNS = re.compile(r"(?!.*\d ?[/:-] ?\d)[\w ./+(),;%&-]{1,80}", re.ASCII)  # a date or a clock time is none of ours
_PIECES = re.compile(r"[a-z]+|\d+(?:\.\d+)?")
_GRADE = re.compile(r"[1-5]")
_AMOUNT = re.compile(r"\d{1,3}(?:\.\d)?|0\.\d{1,3}|[67]\.\d\d|1000|1500|2000")
MOST_AMOUNTS = 2


def coded(column: str, text: str) -> str | None:
    """The value of a coded column of a cases file in lower case, or None when a word of it is not known."""
    pieces = _pieces(text)
    known = CASE_WORDS[column]
    if not any(piece in known for piece in pieces):
        return None
    figures = [piece for piece in pieces if piece[0].isdigit()]
    if any(piece not in known for piece in pieces if not piece[0].isdigit()):
        return None
    if len(figures) > 1 or not all(_GRADE.fullmatch(piece) for piece in figures):
        return None
    return " ".join(text.casefold().split())


def detail(text: str) -> str | None:
    """A care event's detail in lower case: known words and at most two amounts; else None."""
    pieces = _pieces(text)
    amounts = [piece for piece in pieces if piece[0].isdigit()]
    words = [piece for piece in pieces if not piece[0].isdigit()]
    if len(amounts) > MOST_AMOUNTS or not all(_AMOUNT.fullmatch(piece) for piece in amounts):
        return None
    if any(piece not in DETAIL_WORDS for piece in words) or (
        not words and not (len(amounts) == 1 and _GRADE.fullmatch(amounts[0]))
    ):
        return None
    return " ".join(text.casefold().split()) if pieces else None


def _pieces(text: str) -> list[str]:
    """Words and numbers; nothing at all of a text with other signs than they are written with."""
    return _PIECES.findall(text.casefold()) if _SIGNS.fullmatch(text) else []
