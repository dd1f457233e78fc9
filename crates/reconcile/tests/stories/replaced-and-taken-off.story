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
