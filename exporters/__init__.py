"""Exporters: one module a format, its name is what ``--as`` takes. They know the item, not how it was made."""
