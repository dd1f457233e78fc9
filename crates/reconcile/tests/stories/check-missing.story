# An empty plate trailer; two checks were forgotten.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty"}
checks lap-a J1 plate empty but rivet-count,doors-closed
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
check-missing J1 ask - open jobs=J1
J1 says without 2 required checks: rivet-count, doors-closed
not check-failed
+++
# Recorded elsewhere without the sign-off knowing: still missing before it.
lap-b {"kind":"check","job":"J1","check":"rivet-count","value":8}
---
check-missing J1 ask - open
J1 says without 2 required checks
+++
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@check-missing:job:J1","ruling":"accepted","why":"seen on the picture"}
---
check-missing J1 ask - settled
+++
# The job turns out to be loaded: more is required, but nothing that a ruling could have seen is new. A value that
# cannot be read joins by its fact when the job is signed off again.
lap-a {"kind":"check","job":"J1","check":"doors-closed","value":"hard to say"}
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
check-missing J1 ask - open
J1 says doors-closed (recorded, but
+++
lap-a saw lap-b
lap-a {"kind":"check","job":"J1","check":"doors-closed","ok":true}
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"third time"}
---
check-missing J1 ask - cleared
