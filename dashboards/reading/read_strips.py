"""Read strips: blind reading, one bare strip after another; the lead makes, hands out and closes batches."""

from audit.people.permissions import Deed
from dashboards import layout, session
from dashboards.reading import batches_parts, read_strips_parts

layout.begin(
    "Read strips",
    "Read before anybody knew how it ended: no case, no outcome, no findings, nobody else's reads.",
)
if session.may(Deed.KEEP_BATCHES):
    batches_parts.make_batch()
    batches_parts.follow()
else:
    reader = session.who(Deed.READ_STRIPS).partition(":")[2]
    batch = read_strips_parts.choose_batch(reader)
    strip = read_strips_parts.choose_strip(batch, reader)
    shown_s = read_strips_parts.show_strip(batch, strip)
    read_strips_parts.entries(batch, strip, reader, shown_s)
