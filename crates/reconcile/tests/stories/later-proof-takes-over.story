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
