"""Labels of marks: none covers another, none is lost, none leaves the drawing."""

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from audit.charts.lanes import PX_PER_CHARACTER, place_labels

marks = st.lists(st.tuples(st.floats(0, 900), st.text("abcdef ", min_size=1, max_size=30)), max_size=25)


@settings(max_examples=200, deadline=None)
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
