"""Every default limit, with its source, in one table (a stub to be filled)."""
