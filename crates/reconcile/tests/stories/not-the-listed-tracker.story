# The list gives the trailer tracker T1; linked is T9.
depot {"kind":"stock","trailer":"LF 5312","tracker":"T1","fleet":"Larkspur Freight"}
lap-a {"kind":"job","job":"J1","trailer":"lf5312","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T9","by":"mara"}
---
not-the-listed-tracker J1 ask unaware open jobs=J1 facts=1,3
J1 next label of the tracker
+++
# Near: the listed one in another spelling; a trailer that no list has.
lap-a saw depot
lap-a {"kind":"job","job":"J2","trailer":"5313","fleet":"Larkspur Freight"}
depot {"kind":"stock","trailer":"5313","tracker":"T-2","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"t2"}
lap-a {"kind":"job","job":"J3","trailer":"5314","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
---
not not-the-listed-tracker J2
not not-the-listed-tracker J3
+++
# The list is put right by somebody who had it in view.
depot saw lap-a
depot {"kind":"stock","trailer":"LF 5312","tracker":"T9","fleet":"Larkspur Freight"}
---
not-the-listed-tracker J1 ask unaware cleared
+++
# With the list at hand.
lap-a saw depot
lap-a {"kind":"job","job":"J4","trailer":"LF 5312","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J4","camera":"C4","tracker":"T8"}
---
not-the-listed-tracker J4 ask aware open
