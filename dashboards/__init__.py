"""The pages of the dashboard: drawing only."""
