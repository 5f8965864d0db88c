"""The strip of a labour on the pages Case and Meeting: the viewer, and what the reading says of itself below it."""

from audit.charts.strip.concerns import opening_s
from audit.people.permissions import Deed
from audit.questions.case_file import CaseFile
from audit.tables.case import recorded_as
from dashboards import data, session
from dashboards.keys import Key
from dashboards.strip_viewer.show import strip_viewer

KEY_TEXT = (
    "Decelerations: E early, L late, V variable, P prolonged, U unclassified (the toco does not allow a kind). A"
    " acceleration; bar and triangle on the toco: contraction. Baseline: solid line, dotted where it could not be"
    " stated. Crosses: samples not used. Categories: N normal, S suspicious, P pathological, or I to III; the taller"
    " the bar, the higher the category."
)
BARE_TEXT = "As recorded, nothing laid over it. Triangles on an edge: the line leaves the paper there."


@session.fragment(Deed.SEE_MONTH)
def strip(case: CaseFile, standard: str, page: str = "case") -> None:
    """The strip, bare until findings are asked for; `page` keeps its place apart from that on other pages."""
    recorded = "; ".join(recorded_as(case.tracing))
    strip_viewer(
        data.strip_payload(case.case_id, case.fetus, standard),
        key=f"{Key.STRIP}_{page}_{case.case_id}_{case.fetus}",
        name=f"Strip of case {case.case_id}, fetus {case.fetus}",
        address={"case": case.case_id, **({"fetus": case.fetus} if len(case.fetuses) > 1 else {})},
        open_at_s=opening_s(case, standard),
        legend=(f"{recorded}. {BARE_TEXT}", f"{recorded}. {KEY_TEXT} {_notes(case)}"),
    )


def _notes(case: CaseFile) -> str:
    """What the reading says of its own blind spots; some of it tells what was found, so the bare strip has none."""
    if not case.notes:
        return ""
    seen = "share of signal used not known"
    if case.seen_fraction is not None:
        seen = f"signal used {case.seen_fraction:.0%} of the time"
    return f"What this reading could not see or say ({seen}): {' '.join(case.notes)}"
