"""The subcommands, a module each: ``arguments(parser)`` and ``run(args)`` to an exit code."""
