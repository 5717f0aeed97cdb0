"""``python -m mutants``, in this folder's parent."""

import sys

from .report import main

sys.exit(main())
