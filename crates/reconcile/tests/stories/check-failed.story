# Seven rivets instead of eight.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty"}
checks lap-a J1 plate empty but rivet-count
lap-a {"kind":"check","job":"J1","check":"rivet-count","value":7,"by":"mara"}
---
not check-failed
+++
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
check-failed J1 stop aware open jobs=J1
J1 says rivet-count is 7
J1 next Put it right on the trailer
not check-missing
+++
# Another latest value beside it, good, does not help: any failing one counts.
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@check-failed:job:J1","ruling":"accepted","why":"eighth hole was not possible"}
---
check-failed J1 stop aware settled
+++
lap-a {"kind":"check","job":"J1","check":"lens-untouched","ok":false}
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
check-failed J1 stop aware open
J1 says lens-untouched was recorded as not ok
+++
lap-a {"kind":"check","job":"J1","check":"lens-untouched","ok":true,"note":"looked again"}
lap-a {"kind":"check","job":"J1","check":"rivet-count","value":8}
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"third time"}
---
check-failed J1 stop aware cleared
