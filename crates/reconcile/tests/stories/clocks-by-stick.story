# No network. lap-b's clock is three hours slow. Both laptops had a stick from the depot in the morning and bring one in the evening:
# that measures them to minutes.
the depot is known
clock lap-b -180
depot {"kind":"note","text":"the day begins"}
carry depot lap-a 3
lap-a {"kind":"note","text":"stick read"}
carry depot lap-b 4
lap-b {"kind":"note","text":"stick read"}
wait 60
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 30
lap-b {"kind":"settings","tracker":"T1","state":"live"}
wait 30
lap-a {"kind":"sign-off","job":"J1"}
---
# Until the evening nobody can tell.
signed-before-live J1 ask unaware open
not clock-off lap-a
+++
wait 240
carry lap-a depot 5
carry lap-b depot 5
depot {"kind":"note","text":"sticks read"}
---
signed-before-live J1 stop - cleared
clock-off lap-b note - open
lap-b says The clock of lap-b is at least 2 h 56 min behind the depot's: its entry 1 (2026-03-02 05:09) had seen what the depot wrote later.
not clock-off lap-a
+++
# The next day the settings come live after the sign-off: certain as well.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
wait 30
lap-a {"kind":"sign-off","job":"J2"}
wait 30
lap-b {"kind":"settings","tracker":"T2","state":"live"}
wait 240
carry depot lap-a 5
lap-a {"kind":"note","text":"stick read again"}
carry depot lap-b 5
lap-b {"kind":"note","text":"stick read again"}
carry lap-a depot 5
carry lap-b depot 5
depot {"kind":"note","text":"sticks read again"}
---
signed-before-live J2 stop unaware open
+++
# Set forward in between by more than the sticks leave open: the two visits contradict each other, and nobody can tell.
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
wait 30
clock lap-b 0
lap-b {"kind":"settings","tracker":"T3","state":"live"}
wait 30
lap-a {"kind":"sign-off","job":"J3"}
wait 60
carry lap-a depot 5
carry lap-b depot 5
depot {"kind":"note","text":"sticks read in the evening"}
---
signed-before-live J3 ask unaware open
