"""What lies in the folder that `init` makes: settings, one example of each input file, a page for the IT department."""

import math
from pathlib import Path

from audit import paths
from audit.errors import UsageError
from audit.settings import UNIT_FILE_NAME

_SETTINGS = """\
# Settings of this unit. Every line that begins with # is a comment: take the # away to set the value.
# All settings with unit and source: the page 'The unit'. A key that does not exist is an error.

# [import]
# case_id_pattern = "[A-Z]{2}[0-9]{4}"   # what your codes look like; any other becomes a keyed pseudonym
# store_detail = false                  # true keeps details of care events whose every word is known

# [import.event_words]                  # your word = the event's name
# "FBS" = "fetal_blood_sample"
# "Registrar called" = "senior_called"

# [import.fhir_codes]                   # your code in FHIR resources = channel, column or event
# "urn:unit|UA" = "toco"

# [trends]
# standard = "figo-2015"                # what the pages begin with: nichd-2008, figo-2015 or nice-ng229

# [locale]
# decimal = ","                         # of pages, packs and tables for a spreadsheet
# thousands = "."
# date = "07.04.2031"                   # how 7 April 2031 is written
# paper = "us-letter"                   # or "a4"

# [locale.events]                       # the event's name = the word that is shown for it
# senior_called = "Registrar called"
"""
_CHECKLIST = """\
# For the IT department

The program reviews fetal heart tracings of births that are over. It is not for care in progress and not a medical
device.

**What we ask for, once a month, as files in a folder** (CSV, xlsx, ods, Parquet, EDF, WFDB, HL7 FHIR R4; zipped is
fine)

- [ ] Tracings of all labours: heart rate in bpm, toco, 1 to 4 samples a second, seconds from the first sample
- [ ] Cases: code, month of birth, weeks, mode of birth, cord gases, Apgar scores (see `examples/cases.csv`)
- [ ] Care events with times in seconds from the tracing's first sample, or as clock times with a mapping
- [ ] What staff recorded at the time, and the unit's counts of the month, if you have them

**What must not be in them**

- [ ] No names, no record numbers, no dates of birth. A code that is not of our pattern becomes a keyed pseudonym
- [ ] Free text is not stored, but please leave it out

**Where it runs**

- [ ] Python 3.11 or newer, two cores, 4 GB of memory, 20 GB of disk that is encrypted by the system
- [ ] A folder on a local disk (no network share) that only the review lead may open
- [ ] Nothing is fetched from the internet; pages answer on this computer alone, or behind an identity provider
- [ ] The folder is in the backup; the file that ends in `.key` is kept apart from it
- [ ] `intrapartum-audit doctor` ends with 'All well.'
"""
# every labour here is invented; a contraction comes every 200 s
_TRACING_ROWS = "".join(
    f"C1,{k / 2:g},{135 + (k // 6) % 9},{10 + 45 * math.exp(-(((k % 400 - 300) / 50) ** 2)):.0f}\n" for k in range(2400)
)
_EXAMPLES = {
    "tracing.csv": "case_id,t_s,fhr_bpm,toco\n" + _TRACING_ROWS,
    "cases.csv": (
        "case_id,period,gestation_weeks,parity,mode_of_birth,birth_s,cord_artery_ph,apgar_5,birth_weight_g\n"
        "C1,2031-03,40.1,0,spontaneous,1500,7.24,9,3420\n"
    ),
    "care_events.csv": (
        "case_id,at_s,event,event_id\nC1,300,position_change,E1\nC1,900,senior_called,E2\nC1,1500,birth,E3\n"
    ),
    "reads.csv": (
        "case_id,reader,start_s,end_s,standard,category,would_act\n"
        "C1,R1,0,1200,figo-2015,normal,no\nC1,R2,0,1200,figo-2015,suspicious,no\n"
    ),
    "assessments.csv": "case_id,at_s,standard,category,assessor\nC1,600,nice-ng229,normal,midwife\n",
    "unit_months.csv": "period,births,caesareans,neonatal_unit_admissions\n2031-03,241,63,14\n",
}


def make(folder: Path) -> list[Path]:
    """Write the files; raises UsageError for a folder with other files in it."""
    if folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder}: found files in it, expected an empty or a new folder")
    examples = folder / "examples"
    examples.mkdir(parents=True, exist_ok=True)
    paths.owner_only(folder)
    files = {folder / UNIT_FILE_NAME: _SETTINGS, folder / "for_the_it_department.md": _CHECKLIST}
    files |= {examples / name: text for name, text in _EXAMPLES.items()}
    for file, text in files.items():
        file.write_text(text, encoding="utf-8")
        paths.owner_only(file)
    return list(files)
