# Two crews open a job on trailer 5312 in the same hour.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
lap-b {"kind":"job","job":"J2","trailer":5312,"by":"jonas"}
lap-a {"kind":"job","job":"J3","trailer":"5313"}
---
trailer-opened-twice 5312 ask unaware open jobs=J1,J2 facts=1,2
nothing else
+++
# A sign-off that comes later does not put it right.
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J1"}
---
trailer-opened-twice 5312 ask unaware open
+++
lap-a {"kind":"ruling","finding":"@trailer-opened-twice:trailer:5312","ruling":"accepted","why":"two cameras wanted"}
---
trailer-opened-twice 5312 ask unaware settled
+++
# A third job, by somebody who had seen the others.
lap-a {"kind":"job","job":"J4","trailer":"5312"}
---
# J1 was signed off before; J2 was not.
trailer-opened-twice 5312 ask aware open jobs=J1,J2,J4 facts=1,2,6
+++
lap-a {"kind":"stand-down","job":"J2","why":"not our trailer"}
---
trailer-opened-twice 5312 ask aware cleared jobs=J1,J2,J4 facts=1,2,6
