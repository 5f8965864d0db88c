# ruff: noqa: E501 (lists of words)
"""Invented exports as units of six languages might hold them, each with what a right mapping of it says.

Every file is drawn: shape, language, words of the header, order of columns, units, delimiter, decimal mark, encoding. The
header words are those of the trade, from memory, several for each thing. Half of the files are held out: whoever tunes
the guesser looks at the others (`held_out`).
"""

import random
from dataclasses import dataclass, field

LANGUAGES = ("en", "de", "fr", "es", "it", "nl")
COUNT = 96

# our column -> language -> header words
WORDS: dict[str, dict[str, list[str]]] = {
    "case_id": {
        "en": ["Case no", "Study ID", "Case", "Record no", "Labour ID"],
        "de": ["Fallnummer", "Fall-Nr.", "Fall", "Geburten-Nr", "Fall_ID"],
        "fr": ["N° dossier", "Numéro de dossier", "Identifiant", "Dossier", "Code cas"],
        "es": ["Nº caso", "Caso", "Número de caso", "Código", "Historia"],
        "it": ["N. caso", "Caso", "Codice caso", "Cartella", "Numero pratica"],
        "nl": ["Casusnummer", "Casus", "Dossiernr", "Zaaknummer", "Partus-ID"],
    },
    "period": {
        "en": ["Date of birth", "Birth date", "Month of birth", "DOB baby"],
        "de": ["Geburtsdatum", "Geb.-Datum Kind", "Geburtsmonat", "Datum der Geburt"],
        "fr": ["Date de naissance", "Date naissance", "Mois de naissance", "Date accouchement"],
        "es": ["Fecha de nacimiento", "Fecha nacimiento", "Mes de nacimiento", "Fecha parto"],
        "it": ["Data di nascita", "Data nascita", "Mese di nascita", "Data parto"],
        "nl": ["Geboortedatum", "Datum geboorte", "Geboortemaand", "Datum partus"],
    },
    "gestation_weeks": {
        "en": ["Gestation", "Gestational age", "GA", "Weeks"],
        "de": ["SSW", "Schwangerschaftswoche", "Gestationsalter", "Gest.-Alter"],
        "fr": ["Terme", "Âge gestationnel", "AG", "SA"],
        "es": ["Edad gestacional", "EG", "Semanas", "Gestación"],
        "it": ["Età gestazionale", "EG", "Settimane", "Epoca gestazionale"],
        "nl": ["Zwangerschapsduur", "AD", "Amenorroeduur", "Termijn"],
    },
    "parity": {
        "en": ["Parity", "Para"],
        "de": ["Parität", "Para"],
        "fr": ["Parité", "Pare"],
        "es": ["Paridad", "Paras"],
        "it": ["Parità", "Para"],
        "nl": ["Pariteit", "Para"],
    },
    "cord_artery_ph": {
        "en": ["Cord artery pH", "Arterial pH", "UA pH", "pH art", "Umbilical artery pH"],
        "de": ["NA-pH", "pH-Wert Nabelarterie", "Nabelschnur-pH arteriell", "NS-pH art.", "pH art"],
        "fr": ["pH artériel", "pH artère ombilicale", "pH AO", "pH cordon artère"],
        "es": ["pH arterial", "pH arteria umbilical", "pH AU", "pH cordón arterial"],
        "it": ["pH arterioso", "pH arteria ombelicale", "pH AO", "pH funicolo arteria"],
        "nl": ["pH arterieel", "pH navelstreng arterie", "NA pH", "pH art. umb."],
    },
    "cord_vein_ph": {
        "en": ["Cord vein pH", "Venous pH", "UV pH"],
        "de": ["NV-pH", "pH-Wert Nabelvene", "Nabelschnur-pH venös"],
        "fr": ["pH veineux", "pH veine ombilicale", "pH VO"],
        "es": ["pH venoso", "pH vena umbilical", "pH VU"],
        "it": ["pH venoso", "pH vena ombelicale", "pH VO"],
        "nl": ["pH veneus", "pH navelstreng vene", "NV pH"],
    },
    "cord_artery_base_deficit_mmol_l": {
        "en": ["Base deficit", "BD", "Base excess", "BE art"],
        "de": ["Basendefizit", "Basenexzess", "BE", "BE art."],
        "fr": ["Déficit de base", "Excès de base", "BE artériel", "DB"],
        "es": ["Déficit de base", "Exceso de base", "EB", "DB"],
        "it": ["Deficit di basi", "Eccesso di basi", "BE arterioso", "EB"],
        "nl": ["Basedeficit", "Base-excess", "BE arterieel", "Baseoverschot"],
    },
    "cord_artery_pco2_kpa": {
        "en": ["Arterial pCO2", "pCO2 art", "UA pCO2"],
        "de": ["pCO2 arteriell", "NA-pCO2", "pCO2 Nabelarterie"],
        "fr": ["pCO2 artériel", "pCO2 artère", "PaCO2 cordon"],
        "es": ["pCO2 arterial", "pCO2 arteria", "pCO2 AU"],
        "it": ["pCO2 arterioso", "pCO2 arteria", "pCO2 AO"],
        "nl": ["pCO2 arterieel", "pCO2 arterie", "NA pCO2"],
    },
    "cord_lactate_mmol_l": {
        "en": ["Lactate", "Cord lactate"],
        "de": ["Laktat", "Nabelschnur-Laktat"],
        "fr": ["Lactate", "Lactates au cordon"],
        "es": ["Lactato", "Lactato cordón"],
        "it": ["Lattato", "Lattati funicolo"],
        "nl": ["Lactaat", "Lactaat navelstreng"],
    },
    "apgar_1": {
        "en": ["Apgar 1", "Apgar 1 min", "Apgar at 1 minute"],
        "de": ["Apgar 1", "Apgar 1 Min.", "APGAR 1'"],
        "fr": ["Apgar 1", "Apgar 1 min", "Apgar à 1 minute"],
        "es": ["Apgar 1", "Apgar 1 min", "Apgar al minuto 1"],
        "it": ["Apgar 1", "Apgar 1 min", "Apgar a 1 minuto"],
        "nl": ["Apgar 1", "Apgar 1 min", "AS 1"],
    },
    "apgar_5": {
        "en": ["Apgar 5", "Apgar 5 min", "Apgar at 5 minutes"],
        "de": ["Apgar 5", "Apgar 5 Min.", "APGAR 5'"],
        "fr": ["Apgar 5", "Apgar 5 min", "Apgar à 5 minutes"],
        "es": ["Apgar 5", "Apgar 5 min", "Apgar a los 5 minutos"],
        "it": ["Apgar 5", "Apgar 5 min", "Apgar a 5 minuti"],
        "nl": ["Apgar 5", "Apgar 5 min", "AS 5"],
    },
    "birth_weight_g": {
        "en": ["Birth weight", "Birthweight", "Weight", "BW"],
        "de": ["Geburtsgewicht", "Gewicht", "Geb.-Gewicht", "GG"],
        "fr": ["Poids de naissance", "Poids", "PN", "Poids naissance"],
        "es": ["Peso al nacer", "Peso", "Peso nacimiento", "PN"],
        "it": ["Peso alla nascita", "Peso", "Peso neonatale", "PN"],
        "nl": ["Geboortegewicht", "Gewicht", "Gewicht kind", "GG"],
    },
    "t_s": {
        "en": ["Time", "Timestamp", "Seconds", "Date/time"],
        "de": ["Zeit", "Zeitstempel", "Sekunden", "Uhrzeit"],
        "fr": ["Temps", "Horodatage", "Secondes", "Heure"],
        "es": ["Tiempo", "Marca de tiempo", "Segundos", "Hora"],
        "it": ["Tempo", "Marca temporale", "Secondi", "Ora"],
        "nl": ["Tijd", "Tijdstempel", "Seconden", "Tijdstip"],
    },
    "at_s": {
        "en": ["Time", "Event time", "Time of event"],
        "de": ["Zeit", "Uhrzeit", "Zeitpunkt"],
        "fr": ["Heure", "Horaire", "Heure de l'acte"],
        "es": ["Hora", "Hora del evento", "Hora registro"],
        "it": ["Ora", "Orario", "Ora evento"],
        "nl": ["Tijd", "Tijdstip", "Tijd gebeurtenis"],
    },
    "fhr_bpm": {
        "en": ["FHR", "Fetal heart rate", "FHR1", "Fetal HR"],
        "de": ["FHF", "Fetale Herzfrequenz", "FHR", "Herzfrequenz fetal"],
        "fr": ["RCF", "Rythme cardiaque foetal", "FCF", "Fréquence cardiaque foetale"],
        "es": ["FCF", "Frecuencia cardíaca fetal", "FCF bpm", "Frec. cardiaca fetal"],
        "it": ["FCF", "Frequenza cardiaca fetale", "BCF", "Battito cardiaco fetale"],
        "nl": ["FHR", "Foetale hartfrequentie", "Hartfrequentie foetus", "FHF"],
    },
    "toco": {
        "en": ["Toco", "UA", "Uterine activity", "Contractions"],
        "de": ["Toko", "Wehen", "Wehentätigkeit", "Toco"],
        "fr": ["Toco", "CU", "Contractions utérines", "Activité utérine"],
        "es": ["Toco", "DU", "Dinámica uterina", "Contracciones"],
        "it": ["Toco", "Contrazioni", "Attività uterina", "CU"],
        "nl": ["Toco", "Weeën", "Weeënactiviteit", "Contracties"],
    },
    "mhr_bpm": {
        "en": ["MHR", "Maternal HR", "Maternal pulse"],
        "de": ["Mütterliche Herzfrequenz", "Puls Mutter", "MHF"],
        "fr": ["Pouls maternel", "FC maternelle", "FCM"],
        "es": ["Pulso materno", "FC materna", "FCM"],
        "it": ["Polso materno", "FC materna", "FCM"],
        "nl": ["Pols moeder", "Maternale hartfrequentie", "MHF"],
    },
    "event": {
        "en": ["Event", "Action", "Intervention"],
        "de": ["Ereignis", "Maßnahme", "Massnahme"],
        "fr": ["Évènement", "Acte", "Événement"],
        "es": ["Evento", "Acción", "Intervención"],
        "it": ["Evento", "Azione", "Intervento"],
        "nl": ["Gebeurtenis", "Handeling", "Interventie"],
    },
}
EVENTS: dict[str, dict[str, str]] = {
    "en": {"Birth": "birth", "Epidural": "epidural", "Position change": "position_change", "Decision": "decision_for_birth"},
    "de": {"Geburt": "birth", "PDA": "epidural", "Lagewechsel": "position_change", "Blasensprung": "membranes_ruptured"},
    "fr": {"Naissance": "birth", "Péridurale": "epidural", "Changement de position": "position_change", "pH scalp": "fetal_blood_sample"},
    "es": {"Nacimiento": "birth", "Epidural": "epidural", "Cambio de posición": "position_change", "Amniorrexis": "membranes_ruptured"},
    "it": {"Nascita": "birth", "Epidurale": "epidural", "Cambio di posizione": "position_change", "Rottura membrane": "membranes_ruptured"},
    "nl": {"Geboorte": "birth", "Epiduraal": "epidural", "Positieverandering": "position_change", "Vliezen gebroken": "membranes_ruptured"},
}  # fmt: skip
# columns that a unit has beside and that must not be taken for one of ours
NOISE = {
    "en": ["Ward", "Midwife", "Maternal pH urine", "Temperature", "Placenta weight"],
    "de": ["Station", "Hebamme", "Urin-pH", "Temperatur", "Plazentagewicht"],
    "fr": ["Service", "Sage-femme", "pH urinaire", "Température", "Poids placenta"],
    "es": ["Sala", "Matrona", "pH orina", "Temperatura", "Peso placenta"],
    "it": ["Reparto", "Ostetrica", "pH urine", "Temperatura", "Peso placenta"],
    "nl": ["Afdeling", "Verloskundige", "Urine-pH", "Temperatuur", "Placentagewicht"],
}
NOISE_VALUES = (["North", "South"], ["x", "y"], ["6.0", "5.5"], ["36.8", "37.2"], ["540", "610"])


