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
