"""Text to PCM: the Synthesizer port and its adapters."""
