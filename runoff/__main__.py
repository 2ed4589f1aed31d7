"""``python -m runoff``: the same as the ``runoff`` command."""

from runoff.cli import main

if __name__ == "__main__":
    main()
