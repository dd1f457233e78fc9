# Two contacts find lap-b's clock right. In between it was an hour slow for a while: 08:47, then 08:04 in its own log. lap-a signs in that
# while; lap-b records the settings live after that, and its clock shows them before.
reading lap-a depot 200
reading lap-b depot 200
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 45
lap-b {"kind":"note","text":"the clock is right"}
wait 10
lap-a {"kind":"sign-off","job":"J1"}
clock lap-b -60
wait 5
lap-b {"kind":"settings","tracker":"T1","state":"live"}
wait 30
clock lap-b 0
wait 60
reading lap-b depot 200
---
signed-before-live J1 ask unaware open
clock-off lap-b note - cleared
lap-b says The clock of lap-b was set back by 43 min 0 s or more before entry 3
+++
# The mirror image: an hour fast for a while, and right again before the next contact. Live before the sign-off, and the clock shows
# it long after: no stop on a right job.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
clock lap-b +60
wait 5
lap-b {"kind":"settings","tracker":"T2","state":"live"}
wait 5
lap-a {"kind":"sign-off","job":"J2"}
clock lap-b 0
wait 5
lap-b {"kind":"note","text":"right again"}
wait 60
reading lap-b depot 200
---
signed-before-live J2 ask unaware open
+++
# A clock that only ran says what it says: the contacts stay what they were for later facts.
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
wait 5
lap-b {"kind":"settings","tracker":"T3","state":"live"}
wait 5
lap-a {"kind":"sign-off","job":"J3"}
wait 60
reading lap-b depot 200
---
signed-before-live J3 stop - cleared
