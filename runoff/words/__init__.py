"""Facts to sentences, in the units shown: numbers, names and codes come in, words go out.

The door of the room: its public names stand in `__init__.pyi`, and each loads when first used.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
