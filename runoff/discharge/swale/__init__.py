"""A swale: its section, its cut, where it may run, and the design of all of it."""
