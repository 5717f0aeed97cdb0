"""What changes between versions of a rig: which versions, compared, and told in each format."""
