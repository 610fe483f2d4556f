"""The job card: one file a station; a new station is found by being here."""
