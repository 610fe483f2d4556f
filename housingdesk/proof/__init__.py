"""Checks of a design.  Each yields findings; a figure in one comes from measuring the halves."""
