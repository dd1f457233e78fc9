# Judged good, signed; then an audit judges the picture not good.
fit lap-a J1 5312 C1 T1
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
5312 relied yes
+++
depot saw lap-a
depot {"kind":"proof","job":"J1","state":"judged","ok":false,"by":"ida","note":"jagged edge"}
---
failed-after-sign-off J1 stop aware open jobs=J1
not signed-without-proof
5312 relied no
+++
# Signed again by somebody who has not seen that; then by somebody who has, with a new picture.
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"blind"}
---
failed-after-sign-off J1 stop unaware open
+++
lap-a saw depot
proof lap-a J1 second
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
failed-after-sign-off J1 stop unaware cleared
5312 relied yes
+++
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
+++
# An audit is a job of its own: it judges the pair not good and was not signed. A later proof answers for the picture.
fit lap-a J7 5318 C7 T7
lap-a {"kind":"sign-off","job":"J7"}
lap-b saw lap-a
lap-b {"kind":"job","job":"A7","trailer":"5318","purpose":"prove","by":"jonas"}
lap-b {"kind":"proof","job":"A7","state":"judged","ok":false,"by":"jonas"}
---
failed-after-sign-off J7 stop aware open
5318 relied no
+++
lap-b {"kind":"check","job":"A7","check":"doors-closed","ok":true}
proof lap-b A7 later
lap-b {"kind":"sign-off","job":"A7","by":"jonas"}
---
failed-after-sign-off J7 stop aware cleared
5318 relied yes
+++
# Nobody can tell whether the judgement came before the sign-off.
fit lap-a J8 5319 C8 T8
lap-b saw lap-a
lap-a {"kind":"sign-off","job":"J8"}
lap-b {"kind":"proof","job":"J8","state":"judged","ok":false,"at":"2026-03-02T06:00:00Z","clock":"person"}
---
failed-after-sign-off J8 stop unaware open
