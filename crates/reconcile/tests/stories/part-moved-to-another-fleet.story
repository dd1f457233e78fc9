# A part that was right moves to another customer's stock later.
depot {"kind":"stock","camera":"C1","fleet":"Larkspur Freight"}
depot {"kind":"stock","tracker":"T1","fleet":"larkspur  freight"}
lap-a saw depot
lap-a {"kind":"job","job":"J1","trailer":"5312","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
---
not wrong-fleet
+++
depot {"kind":"stock","camera":"C1","fleet":"Harrow Haulage"}
---
wrong-fleet J1 stop unaware open
J1 says Harrow Haulage
+++
# The entry was wrong and is put right by somebody who had the link in view.
depot saw lap-a
depot {"kind":"stock","camera":"C1","fleet":"Larkspur Freight","note":"put right"}
---
wrong-fleet J1 stop unaware cleared
+++
# A job of the wrong fleet is put right.
lap-a {"kind":"job","job":"J2","trailer":"5313","fleet":"Harrow Haulage"}
depot {"kind":"stock","camera":"C2","fleet":"Larkspur Freight"}
lap-a saw depot
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
---
wrong-fleet J2 stop aware open
+++
lap-a {"kind":"job","job":"J2","fleet":"Larkspur Freight"}
---
wrong-fleet J2 stop aware cleared
+++
# Two lists that had not seen each other, one of them the job's fleet: somebody must look.
lap-a {"kind":"job","job":"J3","trailer":"5314","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-b {"kind":"stock","camera":"C3","fleet":"Larkspur Freight"}
lap-c {"kind":"stock","camera":"C3","fleet":"Harrow Haulage"}
---
wrong-fleet J3 ask unaware open
