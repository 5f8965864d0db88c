"""How far the figures rest on readings that are missing or out of date, and what made those readings.

A figure stays what it was until the next analysis, whatever the settings or the files say by now; so every document
carries this, and every page, pack and terminal says it beside the figure.
"""

import json
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any, cast

from audit import months
from audit.analysis.stale_tracings import stale_tracings
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

Stale = Sequence[tuple[str, str, str]]  # as `stale_tracings` gives it


def document(
    con: database.Connection, settings: Settings, *, period: str | None = None, found: Stale | None = None
) -> Record:
    """What is not as it would be read now, of one month or of all; `found` where `stale_tracings` was asked already.

    Gives `tracings`: of the month in all. `stale`: those whose reading is missing or out of date; `never_read` of
    them. `reasons`: how many for which reason. `months`: `period, tracings, stale`, every month of the database.
    `made_by` : `settings_sha256, version, editions, tracings` of the findings that stand, where they are out of date;
    `editions` are the texts of standards that were others than those in force. `note` : all this in a sentence; None
    when every reading is as it would be made now.
    """
    why = {(case_id, fetus): reason for case_id, fetus, reason in _stale(con, settings, found)}
    everything = records(con, "stale/tracings")
    of_month = [row for row in everything if months.within(row["period"], period)]
    out = [row for row in of_month if (row["case_id"], row["fetus"]) in why]
    reasons = Counter(why[row["case_id"], row["fetus"]] for row in out)
    made_by = _made_by(con, settings, out)
    return {
        "tracings": len(of_month),
        "stale": len(out),
        "never_read": sum(row["version"] is None for row in out),
        "reasons": [{"reason": reason, "tracings": count} for reason, count in sorted(reasons.items())],
        "months": _months(everything, why),
        "made_by": made_by,
        "settings_sha256": settings.analysis_sha256,
        "note": _note(len(of_month), reasons, made_by, months.where(period)) if out else None,
    }


def by_tracing(con: database.Connection, settings: Settings, found: Stale | None = None) -> dict[str, dict[str, str]]:
    """Why a reading is out of date and what made the findings that stand: case to fetus to words, of each such one."""
    made = {(row["case_id"], row["fetus"]): row for row in records(con, "stale/tracings")}
    words: dict[str, dict[str, str]] = {}
    for case_id, fetus, why in _stale(con, settings, found):
        by = _made_words(_made_by(con, settings, [made[case_id, fetus]]))
        words.setdefault(case_id, {})[fetus] = f"{why}; what stands was made {by}" if by else why
    return words


def told(document: Record, period: str | None, *, counts: bool) -> str | None:
    """The note of `document`; without `counts` it says no number, since few old readings could point at a labour."""
    if counts or document["note"] is None:
        return cast(str | None, document["note"])
    return f"some readings {months.where(period)} are missing, or were made under other settings or by another version."


def _stale(con: database.Connection, settings: Settings, found: Stale | None) -> Stale:
    return stale_tracings(con, settings) if found is None else found


def marked(points: Sequence[dict[str, Any]], stale: Mapping[str, Any]) -> None:
    """Write beside each monthly point how many of its month's readings are missing or out of date (`stale`)."""
    count = {row["period"]: row["stale"] for row in stale["months"]}
    for point in points:
        point["stale"] = count.get(point["period"], 0)


def _months(everything: Sequence[Record], why: Mapping[tuple[str, str], str]) -> list[Record]:
    tracings: dict[str | None, int] = defaultdict(int)
    stale: dict[str | None, int] = defaultdict(int)
    for row in everything:
        tracings[row["period"]] += 1
        stale[row["period"]] += (row["case_id"], row["fetus"]) in why
    return [
        {"period": period, "tracings": tracings[period], "stale": stale[period]}
        for period in sorted(tracings, key=lambda name: name or "")
    ]


def _made_by(con: database.Connection, settings: Settings, out: Sequence[Record]) -> list[Record]:
    counts = Counter((row["settings_sha256"], row["version"]) for row in out if row["version"] is not None)
    said = {row["settings_sha256"]: json.loads(row["settings_json"]) for row in records(con, "stale/settings")}
    return [
        {
            "settings_sha256": sha256,
            "version": version,
            "editions": _other_editions(said.get(sha256, {}), settings),
            "tracings": count,
        }
        for (sha256, version), count in sorted(counts.items())
    ]


def _other_editions(then: Mapping[str, Any], settings: Settings) -> dict[str, str]:
    """The editions of the standards that were others than those in force, by standard."""
    found = {}
    for name in settings.of_standards:
        former, now = then.get(name, {}).get("edition"), settings.of_standards[name].edition
        if former is not None and former != now:
            found[name] = str(former)
    return found


def _made_words(made_by: Sequence[Record]) -> str:
    made = []
    for row in made_by:
        editions = "".join(f", {name} as {text}" for name, text in row["editions"].items())
        many = f"{row['tracings']} " if len(made_by) > 1 else ""
        made.append(f"{many}with settings {row['settings_sha256'][:8]}, version {row['version']}{editions}")
    return " and ".join(made)


def _note(tracings: int, reasons: Mapping[str, int], made_by: Sequence[Record], where: str) -> str:
    why = "; ".join(f"{count}: {reason}" for reason, count in sorted(reasons.items()))
    made = _made_words(made_by)
    by = f" Their figures were made {made}." if made else ""
    return (
        f"{sum(reasons.values())} of {tracings} readings {where} are missing or out of date ({why}); run"
        f" `intrapartum-audit analyse`.{by}"
    )
