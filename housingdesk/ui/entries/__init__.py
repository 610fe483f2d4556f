"""Features on the job card: each a sentence made from its model, so that a new kind needs no entry here."""
