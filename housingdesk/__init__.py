"""Housing Desk: two printed halves that close around a bought part, with a proof that they fit."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("housingdesk")
except PackageNotFoundError:  # a source tree that was never installed
    __version__ = "0+source"
