"""The survey: points by ties and sheets, heights from level notes and level lines."""
