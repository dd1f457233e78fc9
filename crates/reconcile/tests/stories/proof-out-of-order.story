# The picture is asked for before the settings are live, and before the doors are closed.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty","by":"mara"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"proof","job":"J1","state":"asked","by":"mara"}
lap-a {"kind":"settings","tracker":"T1","state":"live"}
lap-a {"kind":"check","job":"J1","check":"doors-closed","ok":true}
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"picture":"picture:one","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-out-of-order J1 ask aware open jobs=J1 facts=3,4,5,6
+++
lap-a {"kind":"sign-off","job":"J1"}
---
proof-out-of-order J1 ask aware open
+++
# Asked for again and signed on that.
proof lap-a J1 second
lap-a {"kind":"sign-off","job":"J1","note":"again"}
---
proof-out-of-order J1 ask aware cleared
+++
# Only the doors were late.
lap-a {"kind":"job","job":"J2","trailer":"5313"}
pair lap-a J2 C2 T2
lap-a {"kind":"proof","job":"J2","state":"asked"}
lap-a {"kind":"check","job":"J2","check":"doors-closed","ok":true}
lap-a {"kind":"proof","job":"J2","state":"judged","ok":true,"picture":"picture:two","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-out-of-order J2 ask aware open
+++
# Near: settings that were never live are the matter of signed-before-live; doors that nobody recorded are missing, not late; and what
# was asked for before the link is another pair's.
lap-a {"kind":"job","job":"J3","trailer":"5314"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
proof lap-a J3 three
lap-a {"kind":"sign-off","job":"J3"}
lap-a {"kind":"job","job":"J4","trailer":"5315"}
proof lap-a J4 four
pair lap-a J4 C4 T4
---
not proof-out-of-order J3
signed-before-live J3 stop - open
not proof-out-of-order J4
+++
# The doors are opened and closed once more after the picture: it was not asked for before they were closed.
fit lap-a J5 5316 C5 T5
lap-a {"kind":"check","job":"J5","check":"doors-closed","ok":true,"note":"once more"}
lap-a {"kind":"sign-off","job":"J5"}
---
not proof-out-of-order J5
5316 relied yes
