"""What the user wants: frozen models, edits that make a new spec from an old one, migrations."""
