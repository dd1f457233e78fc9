# A link was a slip: withdrawn by the same person it counts no more.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","by":"mara"}
lap-a {"kind":"link","job":"J1","camera":"C9","tracker":"T1","by":"mara"}
---
tracker-with-two-cameras T1 stop aware open
+++
lap-a {"kind":"withdraw","fact":"#3","why":"typed the wrong one","by":"mara"}
---
tracker-with-two-cameras T1 stop aware cleared
not reading-withdrawn
+++
# The person on another laptop may; somebody else on another may not; the depot may.
lap-a {"kind":"link","job":"J1","camera":"C8","tracker":"T1","by":"mara"}
lap-b saw lap-a
lap-b {"kind":"withdraw","fact":"#5","why":"looks wrong","by":"jonas"}
---
tracker-with-two-cameras T1 stop aware open
+++
lap-b {"kind":"withdraw","fact":"#5","why":"it was me, says mara","by":"Mara"}
---
tracker-with-two-cameras T1 stop aware cleared
+++
# Without having seen the fact nobody takes it back.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2","by":"mara"}
lap-a {"kind":"link","job":"J2","camera":"C22","tracker":"T2","by":"mara"}
lap-c {"kind":"withdraw","fact":"#9","why":"unseen","by":"mara"}
---
tracker-with-two-cameras T2 stop aware open
+++
# A sign-off rests on a link that is withdrawn afterwards: it is judged by what counts now.
lap-a {"kind":"job","job":"J3","trailer":"5313"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-a {"kind":"sign-off","job":"J3"}
---
not signed-without-link J3
+++
lap-a {"kind":"withdraw","fact":"#12","why":"it was the other trailer"}
---
signed-without-link J3 stop - open
+++
# A passing reading that nothing hangs on is withdrawn and told.
lap-a {"kind":"check","job":"J4","check":"rivet-count","value":8,"by":"mara"}
lap-a {"kind":"withdraw","fact":"#15","why":"of the next trailer","by":"mara"}
---
reading-withdrawn J4 note - open
J4 says rivet-count of mara on lap-a
J4 says of the next trailer
+++
# What opened a job is not taken back, whatever a log holds; a trailer that was corrected is.
lap-d {"kind":"job","job":"J5","trailer":"5315","by":"mara"}
lap-e {"kind":"job","job":"J6","trailer":"5315","by":"jonas"}
lap-d {"kind":"withdraw","fact":"#17","why":"not here","by":"mara"}
---
trailer-opened-twice 5315 ask unaware open jobs=J5,J6
+++
lap-d {"kind":"job","job":"J7","trailer":"5316","by":"mara"}
lap-d {"kind":"job","job":"J8","trailer":"5317","by":"mara"}
lap-d {"kind":"job","job":"J8","trailer":"5316","by":"mara","note":"corrected"}
---
trailer-opened-twice 5316 ask aware open jobs=J7,J8
+++
lap-d {"kind":"withdraw","fact":"#22","why":"it was right","by":"mara"}
---
trailer-opened-twice 5316 ask aware cleared
+++
# The depot may take back what anybody recorded; a laptop may not.
lap-d {"kind":"link","job":"J7","camera":"C7","tracker":"T7","by":"mara"}
lap-d {"kind":"link","job":"J7","camera":"C77","tracker":"T7","by":"mara"}
the depot is known
depot saw lap-d
lap-e saw lap-d
lap-e {"kind":"withdraw","fact":"#25","why":"no such camera","by":"jonas"}
---
tracker-with-two-cameras T7 stop aware open
+++
depot {"kind":"withdraw","fact":"#25","why":"no such camera","by":"ida"}
---
tracker-with-two-cameras T7 stop aware cleared
