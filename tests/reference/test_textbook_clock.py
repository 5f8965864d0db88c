"""The response clock on strips drawn by hand, with the answer and the published sentence beside each.

Sentences: NICE NG229 (2022), FIGO 2015, ACOG Practice Bulletin 116 (2010) and NICE NG192, all from memory and in our
words. Where none decides, 'our choice' is said.
"""

import pytest

from tests.textbook import SETTINGS, Dip, clock, every, late, strip

PEAKS = every(4, 2, 60)
EMERGENCIES = {
    ("nichd-2008", "prolonged_deceleration"),
    ("figo-2015", "prolonged_deceleration"),
    ("nice-ng229", "urgent_review"),
}
TERMINAL = strip(60, peaks=PEAKS, dips=[Dip(2400, 60, 15, 1185, 1)])  # 140 to 80 bpm at 40:00, for the last 20 minutes


# NICE NG229: an acute bradycardia, or one deceleration of 3 minutes, needs urgent obstetric help; ready to expedite at
# 9 minutes. What was done before it began answers nothing, and turning the woman calls nobody.
@pytest.mark.parametrize(
    ("name", "events", "status"),
    [
        ("turned 90 s before, nothing after", [(38.5, "position_change")], "none_recorded"),
        ("turned once, nobody called", [(41.0, "position_change")], "none_recorded"),
        ("called 2 min before it", [(38.0, "senior_called")], "none_recorded"),
        ("called at 43:00", [(43.0, "senior_called")], "in_time"),
        ("called in the second minute, before 3 had passed", [(41.5, "senior_called")], "in_time"),
        ("called at 49:00, the ninth minute", [(49.0, "senior_called")], "in_time"),
        ("called at 51:00", [(51.0, "senior_called")], "late"),
        # NICE NG192: category 1 within 30 minutes, category 2 within 75.
        ("category 1 decided 10 min before", [(30.0, "decision_for_birth", 1)], "under_way"),
        ("category 1 decided 25 min before", [(15.0, "decision_for_birth", 1)], "none_recorded"),
        ("category 1 decided 55 min before", [(-15.0, "decision_for_birth", 1)], "none_recorded"),
        ("category 2 decided 55 min before", [(-15.0, "decision_for_birth", 2)], "under_way"),
        ("category 2 decided 71 min before", [(-31.0, "decision_for_birth", 2)], "none_recorded"),
        ("decided 55 min before, urgency not noted", [(-15.0, "decision_for_birth")], "none_recorded"),
        ("then raised to 1", [(-40.0, "decision_for_birth", 2), (44.0, "decision_for_birth", 1)], "in_time"),
        # more oxytocin is no measure for the fetus: ACOG Practice Bulletin 116 and NICE NG229 reduce or stop it
        ("oxytocin increased", [(42.0, "oxytocin_increased")], "none_recorded"),
    ],
)
def test_a_terminal_bradycardia_of_twenty_minutes(name, events, status):
    responses, _ = clock(TERMINAL, *events)
    for trigger in EMERGENCIES:
        assert responses[trigger].status == status, (name, trigger)
        assert responses[trigger].decided_by == "escalation"
        if "oxytocin" in name:
            assert responses[trigger].oxytocin_event == "oxytocin_increased"


# FIGO 2015: pathological from more than 30 minutes of repetitive late decelerations on, here from 60 to 62 minutes.
# Called in the sixth minute of the pattern, long before: the best answer there is.
def test_late_decelerations_that_were_answered_before_they_had_to_be_recognised():
    peaks = every(3, 1, 110)
    tracing = strip(110, peaks=peaks, dips=[late(peak) for peak in peaks if peak >= 1750])
    events = [(36.0, "senior_called"), (38.0, "oxytocin_stopped"), (41.0, "senior_at_bedside")]
    response = clock(tracing, *events)[0]["figo-2015", "pathological"]
    assert 58 <= response.recognisable_s / 60 <= 63
    assert (response.status, response.response_event) == ("in_time", "senior_called")
    assert response.minutes_to_response == pytest.approx(36 - response.recognisable_s / 60)
    assert response.minutes_to_response < -20


# NICE NG229 as amended calls any late deceleration red while its window shows it; the deceleration itself lasts 90 s.
def test_one_late_deceleration_is_a_concern_for_as_long_as_it_lasts():
    tracing = strip(60, peaks=PEAKS, dips=[late(PEAKS[6])])
    responses, episodes = clock(tracing)
    for episode in episodes:
        assert episode.evidence_minutes <= 2.5
        assert episode.end_s - episode.pattern_start_s <= 60 * (2.5 + SETTINGS.response.end_after_clear_minutes)
        assert "persistent" not in episode.trigger
    nice = [one for one in episodes if one.standard == "nice-ng229"]
    assert [one.trigger for one in nice] == ["pathological"]
    assert nice[0].category_until_s - nice[0].last_finding_s > 20 * 60
    assert responses["nice-ng229", "pathological"].status == "resolved"


# What was there when the recording began may have lasted for any time before: our choice to judge it apart.
def test_what_was_there_at_the_start_is_flagged_and_what_came_later_is_not():
    peaks = every(3, 1, 80)
    from_start = clock(strip(80, peaks=peaks, dips=[late(peak) for peak in peaks]))[1]
    later = clock(strip(80, peaks=peaks, dips=[late(peak) for peak in peaks if peak > 1200]))[1]
    assert from_start
    assert all(one.at_start for one in from_start if one.pattern_start_s < 300)
    assert any(one.at_start for one in from_start)
    assert later
    assert not any(one.at_start for one in later)


# All three standards see a terminal bradycardia, so all that could be asked call it unanswered: none stays silent.
def test_every_standard_can_be_asked_about_a_labour_that_nobody_answered():
    responses, episodes = clock(TERMINAL)
    assert {one.standard for one in responses.values() if one.status == "none_recorded"} == set(
        SETTINGS.of_standards
    ) - {"figo-1986"}
    for episode in episodes:
        if (episode.standard, episode.trigger) in EMERGENCIES:
            assert set(episode.assessed_under) == {"nichd-2008", "figo-2015", "nice-ng229"}
