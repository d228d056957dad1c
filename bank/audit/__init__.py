"""The audit of a bank: before use from its items alone, after use with the answers that pupils gave.

    results (files) -> reading -> `records.Answers` -> counting -> `records.Counts` -> statistics -> flags -> report

Importing this room loads neither numpy nor scipy; its modules do.
"""
