# Signed off, then the clock goes back by an hour and a half, then the settings come live. The clock shows them before the
# sign-off; the log knows better.
lap-b {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 30
lap-b {"kind":"sign-off","job":"J1"}
clock lap-b -90
lap-b {"kind":"settings","tracker":"T1","state":"live"}
---
signed-before-live J1 stop aware open facts=1,2
J1 says lap-b itself had recorded the sign-off of J1 before.
changed-after-sign-off J1 ask aware open facts=2,3
+++
# Live in good time, then the clock goes back and the sign-off shows an earlier time: in order.
lap-b {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-b {"kind":"settings","tracker":"T2","state":"live"}
clock lap-b -400
lap-b {"kind":"sign-off","job":"J2"}
---
not signed-before-live J2
not changed-after-sign-off J2
+++
# Two readings by the depot tell that lap-c was set back by an hour between them, not when. lap-a's link and sign-off lie
# between the two times that lap-c's clock may have meant: nobody can tell.
reading lap-a depot 200
reading lap-c depot 200
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
wait 100
lap-c {"kind":"settings","tracker":"T3","state":"live"}
wait 10
lap-a {"kind":"sign-off","job":"J3"}
wait 60
clock lap-c -60
reading lap-c depot 200
---
signed-before-live J3 ask unaware open
+++
# Before the first reading there was only one setting of the clock, and after the last one as well.
wait 200
lap-a {"kind":"link","job":"J4","camera":"C4","tracker":"T4"}
wait 5
lap-c {"kind":"settings","tracker":"T4","state":"live"}
wait 5
lap-a {"kind":"sign-off","job":"J4"}
---
signed-before-live J4 stop - cleared
+++
# Times that a person typed off that clock compare no more, once the depot has seen that it was set between them: the sign-off
# was recorded first, and nothing certain speaks against that.
lap-c {"kind":"link","job":"J5","camera":"C5","tracker":"T5","at":"2026-03-02T08:10:00Z"}
lap-c {"kind":"sign-off","job":"J5","at":"2026-03-02T10:20:00Z"}
lap-c {"kind":"settings","tracker":"T5","state":"live","at":"2026-03-02T10:10:00Z"}
---
signed-before-live J5 stop aware open
+++
# The same on a clock of which nothing such is known: written down late, it is said to have happened before.
lap-a {"kind":"link","job":"J6","camera":"C6","tracker":"T6","at":"2026-03-02T08:10:00Z"}
lap-a {"kind":"sign-off","job":"J6","at":"2026-03-02T10:20:00Z"}
lap-a {"kind":"settings","tracker":"T6","state":"live","at":"2026-03-02T10:10:00Z"}
---
signed-before-live J6 ask aware open
