# In stock for both, or for nobody, or a job without a fleet, or a link of another job to another tracker: no matter.
depot {"kind":"stock","camera":"C1","fleet":"Larkspur Freight"}
depot {"kind":"stock","camera":"C1","fleet":"Harrow Haulage"}
depot {"kind":"stock","tracker":"T9","fleet":"Harrow Haulage"}
lap-a {"kind":"job","job":"J1","fleet":"Larkspur Freight","tracker":"T1","camera":"C1"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-b {"kind":"link","job":"J9","camera":"C1","tracker":"T9"}
lap-a {"kind":"link","job":"J2","camera":"C7","tracker":"T9"}
---
not wrong-fleet
+++
# The job's fleet was a slip, and corrected.
lap-b {"kind":"job","job":"J9","fleet":"Quill Transport"}
lap-b saw depot
lap-b {"kind":"job","job":"J9","fleet":"Harrow Haulage"}
---
wrong-fleet J9 stop - cleared facts=1,2,3,6,8,9
not wrong-fleet J1
