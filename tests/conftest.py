"""What holds for all tests."""

from __future__ import annotations

import os
import signal

from hypothesis import settings

# A build that runs in the background ignores interrupts, and so would all that its tests start.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# A build tries the same cases every time; `SEARCH=1 python -m pytest` goes looking for new ones.
settings.register_profile("same-cases", derandomize=True)
if not os.environ.get("SEARCH"):
    settings.load_profile("same-cases")
