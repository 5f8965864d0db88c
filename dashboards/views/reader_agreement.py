"""Reader agreement: would colleagues have read it alike, item by item, with intervals."""

from dashboards import agreement_parts, layout, review_data

layout.begin("Reader agreement", "Would colleagues have read it alike? Reads of closed batches and of imported files.")
asked = agreement_parts.choose()
layout.shown(standard=asked.standard)
found = review_data.document(asked)
agreement_parts.measures(found)
agreement_parts.pairs(found)
agreement_parts.repeats(found)
agreement_parts.computed(found)
agreement_parts.windows(asked)
agreement_parts.leaning(asked)
agreement_parts.months(asked)
agreement_parts.hindsight(asked)
agreement_parts.published(found)
