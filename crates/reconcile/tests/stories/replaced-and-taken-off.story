# Fitted, replaced, taken off: each ends clean.
fit lap-a J1 5312 C1 T1
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
5312 relied yes
+++
lap-a {"kind":"job","job":"J2","trailer":"5312","purpose":"replace","by":"mara"}
lap-a {"kind":"unlink","job":"J2","camera":"C1","tracker":"T1","why":"lens broken"}
pair lap-a J2 C2 T1
lap-a {"kind":"check","job":"J2","check":"tracker-reporting","ok":true}
lap-a {"kind":"check","job":"J2","check":"kit-complete","ok":true}
lap-a {"kind":"check","job":"J2","check":"camera-screws","ok":true}
lap-a {"kind":"check","job":"J2","check":"lens-untouched","ok":true}
lap-a {"kind":"check","job":"J2","check":"label-moved","ok":true}
lap-a {"kind":"check","job":"J2","check":"doors-closed","ok":true}
proof lap-a J2 replaced
lap-a {"kind":"sign-off","job":"J2","by":"mara"}
---
not check-missing
not signed-without-link
not tracker-with-two-cameras
not camera-on-two-trackers
not trailer-opened-twice
changed-after-sign-off J1 ask aware cleared
5312 relied yes
+++
# A take-off that leaves the link.
lap-a {"kind":"job","job":"J3","trailer":"5312","purpose":"take-off","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"hole-closed","ok":true}
lap-a {"kind":"sign-off","job":"J3","by":"mara"}
---
signed-without-link J3 stop aware open
not check-missing J3
not signed-before-live J3
not signed-without-proof J3
5312 relied no
+++
lap-a {"kind":"unlink","job":"J3","camera":"C2","tracker":"T1","why":"trailer is sold"}
---
signed-without-link J3 stop aware cleared
not changed-after-sign-off J3
5312 relied taken-off
+++
# Taken off in order, from the start.
fit lap-a J4 5313 C4 T4
lap-a {"kind":"sign-off","job":"J4","by":"mara"}
lap-a {"kind":"job","job":"J5","trailer":"5313","purpose":"take-off","by":"mara"}
lap-a {"kind":"unlink","job":"J5","camera":"C4","tracker":"T4"}
lap-a {"kind":"check","job":"J5","check":"hole-closed","ok":true}
lap-a {"kind":"sign-off","job":"J5","by":"mara"}
---
not signed-without-link J5
not signed-without-link J4
changed-after-sign-off J4 ask aware cleared
5313 relied taken-off
+++
# A proof is of the trailer's pair, whoever linked it, and wants no drill.
fit lap-a J6 5314 C6 T6
lap-a {"kind":"sign-off","job":"J6","by":"mara"}
lap-b saw lap-a
lap-b {"kind":"job","job":"J7","trailer":"5314","purpose":"prove","by":"jonas"}
lap-b {"kind":"check","job":"J7","check":"doors-closed","ok":true}
proof lap-b J7 audit
lap-b {"kind":"sign-off","job":"J7","by":"jonas"}
---
not check-missing J7
not signed-without-link J7
not signed-before-live J7
not proof-of-another-pair J7
not proof-out-of-order J7
not trailer-opened-twice 5314
5314 relied yes
