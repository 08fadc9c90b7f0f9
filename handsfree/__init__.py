"""An offline voice companion for procedures done with both hands busy."""

import os

__version__ = "0.2.0"

# onnxruntime reports its use to its maker: it looks up a host and leaves an identifier and a database in the user's
# cache, unless this is set when the library is loaded; to turn it off afterwards comes too late. Nothing of this
# package is imported before these lines, in whatever process, and what that process starts inherits its environment.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
# One thread for arithmetic on arrays, read when numpy is loaded: more of them wait for each other while others listen.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
