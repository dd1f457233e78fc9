# A camera is taken off before it goes to another tracker: nobody needs to know.
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","note":"twice, the scanner beeped twice"}
lap-a {"kind":"unlink","job":"J1","camera":"C1","tracker":"T1","why":"T1 is dead"}
lap-b saw lap-a
lap-b {"kind":"link","job":"J1","camera":"C1","tracker":"T2"}
---
nothing else
+++
# The old tie again, by somebody who had not seen the new one; it clashes.
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","note":"T1 woke up"}
---
camera-on-two-trackers C1 stop unaware open facts=4,5
nothing else
