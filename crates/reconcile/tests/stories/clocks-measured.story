# lap-b's clock is seven minutes fast. By bare clocks the settings came live after the sign-off; by corrected time before it.
clock lap-b +7
reading lap-a depot 200
reading lap-b depot 200
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 4
lap-b {"kind":"settings","tracker":"T1","state":"live"}
wait 2
lap-a {"kind":"sign-off","job":"J1"}
---
signed-before-live J1 stop - cleared
clock-off lap-b note - open
lap-b says The clock of lap-b is at least 6 min 59 s ahead of the depot's.
not clock-off lap-a
+++
# Three hours slow: the clock shows them live long before the sign-off, and they were not.
clock lap-b -180
reading lap-b depot 200
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"sign-off","job":"J2"}
wait 4
lap-b {"kind":"settings","tracker":"T2","state":"live"}
---
signed-before-live J2 stop unaware open facts=4,5
J2 says lap-a had not seen the settings of T2 as live, nor lap-b the sign-off of J2
lap-b says The clock of lap-b is at least 2 h 59 min behind the depot's.
+++
# Eleven years slow, then nine years fast: a date is only a big number of minutes.
clock lap-b -5785920
reading lap-b depot 200
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
wait 4
lap-b {"kind":"settings","tracker":"T3","state":"live"}
wait 4
lap-a {"kind":"sign-off","job":"J3"}
clock lap-b +4733280
reading lap-b depot 200
lap-a {"kind":"link","job":"J4","camera":"C4","tracker":"T4"}
lap-a {"kind":"sign-off","job":"J4"}
wait 4
lap-b {"kind":"settings","tracker":"T4","state":"live"}
---
signed-before-live J3 stop - cleared
signed-before-live J4 stop unaware open facts=10,11
lap-b says at least 4017 days 23 h behind
+++
# Set right and read again: nothing to do about the clock any more.
clock lap-b 0
reading lap-b depot 200
---
clock-off lap-b note - cleared
lap-b says behind the depot's; it has been set since.
+++
# A reading over a way of ten minutes says nothing about a clock that is four minutes off.
clock lap-c +4
reading lap-c depot 600000
---
not clock-off lap-c
+++
# A good one does, whoever took it. The poor one afterwards takes nothing back.
reading depot lap-c 200
reading lap-c depot 600000
---
clock-off lap-c note - open
lap-c says The clock of lap-c is at least 3 min 59 s ahead of the depot's.
+++
# Exactly the two minutes that the work standard allows: not certainly more.
clock lap-a +2
reading lap-a depot 200
---
not clock-off lap-a
+++
# The depot corrects its own view with a ruling that had seen the reading; the next reading opens it again.
depot saw lap-c
depot {"kind":"ruling","finding":"@clock-off:device:lap-c","ruling":"accepted","why":"battery is dead"}
---
clock-off lap-c note - settled
+++
clock lap-c +5
reading lap-c depot 200
---
clock-off lap-c note - open
lap-c says at least 4 min 59 s ahead
