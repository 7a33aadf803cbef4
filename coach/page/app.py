"""The page's server: files, requests and the room's WebSockets.

Every answer that is a problem is ``{"problem": "one sentence"}`` with status 4xx. Whatever lies
under ``/api`` needs the key, the secret in the address that the coach opens (after its ``#``), in
the header ``X-Coach-Key``; bodies and answers are JSON unless a name ends otherwise.

The content security policy allows scripts, styles and fonts from ``/static`` only, none of them
inline, pictures from this server or a ``blob:``, and connections to this server only. Pictures
under ``/api`` need the header, so the page fetches them and shows them as a blob.

Files:
    GET /                   ``alone.html``; ``join.html`` where a room is open
    GET /alone              ``alone.html``: rehearse alone; the address ends in ``#key``
    GET /room               ``room.html``: the instructor's page; the address ends in ``#key``
    GET /join               ``join.html``: the phone's page; the address may end in ``#code``
    GET /static/{file}      what lies in ``coach/page/static``

Choosing and preparing:
    GET  /api/library       {maneuvers: [{name, title, purpose}], airplanes: [{name, title,
                            invented}], supports: [...], students: [names in the logbook],
                            caution}
    POST /api/brief         body `messages.Chosen`; what ``coach brief --json`` prints
    POST /api/brief.svg     the same, as a picture
    POST /api/rehearsals    body `messages.Chosen`; answers when it is ready (a second or a few; a
                            request that is aborted is given up): as GET below
    GET  /api/rehearsals/{id}
        {id, title, airplane, support, why (this support, a sentence or ""), note (a sentence or
        ""), pace, length_s, flight_start_s, pieces, piece_s,
        cues: [{start_s, end_s, text (null for a tone), moment (index or null), gap_s}],
        moments: [{position_s, time_s, loop, name, heading_deg, bank_deg, pitch_deg, ias_kt,
                   altitude_ft, across_deg}],
        references: [{name, heading_deg, across_deg}],
        track: {position_s: [...], across_deg, pitch_deg, bank_deg, heading_deg, ias_kt,
                altitude_ft, loop, reference (name that the nose is turning to)}}
        Positions are seconds on the soundtrack. ``across_deg`` is where the nose points, degrees
        right of the entry heading, without a jump in a turn. The track has ten rows a second.
    GET  /api/rehearsals/{id}/sound/{piece}.wav
        The soundtrack from ``piece * piece_s`` on, ``piece_s`` long but for the last one: 16 bits,
        stereo, 48000 Hz. In an AudioContext of that rate, pieces started one at the end of the
        other join without a seam.
    GET  /api/rehearsals/{id}/captions.vtt

Runs, alone (``run`` names the attempt; the logbook's ``number`` is known when it has ended):
    POST /api/attempts               {rehearsal, student} -> {run}; when the sound starts
    POST /api/attempts/{run}/taps    {position_s} -> {time_s}; null before the first moment
    POST /api/attempts/{run}/reached {position_s} -> {}; about once a second
    POST /api/attempts/{run}/end     {position_s, ended: "finished" or "stopped"} -> {number}; null
                                     where it was stopped before its first moment
    Starting over ends an attempt as stopped and begins another. An attempt that is never ended is
    kept as interrupted.

The logbook:
    GET  /api/runs                  [{id, student, title, airplane, started, pace, support, ended,
                                    checkpoints, tapped, on_time, absolute_error_s}], newest first
    GET  /api/runs/{number}         the debrief, as ``coach debrief --json`` prints it
    GET  /api/runs/{number}/picture.svg
    GET  /api/next?student=         {reason, maneuver, title, support}; what to practise next

The room:
    POST /api/room          {name} -> as GET; opens one where none is
    GET  /api/room          {name, code, address (short, for people), link (in the QR code),
                            lan (false: phones cannot reach it, start it with --lan)}; 404: none
    GET  /api/room/qr.svg
    GET  /api/room/picture.svg  everybody's timing of the last run, names as shown or hidden
    GET  /own/picture.svg       a phone's own picture, its token in ``X-Coach-Key``
    WS   /ws/join, /ws/lead     see `coach.page.messages`
"""
