"""Meshes in, halves out, project files."""
