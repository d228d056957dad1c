"""Counting: from answers to the one table n[group, item, response, total] (`bank.audit.records.Counts`).

Every engine gives the same table to the last digit, because it only compares and adds whole numbers:

- `columns.count`: answers that stand in memory;
- `files.count_csv`: canonical CSV files, long or wide, streamed in blocks; the default;
- `engines.count_with`: an SQL engine (DuckDB, SQLite, PostgreSQL), where the answers lie or on files, with the one
  statement of `statement`.

The rules that hold for all: of several attempts the first (or last) counts; two like answers of a pupil to one item
count once, two different ones not at all (none of them is the true one, and no order of rows decides); a pupil whose
rows name two groups is in none; of blanks after the last answer the first was omitted, the others were not reached.

Importing this room loads no numpy; its modules do.
"""
