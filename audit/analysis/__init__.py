"""The analysis: stages from stored tracings to stored findings, the one room where tracing meets store."""
