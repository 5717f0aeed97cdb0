"""What an editor asks of a rig file: pure functions from texts and a place in them to an answer.

Only ``server`` knows the protocol; all else can be called, and is tested, without it.
"""
