"""Settings of all tests."""

import os

from hypothesis import settings

# The same examples in every run, so that a red test is red for everyone; HYPOTHESIS_FRESH=1
# looks for new ones.
settings.register_profile("same", derandomize=not os.environ.get("HYPOTHESIS_FRESH"))
settings.load_profile("same")
