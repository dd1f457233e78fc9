# The camera goes to another tracker after the job was signed off.
lap-a {"kind":"job","job":"J1","trailer":"5312","tracker":"T1","camera":"C1"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"settings","tracker":"T1","state":"live"}
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
not changed-after-sign-off
not signed-before-live
+++
# A change that did not know of the sign-off is not after it.
lap-b saw lap-a:2
lap-b {"kind":"settings","tracker":"T1","state":"asked"}
---
not changed-after-sign-off
+++
lap-a {"kind":"unlink","job":"J7","camera":"C1","tracker":"T1","by":"mara"}
---
changed-after-sign-off J1 ask aware open jobs=J1 facts=4,6
J1 says unlink of camera C1 from tracker T1 by mara
+++
lap-a {"kind":"ruling","finding":"@changed-after-sign-off:job:J1","ruling":"accepted","why":"camera was wanted back"}
---
changed-after-sign-off J1 ask aware settled
+++
lap-c saw lap-a
lap-c {"kind":"link","camera":"C1","tracker":"T1"}
---
changed-after-sign-off J1 ask aware open facts=4,6,8
J1 says link of camera C1 to tracker T1 by somebody on lap-c
J1 next Check that camera and tracker still work together
+++
# Signed off again, but without knowing of lap-c's link.
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
changed-after-sign-off J1 ask aware open facts=4,8
+++
lap-a saw lap-c
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"third time"}
---
changed-after-sign-off J1 ask aware cleared facts=4,6,8
+++
# Changed and stood down.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"sign-off","job":"J2"}
lap-a {"kind":"unlink","camera":"C2","tracker":"T2"}
lap-a {"kind":"stand-down","job":"J2","why":"trailer sold"}
---
changed-after-sign-off J2 ask aware cleared facts=12,13
+++
# Taken off a month later by somebody who did not know of the sign-off: links go by what was seen, so it was signed without one.
lap-b {"kind":"link","job":"J3","camera":"C3","tracker":"T3","at":"2026-03-02T08:00:00Z"}
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J3","at":"2026-03-02T10:00:00Z","clock":"reference"}
lap-b {"kind":"unlink","job":"J3","camera":"C3","tracker":"T3","at":"2026-04-02T10:00:00Z","clock":"reference"}
---
signed-without-link J3 stop unaware open
not changed-after-sign-off J3
