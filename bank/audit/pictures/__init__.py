"""Pictures of the audit: inline SVG with axes, units and words, each with the same figures as a table beside it.

They are told apart by place, length, shape and hatching, never by colour alone; colours come from the page's style.
"""

from __future__ import annotations

from bank.audit.pictures._svg import Picture

__all__ = ["Picture"]
