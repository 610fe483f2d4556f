"""From spec to halves: a keyed graph of pure steps whose results are kept by content."""
