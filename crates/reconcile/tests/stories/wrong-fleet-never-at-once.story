# Link, stock entry and fleet never held at the same time: each of these was right before the next one began.
# The job was corrected to the fleet that the part is then listed for.
lap-a {"kind":"job","job":"J1","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"job","job":"J1","fleet":"Harrow Haulage"}
lap-a {"kind":"stock","camera":"C1","fleet":"Harrow Haulage"}
---
not wrong-fleet
+++
# The part was taken off before the job had a fleet.
lap-a {"kind":"stock","camera":"C2","fleet":"Harrow Haulage"}
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"unlink","camera":"C2","tracker":"T2"}
lap-a {"kind":"job","job":"J2","fleet":"Larkspur Freight"}
---
not wrong-fleet
+++
# The list was corrected before the part was linked.
lap-b {"kind":"job","job":"J3","fleet":"Larkspur Freight"}
depot {"kind":"stock","camera":"C3","fleet":"Harrow Haulage"}
depot {"kind":"stock","camera":"C3","fleet":"Larkspur Freight"}
lap-b saw depot
lap-b {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
---
not wrong-fleet
+++
# The list was corrected before the job had a fleet.
lap-c {"kind":"link","job":"J4","camera":"C4","tracker":"T4"}
depot {"kind":"stock","camera":"C4","fleet":"Harrow Haulage"}
depot {"kind":"stock","camera":"C4","fleet":"Larkspur Freight"}
lap-c saw depot
lap-c {"kind":"job","job":"J4","fleet":"Larkspur Freight"}
---
not wrong-fleet
+++
# Corrected afterwards: they did hold at the same time.
lap-c {"kind":"link","job":"J5","camera":"C5","tracker":"T5"}
lap-c {"kind":"job","job":"J5","fleet":"Larkspur Freight"}
lap-c {"kind":"stock","camera":"C5","fleet":"Harrow Haulage"}
lap-c {"kind":"stock","camera":"C5","fleet":"Larkspur Freight"}
---
wrong-fleet J5 stop aware cleared facts=17,18,19
