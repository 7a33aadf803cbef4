"""A voice-guided coach for chair flying: brief, rehearse aloud and debrief flight maneuvers."""

__version__ = "0.1.0"
