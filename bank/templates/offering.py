"""What further kinds of response offer, as functions of a draw; apart, for checking a template needs none of it."""

from bank.templates._kinds import Offering, make_numerals, make_offering

__all__ = ["Offering", "make_numerals", "make_offering"]
