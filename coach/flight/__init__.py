"""How it would fly: a `Maneuver`, an `Airplane` and the day's `Conditions` become a `Flight`."""
