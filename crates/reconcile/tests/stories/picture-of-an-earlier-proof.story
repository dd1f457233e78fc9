# Near: the same picture judged twice for one pair in one job.
fit lap-a J3 5314 C3 T3
lap-a {"kind":"proof","job":"J3","state":"judged","picture":"picture:J3_5314_C3","ok":true,"note":"again","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"sign-off","job":"J3"}
---
5314 relied yes
+++
# An audit with the old picture; then two pairs in one job.
lap-c saw lap-a
lap-c {"kind":"job","job":"J4","trailer":"5314","purpose":"prove"}
proof lap-c J4 J3
lap-c {"kind":"proof","job":"J4","state":"judged","picture":"picture:J3_5314_C3","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
picture-used-twice picture:J3_5314_C3 stop aware open jobs=J3,J4
+++
fit lap-a J5 5315 C5 T5
lap-a {"kind":"unlink","camera":"C5","tracker":"T5"}
pair lap-a J5 C55 T5
lap-a {"kind":"proof","job":"J5","state":"judged","picture":"picture:J5_5315_C5","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
picture-used-twice picture:J5_5315_C5 stop aware open jobs=J5
