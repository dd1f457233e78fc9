# Two trackers are linked in jobs on one trailer.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","by":"mara"}
---
not trailer-with-two-pairs
+++
lap-b {"kind":"job","job":"J2","trailer":"5312","by":"jonas"}
lap-b {"kind":"link","job":"J2","camera":"C2","tracker":"T2","by":"jonas"}
---
trailer-with-two-pairs 5312 stop unaware open jobs=J1,J2 facts=2,4
5312 says camera C1 to tracker T1
+++
# One was taken off: by somebody who had it in view.
lap-b saw lap-a
lap-b {"kind":"unlink","camera":"C2","tracker":"T2","by":"jonas"}
---
trailer-with-two-pairs 5312 stop unaware cleared
+++
# With the other pair in view, in one job; a second camera on the same tracker is another rule's.
lap-a {"kind":"job","job":"J3","trailer":"5313"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-a {"kind":"link","job":"J3","camera":"C4","tracker":"T4"}
lap-a {"kind":"job","job":"J5","trailer":"5315"}
lap-a {"kind":"link","job":"J5","camera":"C5","tracker":"T5"}
lap-a {"kind":"link","job":"J5","camera":"C6","tracker":"T5"}
---
trailer-with-two-pairs 5313 stop aware open
not trailer-with-two-pairs 5315
tracker-with-two-cameras T5 stop aware open
+++
# The trailer of a job is corrected: it was not this one.
lap-a {"kind":"job","job":"J7","trailer":"5317"}
lap-a {"kind":"link","job":"J7","camera":"C7","tracker":"T7"}
lap-a {"kind":"job","job":"J8","trailer":"5317"}
lap-a {"kind":"link","job":"J8","camera":"C8","tracker":"T8"}
lap-a {"kind":"job","job":"J8","trailer":"5318"}
---
trailer-with-two-pairs 5317 stop aware cleared
not trailer-with-two-pairs 5318
