"""From concerning pattern to response: episodes, responses, readers' clocks, birth intervals. Pure."""
