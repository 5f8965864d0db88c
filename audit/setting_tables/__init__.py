"""The records of settings tables whose rooms lie above the settings, and so cannot be asked by them."""
