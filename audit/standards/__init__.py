"""One module per published standard: a table of thresholds and a function from features to (category, reasons)."""
