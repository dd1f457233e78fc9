# Signed off while the picture was still on its way.
lap-a {"kind":"job","job":"J1","trailer":"5312"}
lap-a {"kind":"proof","job":"J1","state":"asked"}
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
signed-without-proof J1 stop - open jobs=J1 facts=3
J1 says no picture of it was ever judged
+++
# Judged elsewhere, unseen by the sign-off.
lap-b saw lap-a:2
lap-b {"kind":"proof","job":"J1","state":"judged","ok":true,"by":"jonas","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
signed-without-proof J1 stop unaware open facts=3
not proof-answers-disagree
not proof-older-than-request
+++
lap-a saw lap-b
lap-a {"kind":"ruling","finding":"@signed-without-proof:job:J1","ruling":"accepted","why":"picture was there, radio was not","by":"mara"}
---
signed-without-proof J1 stop unaware settled
+++
# A second judgement of which the ruling knew nothing: it is later than the sign-off, and another rule's.
lap-c {"kind":"proof","job":"J1","state":"judged","ok":false,"by":"tomas"}
---
signed-without-proof J1 stop unaware settled facts=3
failed-after-sign-off J1 stop unaware open
+++
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
signed-without-proof J1 stop unaware cleared facts=3
+++
# Entered after the sign-off with an earlier time: a claim, and somebody must look. A server's time that is certainly earlier puts it right.
lap-a {"kind":"sign-off","job":"J2","at":"2026-03-02T12:00:00Z"}
lap-a {"kind":"proof","job":"J2","state":"judged","ok":true,"at":"2026-03-02T11:50:00Z","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"sign-off","job":"J3","at":"2026-03-02T12:00:00Z","clock":"reference"}
lap-a {"kind":"proof","job":"J3","state":"judged","ok":true,"at":"2026-03-02T11:50:00Z","clock":"reference","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
signed-without-proof J2 ask aware open
J2 says recorded afterwards
J2 says without a proof picture judged good
signed-without-proof J3 stop - cleared
