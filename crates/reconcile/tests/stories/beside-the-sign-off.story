# Of settings that nobody had seen side by side any that speaks against counts.
lap-a {"kind":"job","job":"J2","trailer":"5320"}
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-b saw lap-a
lap-a {"kind":"settings","job":"J2","tracker":"T2","state":"live"}
lap-b {"kind":"settings","job":"J2","tracker":"T2","state":"failed"}
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J2"}
---
signed-before-live J2 stop aware open
not failed-after-sign-off
+++
# Proven again on one laptop while another replaced the camera: the proof was signed for a pair that was no more, and nobody speaks.
lap-c {"kind":"job","job":"J3","trailer":"5330","wall":"plate","load":"empty"}
pair lap-c J3 C3 T3
lap-c {"kind":"sign-off","job":"J3"}
lap-d saw lap-c
lap-d {"kind":"unlink","camera":"C3","tracker":"T3"}
fit lap-d J4 5330 C4 T3
lap-d {"kind":"sign-off","job":"J4"}
lap-e saw lap-c
lap-e {"kind":"job","job":"J5","trailer":"5330","purpose":"prove"}
lap-e {"kind":"check","job":"J5","check":"doors-closed","ok":true}
proof lap-e J5 five
lap-e {"kind":"sign-off","job":"J5"}
---
signed-without-link J5 stop unaware open
trailer-opened-twice 5330 ask unaware open jobs=J4,J5
not tracker-with-two-cameras
5330 relied no
