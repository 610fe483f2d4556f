"""The worker process that makes all solids, and its client.  No Qt here."""
