"""The ways to a loudspeaker, each imported only when it is used."""
