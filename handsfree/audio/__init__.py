"""Sound in and out as blocks of samples: WAV, raw PCM, microphone, loudspeaker."""
