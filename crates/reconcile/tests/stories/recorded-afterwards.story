# Proof and checks are entered after the sign-off, with an earlier time of the device's clock or by word: somebody must look.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty","by":"mara"}
pair lap-a J1 C1 T1
lap-a {"kind":"sign-off","job":"J1","at":"2026-03-02T12:00:00Z","by":"mara"}
---
signed-without-proof J1 stop - open
check-missing J1 ask - open
+++
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"picture":"picture:one","at":"2026-03-02T11:50:00Z","clock":"person","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
signed-without-proof J1 ask aware open
J1 says recorded afterwards
5312 relied ask
+++
# Signed again by somebody who has seen it.
checks lap-a J1 plate empty
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again","at":"2026-03-02T12:30:00Z"}
---
signed-without-proof J1 ask aware cleared
check-missing J1 ask - cleared
5312 relied yes
+++
# Settings, and a check, by the device's clock; the same by a server's time need no second look.
lap-a {"kind":"job","job":"J2","trailer":"5313"}
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"sign-off","job":"J2","at":"2026-03-02T12:00:00Z","clock":"reference"}
lap-a {"kind":"settings","job":"J2","tracker":"T2","state":"live","at":"2026-03-02T11:50:00Z"}
lap-a {"kind":"job","job":"J3","trailer":"5314"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3","at":"2026-03-02T11:00:00Z"}
lap-a {"kind":"sign-off","job":"J3","at":"2026-03-02T12:00:00Z","clock":"reference"}
lap-a {"kind":"settings","job":"J3","tracker":"T3","state":"live","at":"2026-03-02T11:50:00Z","clock":"reference"}
---
signed-before-live J2 ask aware open
J2 says recorded afterwards
signed-before-live J3 stop - cleared
