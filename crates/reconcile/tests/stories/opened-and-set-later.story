# A planned visit opens nothing; the first scan opens it. Who sets a field later opens nothing.
depot {"kind":"job","job":"J1","trailer":"5312","planned":"2026-03-03","by":"ida"}
depot {"kind":"job","job":"J2","trailer":"5312","planned":"2026-03-04","by":"ida"}
---
not trailer-opened-twice
+++
lap-a saw depot
lap-a {"kind":"scan","job":"J1","what":"trailer","code":"5312","by":"mara"}
---
not trailer-opened-twice
+++
lap-b saw depot
lap-b {"kind":"check","job":"J2","check":"doors-closed","ok":true,"by":"jonas"}
---
trailer-opened-twice 5312 ask unaware open
5312 says J1, opened by mara
5312 says J2, opened by jonas
+++
# A field is set after another job was opened: the visit was signed before that, so there are no two at once.
lap-c {"kind":"job","job":"J3","trailer":"5313","by":"tomas"}
lap-c {"kind":"sign-off","job":"J3","by":"tomas"}
lap-c {"kind":"job","job":"J4","trailer":"5313","by":"tomas"}
lap-c {"kind":"job","job":"J3","trailer":"5313","wall":"plate","by":"tomas","note":"set later"}
---
not trailer-opened-twice 5313
+++
# A ruling settles that a job was signed without a proof; a good proof that comes later does not open it.
lap-c {"kind":"ruling","finding":"@signed-without-proof:job:J3","ruling":"accepted","why":"no network here"}
lap-c {"kind":"proof","job":"J3","state":"judged","ok":true,"picture":"picture:three","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
signed-without-proof J3 stop aware settled
+++
# A hole sealed, then the job stood down: nothing is left open.
lap-c {"kind":"job","job":"J5","trailer":"5315","wall":"plate","load":"loaded"}
lap-c {"kind":"check","job":"J5","check":"pilot-hole","ok":true}
lap-c {"kind":"check","job":"J5","check":"pilot-sealed","ok":true}
lap-c {"kind":"stand-down","job":"J5","reason":"weather"}
---
not pilot-hole-left-open J5
+++
# Of two sign-offs that had not seen each other only one is bad: it is named.
lap-d {"kind":"job","job":"J6","trailer":"5316"}
lap-e saw lap-d
lap-d {"kind":"link","job":"J6","camera":"C6","tracker":"T6","by":"mara"}
lap-d {"kind":"sign-off","job":"J6","by":"mara"}
lap-e {"kind":"sign-off","job":"J6","by":"jonas"}
---
signed-without-link J6 stop unaware open
J6 says signed off by jonas on lap-e
+++
# Somebody who has seen both signs again.
lap-e saw lap-d
lap-e {"kind":"sign-off","job":"J6","by":"jonas","note":"again"}
---
signed-without-link J6 stop unaware cleared
