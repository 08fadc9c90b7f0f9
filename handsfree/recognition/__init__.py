"""From audio blocks to hypotheses: speech detection, engines, model weights."""
