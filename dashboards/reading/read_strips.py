"""Read strips: blind reading, one bare strip after another; the lead makes, hands out and closes batches."""

from audit.people.permissions import Deed
from dashboards import layout, session
from dashboards.reading import batches_parts, read_strips_parts

if session.may(Deed.KEEP_BATCHES):
    layout.begin(
        "Read strips",
        "Read before anybody knew how it ended: no case, no outcome, no findings, nobody else's reads.",
    )
    batches_parts.make_batch()
    batches_parts.follow()
else:
    left, right = layout.begin_in_a_row("Read strips", [3, 2])
    reader = session.who(Deed.READ_STRIPS).partition(":")[2]
    with left:
        batch = read_strips_parts.choose_batch(reader)
    with right:
        strip = read_strips_parts.choose_strip(batch, reader)
    shown_s = read_strips_parts.show_strip(batch, strip)
    read_strips_parts.entries(batch, strip, reader, shown_s)
