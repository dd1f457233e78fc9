# A camera of another customer.
depot {"kind":"stock","camera":"C1","fleet":"Larkspur Freight"}
depot {"kind":"stock","camera":"C9","fleet":"Harrow Haulage"}
depot {"kind":"stock","tracker":"T1","fleet":"Larkspur Freight"}
lap-a {"kind":"job","job":"J1","trailer":"5312","fleet":"Larkspur Freight","tracker":"T1"}
lap-a {"kind":"link","job":"J1","camera":"C9","tracker":"T1","by":"mara"}
---
wrong-fleet J1 stop unaware open jobs=J1 facts=2,4,5
J1 says camera C9, linked by mara on lap-a (2026-03-02 08:05), is in stock for Harrow Haulage
+++
depot saw lap-a
depot {"kind":"ruling","finding":"@wrong-fleet:job:J1","ruling":"accepted","why":"lent","by":"ines"}
---
wrong-fleet J1 stop unaware settled
+++
# It is on the list of a third fleet too.
lap-b {"kind":"stock","camera":"C9","fleet":"Quill Transport"}
---
wrong-fleet J1 stop unaware open facts=2,4,5,7
+++
# Replaced.
lap-a {"kind":"unlink","job":"J1","camera":"C9","tracker":"T1","why":"not ours"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
---
wrong-fleet J1 stop unaware cleared facts=2,4,5
