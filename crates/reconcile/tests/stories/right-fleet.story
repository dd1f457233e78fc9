# In stock for this fleet after it was another's, or for nobody, or a job without a fleet: no matter.
depot {"kind":"stock","camera":"C1","fleet":"Harrow Haulage"}
depot {"kind":"stock","camera":"C1","fleet":"Larkspur Freight"}
depot {"kind":"stock","tracker":"T9","fleet":"Harrow Haulage"}
lap-a {"kind":"job","job":"J1","fleet":"Larkspur Freight","tracker":"T1","camera":"C1"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-b {"kind":"link","job":"J9","camera":"C8","tracker":"T9"}
lap-a {"kind":"link","job":"J2","camera":"C7","tracker":"T9"}
---
not wrong-fleet
+++
# The job's fleet was a slip, and corrected.
lap-b {"kind":"job","job":"J9","fleet":"Quill Transport"}
lap-b saw depot
lap-b {"kind":"job","job":"J9","fleet":"Harrow Haulage"}
---
wrong-fleet J9 stop unaware cleared facts=3,6,8
not wrong-fleet J1
+++
# Taken off before the list said whose it is; and a fleet that was set right before the link: nothing ever clashed.
lap-c {"kind":"job","job":"J3","fleet":"Larkspur Freight"}
lap-c {"kind":"link","job":"J3","camera":"D5","tracker":"V5"}
lap-c {"kind":"unlink","camera":"D5","tracker":"V5"}
lap-c {"kind":"stock","camera":"D5","fleet":"Harrow Haulage"}
lap-c {"kind":"stock","camera":"E6","fleet":"Harrow Haulage"}
lap-c {"kind":"job","job":"J4","fleet":"Larkspur Freight"}
lap-c {"kind":"job","job":"J4","fleet":"Harrow Haulage"}
lap-c {"kind":"link","job":"J4","camera":"E6","tracker":"W6"}
---
not wrong-fleet J3
not wrong-fleet J4
