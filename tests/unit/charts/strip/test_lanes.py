"""Labels of marks: none covers another, none is lost, none leaves the drawing."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.charts.strip.lanes import PX_PER_CHARACTER, place_labels, spaced

marks = st.lists(st.tuples(st.floats(0, 900), st.text("abcdef ", min_size=1, max_size=30)), max_size=25)


@pytest.mark.slow
@settings(max_examples=200)
@given(marks)
def test_no_two_labels_of_a_lane_overlap(found):
    at_px, texts = [at for at, _ in found], [text for _, text in found]
    placed = place_labels(at_px, texts, width_px=900.0)
    assert len(placed) == len(found)
    spans = {}
    for at, text, label in zip(at_px, texts, placed, strict=True):
        need = len(text) * PX_PER_CHARACTER
        spans.setdefault(label.lane, []).append((at - need, at) if label.left_of_mark else (at, at + need))
    for lane in spans.values():
        lane.sort()
        assert all(first[1] <= second[0] for first, second in pairwise(lane))


def test_a_label_at_the_right_edge_is_written_left_of_its_mark():
    assert [
        label.left_of_mark for label in place_labels([5.0, 890.0], ["birth", "senior at bedside"], width_px=900)
    ] == [
        False,
        True,
    ]


@pytest.mark.parametrize(
    "at_px",
    [
        (100.0, 105.0, 110.0, 200.0, 240.0, 400.0),
        (600.0, 760.0, 780.0, 800.0, 850.0, 895.0),  # the right edge
        (100.0, 760.0, 300.0, 810.0, 400.0, 500.0),  # where one at the edge and one before it stand in each other's way
    ],
)
def test_no_line_of_a_mark_runs_through_the_text_of_another(at_px):
    texts = ["oxytocin increased", "senior called", "epidural", "position change", "birth", "incision"]
    placed = place_labels(at_px, texts, width_px=900.0)
    for k, label in enumerate(placed):
        need = len(texts[k]) * PX_PER_CHARACTER
        span = (at_px[k] - need, at_px[k] - 1) if label.left_of_mark else (at_px[k] + 1, at_px[k] + need)
        for j, other in enumerate(placed):
            if j != k and other.lane >= label.lane:
                assert not span[0] <= at_px[j] <= span[1], (texts[k], texts[j])


def test_letters_that_would_touch_are_left_out_from_the_left():
    assert spaced([0.0, 5.0, 11.0, 30.0], 10.0) == [True, False, True, True]
    assert spaced([], 10.0) == []
