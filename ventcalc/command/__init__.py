"""Command: what ``python -m ventcalc`` can be asked to do, a module each: its arguments, and how it runs.

A module has ``HELP`` (a line for the list of commands), ``arguments(parser)`` and ``run(options)``, which returns the
exit code. What a command needs is loaded when it runs, so that --help and --version answer at once.
"""
