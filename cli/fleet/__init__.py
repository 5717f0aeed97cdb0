"""Many rigs in one run: found in folders, looked at in parallel, only where something changed."""
