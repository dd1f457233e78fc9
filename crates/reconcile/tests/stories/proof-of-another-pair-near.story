# Near: the link is recorded twice; the picture is later than one of the two.
fit lap-a J3 5314 C3 T3
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3","note":"once more"}
lap-a {"kind":"sign-off","job":"J3"}
---
not proof-of-another-pair J3
+++
# Asked for and taken before the link, judged after it.
lap-a {"kind":"job","job":"J4","trailer":"5315"}
lap-a {"kind":"proof","job":"J4","state":"asked"}
lap-a {"kind":"proof","job":"J4","state":"taken","picture":"picture:four"}
pair lap-a J4 C4 T4
lap-a {"kind":"proof","job":"J4","state":"judged","ok":true,"picture":"picture:four","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"sign-off","job":"J4"}
---
proof-of-another-pair J4 stop aware open
J4 says asked for by somebody on lap-a
+++
# Judged on another laptop without the link in view, and no clock can tell: somebody must look.
the depot is known
lap-a {"kind":"job","job":"J5","trailer":"5316"}
lap-b saw lap-a
pair lap-a J5 C5 T5
lap-b {"kind":"proof","job":"J5","state":"judged","ok":true,"picture":"picture:five","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J5"}
---
proof-of-another-pair J5 ask aware open
J5 says it cannot be told whether its picture is of after the link
