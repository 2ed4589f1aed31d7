"""The printed report: a PDF for the homeowner, the one who digs, and the inspector's file.

`runoff.report.printed.report` writes it. The words are gathered as plain blocks (`blocks`), each
chapter in a file of its own; `setting` hands them as data to the template ``report.typ``.
"""
