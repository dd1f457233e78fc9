# An unlink takes off only the ties its recorder had seen; the same tie made elsewhere stays live.
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-b {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"unlink","camera":"C1","tracker":"T1","why":"wrong trailer"}
lap-a {"kind":"link","camera":"C1","tracker":"T2","job":"J2"}
---
camera-on-two-trackers C1 stop unaware open jobs=J1,J2 facts=2,4
not tracker-with-two-cameras
+++
lap-a saw lap-b
lap-a {"kind":"unlink","camera":"C1","tracker":"T1","why":"wrong trailer, again"}
---
# Link 1 was properly taken off before link 4; the clash was between 2 and 4.
camera-on-two-trackers C1 stop unaware cleared facts=2,4
nothing else
