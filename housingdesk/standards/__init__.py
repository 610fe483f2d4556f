"""Published tables as typed values, each with its source."""
