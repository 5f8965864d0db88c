"""The fitted second reading: what a folder's experts would most likely have said of a window, and on what evidence."""
