"""What a housing can have beyond its two halves.

One file a feature, each with its model, its solids to add and to cut per half, and its own checks.
"""
