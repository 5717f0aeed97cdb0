"""What holds for all tests."""

from __future__ import annotations

import signal

# A build that runs in the background ignores interrupts, and so would all that its tests start.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
