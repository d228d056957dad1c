"""The subcommands, one module each with ``add_arguments(parser)`` and ``run(arguments) -> int``.

The first line of a module's docstring is its line in the help. Modules import what is dear inside ``run``.
"""
