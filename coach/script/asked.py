"""The numbers that a student can be asked for at a checkpoint.

By itself, because whoever looks at runs needs it and need not wait for all that reads a script.
"""

from __future__ import annotations

from typing import Literal

Asked = Literal["pitch", "bank", "speed", "altitude", "heading"]
"""One of them."""
