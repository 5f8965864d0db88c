"""Pure measures: burden, cord gases, proportions, discrimination."""
