"""How a rehearsal is heard: phrases spoken ahead of time, mixed with tones, played or written.

    from coach.sound import outputs, soundtrack, voices
    track = soundtrack.mix(sheet, voices.speak(["bank thirty"]).clips)
    outputs.open_player(track).start()

where ``sheet`` is a :class:`coach.callouts.cuesheet.CueSheet`.
"""
