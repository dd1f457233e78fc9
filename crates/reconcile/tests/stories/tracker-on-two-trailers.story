# The same pair is signed on two trailers, by two laptops that had not met.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
pair lap-a J1 C1 T1
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
not tracker-on-two-trailers
+++
lap-b {"kind":"job","job":"J2","trailer":"5448","by":"jonas"}
pair lap-b J2 c-1 t-1
lap-b {"kind":"sign-off","job":"J2","by":"jonas"}
---
tracker-on-two-trailers T1 stop unaware open jobs=J1,J2 facts=2,6
not camera-on-two-trackers
not trailer-with-two-pairs
T1 says on trailer 5312 to camera
T1 says neither device had seen the other's link
5312 relied no
5448 relied no
+++
# One of them was wrong: an unlink takes off only what it had seen. It was made by the same pair, so it takes off both that it had seen.
lap-b saw lap-a
lap-b {"kind":"unlink","job":"J2","camera":"C1","tracker":"T1","by":"jonas"}
---
tracker-on-two-trailers T1 stop unaware cleared
+++
# Near: two jobs on one trailer, and a link in a job without a trailer.
lap-c {"kind":"job","job":"J3","trailer":"5500"}
lap-c {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-c {"kind":"job","job":"J4","trailer":"55 00"}
lap-c {"kind":"link","job":"J4","camera":"C3","tracker":"T3"}
lap-c {"kind":"link","job":"J5","camera":"C3","tracker":"T3"}
---
not tracker-on-two-trailers T3
