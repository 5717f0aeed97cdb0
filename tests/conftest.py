"""What holds for all tests."""

from __future__ import annotations

import os
import signal

from hypothesis import HealthCheck, settings

# A build that runs in the background ignores interrupts, and so would all that its tests start.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# A build tries the same cases every time; `SEARCH=1 python -m pytest` goes looking for new ones.
# How long a case takes says more of what else the machine does than of us.
PATIENT = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("same-cases", derandomize=True, **PATIENT)
settings.register_profile("new-cases", **PATIENT)
settings.load_profile("new-cases" if os.environ.get("SEARCH") else "same-cases")
