"""A class around one loudspeaker."""
