"""The writers of a work order."""
