"""Ordinary English words, so that a capital at the head of one makes no name of it.

Written from memory: words of speech, of review meetings and of the trade. Words that are also common names (such as
those of flowers, colours of hair and virtues) are left out. Endings are taken off before a word is looked up.
"""

_WORDS = """
    a about above act action active add added advice after again against age ago agree ahead aim air alarm alert all
    allow almost alone along aloud already also although always am among amount an and another answer any anybody
    anyone anything anyway apart appear apply area argue arm around arrange arrival arrive as ask asleep assess
    assist at attach attempt attend audit available average avoid aware away back bad balance ball balloon band
    based basic batch bath be became because become bed been before beforehand began begin behind being believe
    below belt beside best better between beyond big birth blame bleed blind block blood board body book borderline
    both bottom box break breath breech bring broken brought bruise build busy but by call calm came can cancel
    cannot capture care careful carry case catch cause caution cervix chance change chart check checklist child
    choice choose circle clamp clear clinic clock close code coincide collect colour combine come comfort comment
    common communicate compare complete complex compress concern conclude confirm confuse confusing consent consider
    consult contact continue control cool cord correct could count counter couple course cover criteria cross crowd
    crown culture cup current cut cycle daily damage danger data deal debate debrief decide decision deep deeper
    define definite degree delay deliver demand denied depart depend depth describe detail detect device did died
    differ different difficult direct disagree discuss display distress do doctor document does dose double doubt
    down draft draw drew drift drill drip drop drug due duration during duty each early ease easy edge effect effort
    eight eighty either elapse electrode eleven else emergency empty end engage enough ensure enter entry episode
    equal equipment error escalate essential estimate even event ever every everybody everyone everything evidence
    exact exactly exam example excellent except exception exclude exhaust exist exit expect expert explain express
    extra eye face fact factor fail failure fair fall false family fast fatigue fault fear feature feed feel fell
    felt fetal few fewer fifteen fifty fill final find fine finger finish firm first fit five fix fixed flat focus
    follow for force forget form former forth forty forward found four free frequent fresh from full further future
    gap gas gather gave general gestation get give given glucose go goes gone good got grade gradual great group
    grow growth guess guide guideline had half hand handle handout handover happen hard has have he head hear heard
    heart heavy help her here hidden high higher hindsight his hold home hour hourly how however human hundred hurry
    idea if ignore ill image immediate immediately important improve in include increase indeed index infect inform
    information initial inside instead instruct instruction intensive interest interpret interpreter interrupt
    interval into introduce invite involve is issue it item its joint judge just keep kept key kind knew know known
    lack language large last late later latest lay lead learn least leave led left less lesson let letter level lie
    lift light like likely limit line link list listen little local locate log longer look loop lose loss lost lot
    loud low lower machine made main make manage manner many marginal mask match maternal matter may maybe me mean
    meant meantime meanwhile measure meconium meet meeting member memory mention message method middle midwife might
    mind minimal minor minute miss missed missing mistake mistaken mix moment monitor month monthly more most mother
    move movement much multiple must my nadir name narrow near nearly necessary need needle neither neonatal never
    new next nice night nine ninety no nobody noise none nor normal not note nothing notice now number nurse object
    observe obvious occur odd of off offer office often old older on once one only onset open operate opinion
    opportunity oppose option or oral order other others otherwise ought our out outcome outlier outside over own
    pain pair panel paper parent parity part partial partly pass past patch patient pattern pause pay peak peer
    people per perfect perhaps period person phase phone pick picture piece place plain plan play please plus point
    policy poor position possible post poster postpone practice praise prepare present press pressure prevent
    previous print prior probe problem process produce prolapse prompt proper propose protocol prove provide public
    pull pulse pump purpose push put quality quarter question quick quickly quiet quite raise ran range rapid rare
    rate rather ratio reach react reactive read reader ready real really reason reassurance reassure recall receive
    recent recheck recognise recognition recognize record recover recovery recur reduce refer reflect refuse regard
    regular reject relate relative release relevant rely remain remember remind remote remove repeat replace reply
    report request require rescue reset resolve resource respond response rest restrict result resume resuscitate
    resuscitation retain return reveal review revise right ring rise risk role roll room rota rotate round routine
    row rule run safe safety said same sample save saw say scale scan scar schedule scope score screen search second
    section see seem seen select self send sense sensor sent separate sepsis sequence serious service set setting
    settle seven seventy several severe shall shallow shape share she sheet shift short shorten should shoulder show
    shown sick side sign signal silence silent similar simple simply simulate simulation since single sinusoidal sit
    site six sixty sleep slide slip slow slowly small smooth so some somebody someone something sometimes soon
    sooner sort sound source space speak special speed spent split spoke staff stage stand standard start state
    station stay steady steep step sticker still stimulate stock stood stop stopped store story straight strap strip
    strong stuck study sub such sudden suddenly suggest suit sum summary supine support sure surgery surprise
    suspect suspicion swap switch symptom system table take taken talk tape target task taught teach team technical
    tell ten tense term test text than thank that the theatre their them then there these they thick thin thing
    think third thirteen thirty this those though thought three through throughout tie time timely timing tip tire
    to today together told toll tone too took tool top topic total touch toward trace train training transfer treat
    trend trial trigger trolley trouble true trust truth try tube turn twelve twenty twice twin two type under
    understand unit unless until up update upon urgent us use used useful usual uterine vague valid value variable
    various verify version very vessel view visible visit vital voice vomit wait wake walk want warm warn was watch
    wave way we weak wean week weekend weekly weigh well went were what when where whether which while who whole
    whom whose why wide will window wire wish with within without woman women word work worse worst worth would
    write written wrong wrote year yes yet you your zero
"""
ORDINARY = frozenset(_WORDS.split())
_FORMS = """
    s es d ed r er st est ly ing ion ions tion ative ive al ally ance ence ment able less ness 's
"""
_ENDINGS = ("", *_FORMS.split())
# Words that are made of others, and of Greek: names do not end so, or not at such a length.
_DERIVATIONS = """
    tion sion ness ity cardia ible ical ous ance ence ism ative ally ental work fact ology emia oxia
"""
_DERIVED = tuple(_DERIVATIONS.split())
_LEAST_LETTERS = 7
_OF_VERBS = ("ed", "ing", "able")
_LEAST_OF_VERBS = 9


def is_ordinary(word: str) -> bool:
    """Whether a word, in whatever case, is one of everyday speech or a form of one."""
    low = word.casefold().replace("’", "'")
    if len(low) >= _LEAST_LETTERS and low.endswith(_DERIVED):
        return True
    if len(low) >= _LEAST_OF_VERBS and low.endswith(_OF_VERBS):
        return True
    stems = [low[: len(low) - len(end)] for end in _ENDINGS if low.endswith(end)]
    stems += [stem[2:] for stem in stems if stem.startswith(("un", "re"))]
    return any(
        stem in ORDINARY or f"{stem}e" in ORDINARY or _undoubled(stem) in ORDINARY or f"{stem[:-1]}y" in ORDINARY
        for stem in stems
        if len(stem) > 1
    )


def _undoubled(stem: str) -> str:
    return stem[:-1] if len(stem) > 2 and stem[-1] == stem[-2] else stem
