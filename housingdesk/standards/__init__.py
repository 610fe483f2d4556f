"""Published tables as typed values; every figure knows its source and how sure it is."""
