"""What holds for all tests: searched examples are the same in every run, unless a search is asked for.

``SIDELONG_SEARCH=1 pytest tests/stream`` draws new examples; what they find becomes an ``@example`` of its test.
"""

import os

from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("search", deadline=None, print_blob=True)
settings.load_profile("search" if os.environ.get("SIDELONG_SEARCH") else "same")
