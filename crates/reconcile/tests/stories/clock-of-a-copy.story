# lap-a's disk was copied; the copy has the same key and goes on in a log of its own, on a machine whose clock is ten minutes slow. The
# original signs off at 08:26, the copy records the settings live at 08:32, and its clock shows 08:22: one clock would put it before.
the depot is known
lap-a {"kind":"note","text":"before the copy"}
clone lap-a2 lap-a 1
clock lap-a2 -10
wait 3
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
wait 20
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
wait 5
lap-a2 {"kind":"settings","tracker":"T1","state":"live","by":"jonas"}
---
# As long as nobody knows of the copy, both logs are one device's.
signed-before-live J1 stop - cleared
+++
depot saw lap-a
depot saw lap-a2
depot {"kind":"note","text":"the depot noticed"}
copy lap-a 2 depot
---
signed-before-live J1 ask unaware open
log-forked lap-a stop - open jobs=J1
lap-a says Since then they recorded on job J1.
+++
# What one of them had recorded before the copy was made, and what another device records, is compared as ever.
lap-b {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-b {"kind":"settings","tracker":"T2","state":"live","at":"2026-03-02T12:00:00Z"}
lap-b {"kind":"sign-off","job":"J2","at":"2026-03-02T12:01:00Z"}
---
not signed-before-live J2
