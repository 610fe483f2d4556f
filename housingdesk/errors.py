"""Errors a user can act on.

``HousingError`` is a user's mistake or the world's (a full disk): its text is one plain sentence that
says what is wrong and what to do.  The command line prints it and exits 2, the window shows it.  Any
other exception is a bug and reaches one of the three catchers (cli.main, the worker loop, ui.app).
"""


class HousingError(Exception):
    """Something the user can mend; the message says what is wrong and what to do."""


class FileError(HousingError):
    """A file cannot be read or written as asked."""


class PartError(HousingError):
    """A part cannot be enclosed: no thickness, absurd size, too fine a grid for this machine."""


class SpecError(HousingError):
    """A wish that no housing can fulfil: a negative wall, a parting plane outside the part."""


class SolidError(HousingError):
    """The solid kernel refused a body."""


class Cancelled(HousingError):  # noqa: N818  # no error, but it travels like one
    """The user stopped the work."""
