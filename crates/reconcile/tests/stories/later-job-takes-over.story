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
+++
# A later proof answers for the picture, and not for the settings.
lap-a {"kind":"job","job":"J3","trailer":"5313","wall":"plate","load":"empty","by":"mara"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
checks lap-a J3 plate empty
lap-a {"kind":"sign-off","job":"J3","by":"mara"}
lap-b saw lap-a
lap-b {"kind":"job","job":"P3","trailer":"5313","purpose":"prove","by":"jonas"}
lap-b {"kind":"settings","tracker":"T3","state":"live"}
lap-b {"kind":"check","job":"P3","check":"doors-closed","ok":true}
proof lap-b P3 three
lap-b {"kind":"sign-off","job":"P3","by":"jonas"}
---
signed-without-proof J3 stop - cleared
signed-before-live J3 stop aware open
not signed-before-live P3
not signed-without-link P3
not check-missing P3
5313 relied no
+++
# Two signed jobs that have not seen each other: nobody speaks, and nothing is cleared by taking over.
lap-c {"kind":"job","job":"J4","trailer":"5314","wall":"plate","load":"empty"}
pair lap-c J4 C4 T4
checks lap-c J4 plate empty
lap-d saw lap-c
lap-d {"kind":"job","job":"J5","trailer":"5314","purpose":"prove"}
lap-d {"kind":"check","job":"J5","check":"doors-closed","ok":true}
proof lap-d J5 five
lap-d {"kind":"sign-off","job":"J5"}
lap-c {"kind":"sign-off","job":"J4"}
---
signed-without-proof J4 stop - open
5314 relied no
+++
# The same without a fault on either side.
fit lap-c J6 5315 C6 T6
lap-c {"kind":"sign-off","job":"J6"}
lap-d saw lap-c
lap-e saw lap-c
lap-d {"kind":"job","job":"J7","trailer":"5315","purpose":"prove"}
lap-d {"kind":"check","job":"J7","check":"doors-closed","ok":true}
proof lap-d J7 seven
lap-d {"kind":"sign-off","job":"J7"}
lap-e {"kind":"job","job":"J8","trailer":"5315","purpose":"prove"}
lap-e {"kind":"check","job":"J8","check":"doors-closed","ok":true}
proof lap-e J8 eight
lap-e {"kind":"sign-off","job":"J8"}
---
not signed-without-proof J7
not signed-without-proof J8
trailer-opened-twice 5315 ask unaware open
5315 relied ask
