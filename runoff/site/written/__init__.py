"""The site file as it is written: its tables, the kinds of value in them, and the line of each."""
