# Proven for camera A; then A is taken off, B is linked and live, and the job is signed on A's picture.
fit lap-a J1 5312 A T1
lap-a {"kind":"unlink","camera":"A","tracker":"T1","by":"mara","why":"lens scratched"}
pair lap-a J1 B T1
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
proof-of-another-pair J1 stop aware open
not signed-without-proof
not signed-without-link
not signed-before-live
J1 says by a picture of before the link of camera B to tracker T1
5312 relied no
+++
# Proven anew and signed again.
proof lap-a J1 second
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
proof-of-another-pair J1 stop aware cleared
5312 relied yes
+++
# The tracker is swapped after the proof: the same.
fit lap-a J2 5313 C2 T2
lap-a {"kind":"unlink","camera":"C2","tracker":"T2"}
pair lap-a J2 C2 T22
lap-a {"kind":"sign-off","job":"J2"}
---
proof-of-another-pair J2 stop aware open
not tracker-on-two-trailers
+++
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
