"""Read strips: blind reading, one bare strip after another; the lead makes, hands out and closes batches."""

from dashboards import batch_parts, layout, reading_parts, signed_in

layout.begin(
    "Read strips",
    "Read before anybody knew how it ended: no case, no outcome, no findings, nobody else's reads.",
)
account = signed_in.required(("reader", "lead"), "Sign in with your reader code to read, or as lead to make batches.")
if account.is_lead:
    batch_parts.make_batch()
    batch_parts.follow()
else:
    batch = reading_parts.choose_batch(account)
    strip = reading_parts.choose_strip(batch, account)
    reading_parts.show_strip(batch, strip)
    reading_parts.entries(batch, strip, account)
