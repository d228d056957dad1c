"""The review page: one file of HTML that shows a bank to the people who decide about it."""

from __future__ import annotations

from bank.review.page import pieces_of, prepared, write_pieces, write_review

__all__ = ["pieces_of", "prepared", "write_pieces", "write_review"]
