"""A buried line: its pipe, profile, ends, parts, and the design of all of it."""
