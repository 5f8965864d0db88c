"""Read strips: blind reading, one bare strip after another; the lead makes, hands out and closes batches."""

from dashboards import layout, signed_in
from dashboards.reading import batches_parts, read_strips_parts

layout.begin(
    "Read strips",
    "Read before anybody knew how it ended: no case, no outcome, no findings, nobody else's reads.",
)
account = signed_in.required(("reader", "lead"), "Sign in with your reader code to read, or as lead to make batches.")
if account.is_lead:
    batches_parts.make_batch()
    batches_parts.follow()
else:
    batch = read_strips_parts.choose_batch(account)
    strip = read_strips_parts.choose_strip(batch, account)
    read_strips_parts.show_strip(batch, strip)
    read_strips_parts.entries(batch, strip, account)
