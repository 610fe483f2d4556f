"""Arrays and solids in millimetres: pure functions, no files, no spec, no window."""
