# ruff: noqa: E501 (one row of a file reads best on one line)
"""Invented exports of shapes that `foreign_exports` does not draw, written down before any guess at them was looked at.

Each says what a right mapping of it takes: kind, columns (ours = theirs) and units other than ours. Header words are
those of the trade in six languages, from memory.

Over 400 lines: contents of files, and hardly any code.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Further:
    """One file. `columns` and `units` as a mapping of it would have them; `may_ask`: asking is all that can be done."""

    name: str
    kind: str
    text: str
    columns: dict[str, str]
    units: dict[str, str] = field(default_factory=dict)
    encoding: str = "utf-8"
    may_ask: bool = False
    ending: str = "csv"


def _rows(*lines: str, over: tuple[str, ...] = (), end: str = "\n") -> str:
    return end.join((*over, *lines)) + end


FURTHER = (
    Further(
        "German, units in a row of their own under the headings",
        "cases",
        _rows(
            "Fallnummer;Geburtsdatum;NA-pH;pCO2 arteriell;Geburtsgewicht",
            ";TT.MM.JJJJ;;mmHg;g",
            *(f"F{k};{k + 12}.04.2031;7,{18 + k};{48 + k},5;{3100 + 40 * k}" for k in range(9)),
        ),
        {
            "case_id": "Fallnummer",
            "period": "Geburtsdatum",
            "cord_artery_ph": "NA-pH",
            "cord_artery_pco2_kpa": "pCO2 arteriell",
            "birth_weight_g": "Geburtsgewicht",
        },
        {"period": "date", "cord_artery_pco2_kpa": "mmHg"},
        may_ask=True,
    ),
    Further(
        "German, headings in two lines, the upper one spans",
        "cases",
        _rows(
            ";;Arterie;;Vene;",
            "Fall;Geburtsmonat;pH arteriell;BE arteriell;pH venös;Parität",
            *(f"F{k};2031-0{1 + k % 3};7,{15 + k};-{3 + k % 5},4;7,{28 + k};{k % 3}" for k in range(9)),
        ),
        {
            "case_id": "Fall",
            "period": "Geburtsmonat",
            "cord_artery_ph": "pH arteriell",
            "cord_artery_base_deficit_mmol_l": "BE arteriell",
            "cord_vein_ph": "pH venös",
            "parity": "Parität",
        },
        {"cord_artery_base_deficit_mmol_l": "base excess"},
        may_ask=True,
    ),
    Further(
        "French, byte order mark and quoted decimal commas between commas",
        "cases",
        _rows(
            "N° dossier,Date de naissance,pH artère ombilicale,Lactates,Poids de naissance",
            *(f'D{k},{13 + k}/05/2031,"7,{20 + k}","{3 + k % 4},{k}","3,{210 + k}"' for k in range(9)),
        ),
        {
            "case_id": "N° dossier",
            "period": "Date de naissance",
            "cord_artery_ph": "pH artère ombilicale",
            "cord_lactate_mmol_l": "Lactates",
            "birth_weight_g": "Poids de naissance",
        },
        {"period": "date", "birth_weight_g": "kg"},
        "utf-8-sig",
    ),
    Further(
        "English, times in am and pm",
        "care_events",
        _rows(
            "Case,Time,Event",
            *(
                f"C{k},{1 + k}:{10 + k} {'AM' if k % 2 else 'PM'},{('Epidural', 'Senior called', 'Position change')[k % 3]}"
                for k in range(9)
            ),
        ),
        {"case_id": "Case", "at_s": "Time", "event": "Event"},
        {"at_s": "clock"},
        may_ask=True,
    ),
    Further(
        "English, dates as serial numbers of a spreadsheet",
        "cases",
        _rows(
            "Case no,Date of birth,Arterial pH,Apgar 5",
            *(f"C{k},{47942 + 3 * k},7.{21 + k},{8 + k % 2}" for k in range(9)),
        ),
        {"case_id": "Case no", "cord_artery_ph": "Arterial pH", "apgar_5": "Apgar 5"},
        may_ask=True,
    ),
    Further(
        "Dutch, kPa in the artery and mmHg in the vein",
        "cases",
        _rows(
            "Casusnummer;Geboortedatum;pCO2 arterieel (kPa);pCO2 veneus (mmHg);pH arterieel",
            *(f"Z{k};{14 + k}-06-2031;{6 + k % 3},{k};{38 + k};7,{19 + k}" for k in range(9)),
        ),
        {
            "case_id": "Casusnummer",
            "period": "Geboortedatum",
            "cord_artery_pco2_kpa": "pCO2 arterieel (kPa)",
            "cord_vein_pco2_kpa": "pCO2 veneus (mmHg)",
            "cord_artery_ph": "pH arterieel",
        },
        {"period": "date", "cord_vein_pco2_kpa": "mmHg"},
    ),
    Further(
        "Italian, an excess with its sign",
        "cases",
        _rows(
            "Caso;Data di nascita;Eccesso di basi;pH arterioso",
            *(f"K{k};{15 + k}/07/2031;{'-' if k != 4 else ''}{1 + k},{k};7,{22 + k}" for k in range(9)),
        ),
        {
            "case_id": "Caso",
            "period": "Data di nascita",
            "cord_artery_base_deficit_mmol_l": "Eccesso di basi",
            "cord_artery_ph": "pH arterioso",
        },
        {"period": "date", "cord_artery_base_deficit_mmol_l": "base excess"},
    ),
    Further(
        "Spanish, a deficit that is written as an excess would be",
        "cases",
        _rows(
            "Caso;Fecha de nacimiento;Déficit de base;pH arterial",
            *(f"K{k};{15 + k}/07/2031;-{1 + k},{k};7,{22 + k}" for k in range(9)),
        ),
        {"case_id": "Caso", "period": "Fecha de nacimiento", "cord_artery_ph": "pH arterial"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "English, kg and g in one column",
        "cases",
        _rows(
            "Case,Date of birth,Birth weight,Parity",
            *(f"C{k},2031-08-{10 + k},{f'3.{20 + k}' if k % 3 == 0 else 3200 + 30 * k},{k % 3}" for k in range(9)),
        ),
        {"case_id": "Case", "period": "Date of birth", "parity": "Parity"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "English, kPa and mmHg in one column",
        "cases",
        _rows(
            "Case,Date of birth,Arterial pCO2,Parity",
            *(f"C{k},2031-08-{10 + k},{f'{6 + k % 2}.{k}' if k % 2 == 0 else 48 + k},{k % 3}" for k in range(10)),
        ),
        {"case_id": "Case", "period": "Date of birth", "parity": "Parity"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "German, weeks and days with a slash",
        "cases",
        _rows(
            "Fall-Nr.;Geburtsdatum;SSW;Apgar 1;Apgar 5;Apgar 10",
            *(f"F{k};{14 + k}.09.2031;{38 + k % 4}+{k % 7};7;9;10" for k in range(9)),
        ),
        {
            "case_id": "Fall-Nr.",
            "period": "Geburtsdatum",
            "gestation_weeks": "SSW",
            "apgar_1": "Apgar 1",
            "apgar_5": "Apgar 5",
            "apgar_10": "Apgar 10",
        },
        {"period": "date"},
    ),
    Further(
        "French, three Apgar scores in one cell",
        "cases",
        _rows(
            "Identifiant;Date de naissance;Apgar 1/5/10;pH artériel",
            *(f"D{k};{14 + k}/09/2031;7/9/10;7,{21 + k}" for k in range(9)),
        ),
        {"case_id": "Identifiant", "period": "Date de naissance", "cord_artery_ph": "pH artériel"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "English, one row a measurement",
        "cases",
        _rows(
            "Case,Date of birth,Test,Result",
            *(
                f"C{k // 2},2031-03-{10 + k // 2},{('pH art', 'Base deficit')[k % 2]},{(f'7.{20 + k}', f'{3 + k}.1')[k % 2]}"
                for k in range(16)
            ),
        ),
        {"case_id": "Case", "period": "Date of birth"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "Italian, pH by thousandths without a mark",
        "cases",
        _rows(
            "Codice caso;Data parto;pH arteria ombelicale;Parità",
            *(f"K{k};{14 + k}/10/2031;72{10 + k};{k % 3}" for k in range(9)),
        ),
        {"case_id": "Codice caso", "period": "Data parto", "parity": "Parità"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "Dutch, the hydrogen ion instead of pH",
        "cases",
        _rows(
            "Casus;Geboortedatum;pH arterieel;Pariteit",
            *(f"Z{k};{14 + k}-10-2031;{50 + k},{k};{k % 3}" for k in range(9)),
        ),
        {"case_id": "Casus", "period": "Geboortedatum", "cord_artery_ph": "pH arterieel", "parity": "Pariteit"},
        {"period": "date", "cord_artery_ph": "nmol/L"},
        may_ask=True,
    ),
    Further(
        "English, a trace with milliseconds and two fetuses in columns",
        "tracing",
        _rows(
            "Study ID,Time (ms),FHR1,FHR2,TOCO",
            *(f"C1,{250 * k},{138 + k % 9},{151 + k % 7},{10 + k % 20}" for k in range(40)),
        ),
        {"case_id": "Study ID", "t_s": "Time (ms)", "toco": "TOCO"},
        {"t_s": "milliseconds"},
        may_ask=True,
    ),
    Further(
        "German, a trace with clock times and the mother's pulse",
        "tracing",
        _rows(
            "Fallnummer;Uhrzeit;FHF;Toco;MHF",
            *(f"F1;23:59:{58 + k // 2:02d};{138 + k % 9};{10 + k % 20};{84 + k % 5}" for k in range(4)),
            *(f"F1;00:00:{k // 2:02d};{138 + k % 9};{10 + k % 20};{84 + k % 5}" for k in range(60)),
        ),
        {"case_id": "Fallnummer", "t_s": "Uhrzeit", "fhr_bpm": "FHF", "toco": "Toco", "mhr_bpm": "MHF"},
        {"t_s": "clock"},
    ),
    Further(
        "English, a trace whose heart rate stands for the mother's",
        "tracing",
        _rows(
            "Case,Seconds,Heart rate,Toco",
            *(f"C1,{k / 4:g},{78 + k % 9},{10 + k % 20}" for k in range(60)),
        ),
        {"case_id": "Case", "t_s": "Seconds", "toco": "Toco"},
        may_ask=True,
    ),
    Further(
        "French, day and time in one column, French words of events",
        "care_events",
        _rows(
            "Dossier;Date et heure;Acte",
            *(f"D{k};{14 + k}/03/2031 0{k}:1{k};{('Péridurale', 'Naissance')[k % 2]}" for k in range(9)),
        ),
        {"case_id": "Dossier", "at_s": "Date et heure", "event": "Acte"},
        {"at_s": "clock"},
    ),
    Further(
        "Spanish, minutes that could be seconds, and a remark column",
        "care_events",
        _rows(
            "Caso;Minuto;Evento;Observaciones",
            *(f"K{k};{12 * k};{('Nacimiento', 'Epidural')[k % 2]};texto {k}" for k in range(9)),
        ),
        {"case_id": "Caso", "at_s": "Minuto", "event": "Evento"},
        {"at_s": "minutes"},
        may_ask=True,
    ),
    Further(
        "English, a title and a blank line over the headings",
        "cases",
        _rows(
            "Case,Date of birth,UA pH,UV pH,Gestation",
            *(f"C{k},{14 + k} Mar 2031,7.{20 + k},7.{30 + k},{38 + k % 4}+{k % 7}" for k in range(9)),
            over=("Labour ward statistics,,,,", ",,,,"),
        ),
        {
            "case_id": "Case",
            "period": "Date of birth",
            "cord_artery_ph": "UA pH",
            "cord_vein_ph": "UV pH",
            "gestation_weeks": "Gestation",
        },
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "Dutch, UTF-16 with tabs and old line ends",
        "cases",
        _rows(
            "Dossiernr\tDatum geboorte\tNA pH\tBase-excess\tAD",
            *(f"Z{k}\t{14 + k}-11-2031\t7,{20 + k}\t-{2 + k % 6},5\t{39 + k % 3}+{k % 7}" for k in range(9)),
            end="\r\n",
        ),
        {
            "case_id": "Dossiernr",
            "period": "Datum geboorte",
            "cord_artery_ph": "NA pH",
            "cord_artery_base_deficit_mmol_l": "Base-excess",
            "gestation_weeks": "AD",
        },
        {"period": "date", "cord_artery_base_deficit_mmol_l": "base excess"},
        "utf-16",
    ),
    Further(
        "German, American months in a German file",
        "cases",
        _rows(
            "Fall;Geburtsdatum;NA-pH;Geburtsgewicht",
            *(f"F{k};0{1 + k % 9}/0{1 + (k + 3) % 9}/2031;7,{20 + k};{3100 + k}" for k in range(9)),
        ),
        {"case_id": "Fall", "cord_artery_ph": "NA-pH", "birth_weight_g": "Geburtsgewicht"},
        may_ask=True,
    ),
    Further(
        "English, lactate of the cord in mg/dL by its heading",
        "cases",
        _rows(
            "Case,Birth date,Cord lactate (mg/dL),pH art",
            *(f"C{k},2031-12-{10 + k},{28 + 3 * k},7.{20 + k}" for k in range(9)),
        ),
        {
            "case_id": "Case",
            "period": "Birth date",
            "cord_lactate_mmol_l": "Cord lactate (mg/dL)",
            "cord_artery_ph": "pH art",
        },
        {"period": "date", "cord_lactate_mmol_l": "mg/dL"},
    ),
    Further(
        "Italian, scalp pH beside that of the cord",
        "cases",
        _rows(
            "Caso;Data nascita;pH scalpo;pH arterioso",
            *(f"K{k};{14 + k}/04/2031;7,{26 + k};7,{18 + k}" for k in range(9)),
        ),
        {"case_id": "Caso", "period": "Data nascita", "cord_artery_ph": "pH arterioso"},
        {"period": "date"},
    ),
    Further(
        "English, dates of the mother and of the child",
        "cases",
        _rows(
            "Case,Mother's date of birth,Date of birth,Arterial pH",
            *(f"C{k},{14 + k}/04/1999,{13 + k}/04/2031,7.{18 + k}" for k in range(9)),
        ),
        {"case_id": "Case", "period": "Date of birth", "cord_artery_ph": "Arterial pH"},
        {"period": "date"},
        may_ask=True,
    ),
    Further(
        "English, booking weight and weight at birth, placenta too",
        "cases",
        _rows(
            "Case,Month of birth,Maternal weight,Placental weight,Birth weight",
            *(f"C{k},2031-0{1 + k % 9},{60 + 2 * k}.5,{510 + 9 * k},{3050 + 55 * k}" for k in range(9)),
        ),
        {"case_id": "Case", "period": "Month of birth", "birth_weight_g": "Birth weight"},
    ),
    Further(
        "English, headings upside down: one column a case",
        "cases",
        _rows(
            "Case," + ",".join(f"C{k}" for k in range(9)),
            "Date of birth," + ",".join(f"2031-04-{10 + k}" for k in range(9)),
            "Arterial pH," + ",".join(f"7.{20 + k}" for k in range(9)),
            "Parity," + ",".join(f"{k % 3}" for k in range(9)),
        ),
        {},
        may_ask=True,
    ),
    Further(
        "Spanish, reads with the words of the trade",
        "reads",
        _rows(
            "Caso;Lector;Inicio (min);Fin (min);Norma;Categoría",
            *(
                f"K{k};L{k % 3};{10 * k};{10 * k + 30};FIGO 2015;{('normal', 'sospechoso', 'patológico')[k % 3]}"
                for k in range(9)
            ),
        ),
        {
            "case_id": "Caso",
            "reader": "Lector",
            "start_s": "Inicio (min)",
            "end_s": "Fin (min)",
            "standard": "Norma",
            "category": "Categoría",
        },
        {"start_s": "minutes", "end_s": "minutes"},
        may_ask=True,
    ),
    Further(
        "French, base deficit by its initials, values of both signs",
        "cases",
        _rows(
            "Code cas;Mois de naissance;DB;pH AO",
            *(f"D{k};2031-0{1 + k % 9};{'-' if k % 2 else ''}{2 + k},{k};7,{20 + k}" for k in range(9)),
        ),
        {"case_id": "Code cas", "period": "Mois de naissance", "cord_artery_ph": "pH AO"},
        may_ask=True,
    ),
)
