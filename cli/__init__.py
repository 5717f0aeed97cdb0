"""The command line: thin, it joins the reader, the checks and the drawings."""
