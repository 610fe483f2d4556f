"""Letters as outlines: from an installed font, or from the plain strokes that come with the program."""

from housingdesk.features.lettering.text import Lettering, letters_of

__all__ = ["Lettering", "letters_of"]
