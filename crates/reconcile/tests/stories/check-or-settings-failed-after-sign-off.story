# Six rivets counted after the sign-off.
fit lap-a J2 5313 C2 T2
lap-a {"kind":"sign-off","job":"J2"}
lap-a {"kind":"check","job":"J2","check":"rivet-count","value":6,"by":"jonas"}
---
failed-after-sign-off J2 stop aware open
J2 says check rivet-count
not check-failed J2
5313 relied no
+++
# The settings fail after it.
fit lap-a J3 5314 C3 T3
lap-a {"kind":"sign-off","job":"J3"}
lap-a {"kind":"settings","tracker":"T3","state":"failed"}
---
failed-after-sign-off J3 stop aware open
not signed-before-live J3
+++
# Judged good, then not good, then signed: that is signed without a proof. Live, then failed, then signed: signed before live.
fit lap-a J4 5315 C4 T4
lap-a {"kind":"proof","job":"J4","state":"judged","ok":false}
lap-a {"kind":"sign-off","job":"J4"}
fit lap-a J5 5316 C5 T5
lap-a {"kind":"settings","tracker":"T5","state":"failed"}
lap-a {"kind":"sign-off","job":"J5"}
---
signed-without-proof J4 stop aware open
not failed-after-sign-off J4
signed-before-live J5 stop aware open
not failed-after-sign-off J5
+++
# Near: a check that the standard does not require; a passing one; settings that name another camera.
fit lap-a J6 5317 C6 T6
lap-a {"kind":"sign-off","job":"J6"}
lap-a {"kind":"check","job":"J6","check":"pilot-depth","ok":false}
lap-a {"kind":"check","job":"J6","check":"rivet-count","value":8,"note":"again"}
lap-a {"kind":"settings","tracker":"T6","camera":"C-other","state":"failed"}
---
not failed-after-sign-off J6
