"""The open project: spec, history, latest results.  No Qt."""
