"""Every invented lot of the tests, by subject.

Written as a user would: `small` in one short file, `rich` with one of everything, `written` piece
by piece, `on_map` with elevation data, `metric` the sample in metres, `printed` for the reports.
Records without a file: `records` the pieces of any, `roofs`, `walls` and `ponds` at the foundation,
`ways` and `pits` for what is built, `made_up` with one of everything on the map.
Many by a seed: `generated` of every kind, `surveys` as a person with a level takes them. `moved` is
any lot drawn otherwise. `planned` are the plans of those that many tests read.
"""

STORE = "RUNOFF_TESTS_STORE"
"""Names the folder, in the environment, where a run's processes keep what they make once."""