@dataclass(frozen=True)
class Export:
    """One invented file. `columns`: theirs by ours; `units`: of those that are not ours already."""

    number: int
    language: str
    kind: str
    data: bytes
    columns: dict[str, str]
    units: dict[str, str]
    words: dict[str, str] = field(default_factory=dict)
    clock: bool = False

    @property
    def held_out(self) -> bool:
        """Not to be looked at while the guesser is tuned."""
        return self.number % 2 == 1


def exports() -> list[Export]:
    """All of them, the same each time."""
    return [_export(number) for number in range(COUNT)]


def _export(number: int) -> Export:
    rng = random.Random(7_000 + number)
    language = LANGUAGES[(number // 2) % 6]
    kind = ("cases", "cases", "tracing", "care_events")[(number // 12) % 4]
    decimal = "." if language == "en" else ","
    delimiter = rng.choice([",", "\t"] if decimal == "." else [";", ";", "\t"])
    drawn = {"cases": _cases, "tracing": _tracing, "care_events": _events}[kind](rng, language, decimal)
    header, rows, columns, units, words, clock = drawn
    lines = [delimiter.join(header), *(delimiter.join(row) for row in rows)]
    if rng.random() < 0.15:
        lines.insert(0, "Export")
    encoding = rng.choice(["utf-8", "utf-8-sig", "cp1252", "utf-16"])
    data = rng.choice(["\n", "\r\n"]).join(lines).encode(encoding, "replace")
    return Export(number, language, kind, data, columns, units, words, clock)


Drawn = tuple[list[str], list[list[str]], dict[str, str], dict[str, str], dict[str, str], bool]


def _cases(rng: random.Random, language: str, decimal: str) -> Drawn:
    names = [
        "case_id",
        "period",
        *rng.sample([n for n in WORDS if n.startswith(("cord", "apgar", "birth_w", "gest", "par"))], 6),
    ]
    columns, units, cells = {}, {}, {}
    count = 30
    for name in names:
        word = rng.choice(WORDS[name][language])
        unit = ""
        values: list[str] = []
        if name == "case_id":
            values = [f"C{100 + k}" for k in range(count)]
        elif name == "period":
            iso = rng.random() < 0.3
            month = any(part in word.lower() for part in ("monat", "mois", "month", "mes ", "mese", "maand"))
            dot = "." if language == "de" else "/"
            for k in range(count):
                day, m = k % 28 + 1, 4
                date = f"2031-{m:02d}-{day:02d}" if iso else f"{day:02d}{dot}{m:02d}{dot}2031"
                values.append(f"2031-{m:02d}" if month else date)
            unit = "" if month else "date"
        elif name == "gestation_weeks":
            form = rng.choice(["weeks+days", "weeks+days", "weeks", "days"])
            weeks = [(rng.randint(36, 41), rng.randint(0, 6)) for _ in range(count)]
            if form == "weeks+days":
                values = [f"{w}+{d}" for w, d in weeks]
                unit = ""  # read as it is
            elif form == "weeks":
                values = [str(w) for w, _ in weeks]
            else:
                values, unit = [str(7 * w + d) for w, d in weeks], "days"
        elif name == "parity":
            values = [str(rng.randint(0, 4)) for _ in range(count)]
        elif name.endswith("_ph"):
            values = [f"{rng.gauss(7.24, 0.07):.2f}" for _ in range(count)]
        elif name == "cord_artery_base_deficit_mmol_l":
            excess = any(x in word.lower() for x in ("exc", "exz", "be", "eb", "ecce", "oversch"))
            values = [f"{(-1 if excess else 1) * abs(rng.gauss(5, 3)):.1f}" for _ in range(count)]
            unit = "base excess" if excess else ""
        elif name == "cord_artery_pco2_kpa":
            mmhg = rng.random() < 0.5
            values = [f"{rng.gauss(55, 9):.0f}" if mmhg else f"{rng.gauss(7.3, 1.2):.1f}" for _ in range(count)]
            unit = "mmHg" if mmhg else ""
        elif name == "cord_lactate_mmol_l":
            mg = rng.random() < 0.25
            values = [
                f"{max(8.0, rng.gauss(40, 14)):.0f}" if mg else f"{max(0.8, rng.gauss(4.2, 1.5)):.1f}"
                for _ in range(count)
            ]
            unit = "mg/dL" if mg else ""
        elif name.startswith("apgar"):
            values = [str(rng.randint(6, 10)) for _ in range(count)]
        elif name == "birth_weight_g":
            kg = rng.random() < 0.35
            grams = [rng.gauss(3400, 420) for _ in range(count)]
            values = [f"{g / 1000:.2f}" if kg else f"{g:.0f}" for g in grams]
            unit = "kg" if kg else ""
        columns[name], cells[name] = word, values
        if unit:
            units[name] = unit
        if rng.random() < 0.25 and name in ("cord_artery_pco2_kpa", "birth_weight_g", "cord_lactate_mmol_l"):
            printed = (
                unit or {"cord_artery_pco2_kpa": "kPa", "birth_weight_g": "g", "cord_lactate_mmol_l": "mmol/l"}[name]
            )
            columns[name] = f"{word} [{printed}]"
    return _laid_out(rng, language, decimal, columns, cells, units, {}, False)


def _tracing(rng: random.Random, language: str, decimal: str) -> Drawn:
    names = ["case_id", "t_s", "fhr_bpm", "toco", *(["mhr_bpm"] if rng.random() < 0.4 else [])]
    columns = {name: rng.choice(WORDS[name][language]) for name in names}
    form = rng.choice(["seconds", "milliseconds", "clock", "clock"])
    rate = rng.choice([1, 2, 4])
    count = 300
    if form == "clock" and rate != 1:
        rate = 1
    times = [k / rate for k in range(count)]
    cells = {
        "case_id": ["C7"] * count,
        "fhr_bpm": [f"{140 + rng.gauss(0, 6):.0f}" if rng.random() > 0.1 else "0" for _ in range(count)],
        "toco": [str(rng.randint(5, 60)) for _ in range(count)],
        "mhr_bpm": [f"{82 + rng.gauss(0, 4):.0f}" for _ in range(count)],
    }
    units = {}
    if form == "seconds":
        cells["t_s"] = [f"{t:g}" for t in times]
    elif form == "milliseconds":
        cells["t_s"] = [f"{1000 * t:.0f}" for t in times]
        units["t_s"] = "milliseconds"
    else:
        dot = "." if language == "de" else "/"
        cells["t_s"] = [
            f"14{dot}04{dot}2031 23:{57 + int(t) // 60:02d}:{int(t) % 60:02d}"
            if t < 180
            else f"15{dot}04{dot}2031 00:{int(t - 180) // 60:02d}:{int(t) % 60:02d}"
            for t in times
        ]
        units["t_s"] = "clock"
    return _laid_out(rng, language, decimal, columns, {name: cells[name] for name in names}, units, {}, form == "clock")


def _events(rng: random.Random, language: str, decimal: str) -> Drawn:
    names = ["case_id", "at_s", "event"]
    columns = {name: rng.choice(WORDS[name][language]) for name in names}
    words = EVENTS[language]
    count = 24
    dot = "." if language == "de" else "/"
    clock = rng.random() < 0.7
    cells = {
        "case_id": [f"C{k // 4}" for k in range(count)],
        "at_s": [
            f"{13 + k % 9}{dot}04{dot}2031 {k % 24:02d}:{7 * k % 60:02d}" if clock else str(300 * k)
            for k in range(count)
        ],
        "event": [list(words)[k % 4] for k in range(count)],
    }
    return _laid_out(rng, language, decimal, columns, cells, {"at_s": "clock"} if clock else {}, words, clock)


def _laid_out(
    rng: random.Random,
    language: str,
    decimal: str,
    columns: dict[str, str],
    cells: dict[str, list[str]],
    units: dict[str, str],
    words: dict[str, str],
    clock: bool,
) -> Drawn:
    """Columns in any order, some of the unit's own between them."""
    count = len(next(iter(cells.values())))
    if len(set(columns.values())) < len(columns):  # a header that has a word twice is another fault
        columns = {
            name: word if list(columns.values()).count(word) == 1 else f"{word} {k}"
            for k, (name, word) in enumerate(columns.items())
        }
    laid = [(columns[name], values) for name, values in cells.items()]
    for k in rng.sample(range(5), rng.randint(0, 2)):
        laid.append((NOISE[language][k], [NOISE_VALUES[k][r % 2] for r in range(count)]))
    rng.shuffle(laid)
    text = [(word, [v.replace(".", decimal) if _is_number(v) else v for v in values]) for word, values in laid]
    return (
        [word for word, _ in text],
        [list(row) for row in zip(*(values for _, values in text), strict=True)],
        columns,
        units,
        words,
        clock,
    )


def _is_number(cell: str) -> bool:
    return cell.lstrip("+-").replace(".", "", 1).isdigit()
