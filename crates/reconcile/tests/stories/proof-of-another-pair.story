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
