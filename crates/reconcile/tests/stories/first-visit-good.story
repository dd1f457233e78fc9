# A good fit from end to end: nothing is found, and the trailer is relied on.
lap-a {"kind":"note","text":"begins"}
fit lap-a J1 5312 C1 T1
---
nothing else
5312 relied not-yet
+++
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
nothing else
5312 relied yes
+++
# The pair is taken off again after the sign-off: the sign-off was right, the trailer has no pair.
lap-b saw lap-a
lap-b {"kind":"unlink","camera":"C1","tracker":"T1","why":"borrowed","by":"jonas"}
---
changed-after-sign-off J1 ask aware open
not signed-without-link
5312 relied ask
+++
lap-a saw lap-b
lap-a {"kind":"ruling","finding":"@changed-after-sign-off:job:J1","ruling":"accepted","why":"borrowed for a day"}
---
changed-after-sign-off J1 ask aware settled
5312 relied no
