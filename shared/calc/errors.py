"""Errors that a person can act on: each names the thing, its value, its unit and what is allowed."""


class AccordError(Exception):
    """Anything this program refuses, with a sentence meant for its user."""


class InputError(AccordError):
    """A value that was given can't be used as it stands."""


class OutOfRangeError(InputError):
    """A value lies outside the range where a published formula holds."""
