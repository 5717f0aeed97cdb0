"""Writers of findings: each turns the outcomes of a run into one text, and prints nothing."""
