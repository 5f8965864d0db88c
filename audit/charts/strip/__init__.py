"""The strip: one drawing of a tracing with its findings."""
