# Nobody ever measured a clock, but jonas read a trusted one beside his laptop's: lap-b is two hours slow.
the depot is known
clock lap-b -120
lap-b {"kind":"clock","reference":"2026-03-02T08:01:00Z","uncertainty":"2 s"}
lap-a {"kind":"clock","reference":"2026-03-02T08:02:00Z","uncertainty":"2 s"}
wait 20
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 20
lap-b {"kind":"settings","tracker":"T1","state":"live"}
wait 20
lap-a {"kind":"sign-off","job":"J1"}
wait 20
lap-b {"kind":"clock","reference":"2026-03-02T09:25:00Z"}
lap-a {"kind":"clock","reference":"2026-03-02T09:26:00Z","uncertainty":"2 s"}
---
signed-before-live J1 stop - cleared
clock-off lap-b note - open
lap-b says The clock of lap-b is at least 1 h 5
not clock-off lap-a
+++
# Within what a hand reading and the trusted clock leave open nothing is certain.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"sign-off","job":"J2"}
lap-b {"kind":"settings","tracker":"T2","state":"live"}
lap-b {"kind":"clock","reference":"2026-03-02T09:30:00Z"}
lap-a {"kind":"clock","reference":"2026-03-02T09:31:00Z"}
---
signed-before-live J2 ask unaware open
+++
# An uncertainty that is no length of time reads as nothing.
lap-c {"kind":"clock","reference":"2026-03-02T03:00:00Z","uncertainty":"3 in"}
---
not clock-off lap-c
