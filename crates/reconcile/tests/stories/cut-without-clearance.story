# A loaded plate trailer is cut before anybody probed.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
---
not cut-without-clearance
+++
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J1 stop - open jobs=J1 facts=1,2,3
J1 says cut by mara on lap-a (2026-03-02 08:03) on a loaded trailer
+++
# A probe afterwards helps nobody.
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"free"}
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@cut-without-clearance:job:J1","ruling":"accepted","why":"looked behind: no freight there","by":"ines"}
---
cut-without-clearance J1 stop - settled facts=1,2,3
+++
# The same cut is recorded by a second laptop that knew even less.
lap-c saw lap-a:1
lap-c {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"tomas"}
---
cut-without-clearance J1 stop - open facts=1,2,3,6
+++
# It was empty after all.
lap-a saw lap-c
lap-a {"kind":"job","job":"J1","load":"empty","by":"mara"}
---
cut-without-clearance J1 stop - cleared facts=1,2,3,6,7
