"""``python -m mutants``, in this folder's parent."""

import sys

from .run import main

sys.exit(main())
