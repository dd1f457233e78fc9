# Signed without a proof; a later fit on the trailer, signed with that in view, speaks for the trailer.
lap-a {"kind":"job","job":"J1","trailer":"5312","fleet":"Larkspur Freight","wall":"plate","load":"empty","by":"mara"}
pair lap-a J1 C1 T1
checks lap-a J1 plate empty
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
signed-without-proof J1 stop - open
5312 relied no
+++
lap-b saw lap-a
lap-b {"kind":"unlink","camera":"C1","tracker":"T1","by":"jonas"}
fit lap-b J2 5312 C2 T1
---
signed-without-proof J1 stop - open
+++
lap-b {"kind":"sign-off","job":"J2","by":"jonas"}
---
signed-without-proof J1 stop - cleared
J1 says a later job speaks for this trailer
changed-after-sign-off J1 ask aware cleared
not trailer-opened-twice
5312 relied yes
