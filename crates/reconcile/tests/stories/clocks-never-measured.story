# lap-c never met the depot, nor anybody who did: within a day either way nobody can tell.
the depot is known
reading lap-a depot 200
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 60
lap-c {"kind":"settings","tracker":"T1","state":"live"}
wait 60
lap-a {"kind":"sign-off","job":"J1"}
---
signed-before-live J1 ask unaware open facts=1,3
not clock-off
+++
# Two days apart is more than any clock may be off that nobody has measured.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
wait 2885
lap-c {"kind":"settings","tracker":"T2","state":"live"}
wait 2885
lap-a {"kind":"sign-off","job":"J2"}
---
signed-before-live J2 stop - cleared
+++
# A meeting with lap-a in the yard is enough: the way to the depot leads through it.
lap-c {"kind":"note","text":"row 7"}
reading lap-a lap-c 1000
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
wait 10
lap-c {"kind":"settings","tracker":"T3","state":"live"}
wait 10
lap-a {"kind":"sign-off","job":"J3"}
---
signed-before-live J3 stop - cleared
signed-before-live J1 stop - cleared
+++
# What was seen needs no clock at all, however wrong it is and whoever measured it.
clock lap-c -99999
lap-c {"kind":"link","job":"J4","camera":"C4","tracker":"T4"}
clock lap-c +99999
lap-c {"kind":"settings","tracker":"T4","state":"live"}
clock lap-c -500
lap-c {"kind":"sign-off","job":"J4"}
---
not signed-before-live J4
