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
