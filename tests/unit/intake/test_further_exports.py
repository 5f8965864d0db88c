"""Guesses at exports of shapes that nobody tuned for: right or asked, and none wrong without a word."""

from pathlib import Path

import pyarrow as pa
import pytest

from audit.intake.formats.clock_text import parse_clock
from audit.intake.guess import guess
from tests.further_exports import FURTHER, Further

pytestmark = pytest.mark.slow


def judged(export: Further, folder: Path) -> str:
    file = folder / f"export.{export.ending}"
    file.write_bytes(export.text.encode(export.encoding))
    found = guess(file, 64)
    wrong = [column for column, theirs in found.columns.items() if export.columns.get(column) != theirs]
    wrong += [column for column in found.columns if found.units.get(column) != export.units.get(column)]
    wrong += [] if found.kind in ("", export.kind) else [found.kind]
    if wrong:
        return f"wrong: {', '.join(wrong)}"
    if set(export.columns) <= set(found.columns):
        return "right"
    return "asked" if found.open_questions else "silent"


def test_none_of_the_further_exports_is_wrong_without_a_word(tmp_path):
    verdicts = {export.name: judged(export, tmp_path) for export in FURTHER}
    assert {name: verdict for name, verdict in verdicts.items() if verdict not in ("right", "asked")} == {}
    only_asked = [export.name for export in FURTHER if verdicts[export.name] == "asked" and not export.may_ask]
    assert only_asked == []
    assert sum(verdict == "right" for verdict in verdicts.values()) >= 24  # of 30; 21 before any of it was mended


@pytest.mark.parametrize(
    ("typed", "hours"),
    # 12 am is midnight, 12 pm noon: common usage, no source
    [
        ("12:30 am", 0.5), ("12:30 PM", 12.5), ("1:15 p.m.", 13.25), ("11:45AM", 11.75), ("13:00 pm", None),
        ("0:10 am", None),
    ],
)  # fmt: skip
def test_times_of_half_a_day_are_read(typed, hours):
    [wall_s] = parse_clock(pa.array([typed]), "dmy").wall_s
    assert wall_s == pytest.approx(hours * 3600) if hours is not None else wall_s != wall_s


# what is 'DOB' in a maternity export may be the mother's; invented dates
@pytest.mark.parametrize(
    ("heading", "dates", "taken"),
    [
        ("DOB", ("14/03/1996", "15/07/2001"), False),
        ("Geburtsdatum", ("14.03.1996", "15.07.1997"), False),
        ("DOB", ("14/03/96", "15/07/97"), False),
        ("DOB", ("14/03/2016", "15/07/2024"), False),
        ("DOB", ("14/03/2024", "15/07/2024"), True),
        ("DOB", ("14/03/2031", "15/07/2031"), True),
    ],
)
def test_dates_of_birth_that_could_be_the_mothers_are_asked_and_not_proposed(tmp_path, heading, dates, taken):
    rows = "".join(f"R{k};{date};39+2;7.22\n" for k, date in enumerate(dates))
    (tmp_path / "export.csv").write_text(f"Case no;{heading};Gest (w+d);Art pH\n{rows}", encoding="utf-8")
    found = guess(tmp_path / "export.csv", 64)
    assert ("period" in found.columns) == taken
    assert any("whose dates of birth" in question for question in found.questions) == (not taken)
