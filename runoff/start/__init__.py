"""From a homeowner's answers to a site file and sheets to fill in: questions, readers, writing."""
