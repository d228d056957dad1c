"""Counting: from answers to the one table n[group, item, response, total] (`bank.audit.records.Counts`).

Every engine gives the same table to the last digit, because it only compares and adds whole numbers:

- `columns`: answers that stand in memory, with numpy.

Importing this room loads no numpy; its modules do.
"""
