"""The outside forms a housing can have: one file a form, found like the features."""
