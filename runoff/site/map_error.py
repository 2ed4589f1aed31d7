"""The error of all that lies on no map."""


class MapError(ValueError):
    """A map system or a position on it that cannot be used; its text says what is expected."""
