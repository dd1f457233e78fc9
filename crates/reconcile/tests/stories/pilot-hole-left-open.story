# The wall is blocked after a pilot hole.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true,"by":"mara"}
---
not pilot-hole-left-open
+++
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"1/4 in","by":"mara"}
---
pilot-hole-left-open J1 stop - open jobs=J1 facts=3,4
+++
lap-a {"kind":"ruling","finding":"@pilot-hole-left-open:job:J1","ruling":"accepted","why":"customer seals it"}
---
pilot-hole-left-open J1 stop - settled
+++
# Stood down without sealing: a new fact joins.
lap-a {"kind":"stand-down","job":"J1","why":"freight close"}
---
pilot-hole-left-open J1 stop aware open facts=3,4,6
+++
# Sealed by somebody who had not seen the probe: before or after it, nobody can tell, but after the hole he knew of.
lap-b saw lap-a:3
lap-b {"kind":"check","job":"J1","check":"pilot-sealed","ok":false}
lap-b {"kind":"check","job":"J1","check":"pilot-sealed","ok":true,"by":"jonas"}
---
pilot-hole-left-open J1 stop aware open facts=4,6
+++
lap-a {"kind":"check","job":"J1","check":"pilot-sealed","ok":true,"by":"mara"}
---
pilot-hole-left-open J1 stop aware cleared facts=3,4,6
+++
# No hole, no seal.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":false}
lap-a {"kind":"stand-down","job":"J2","why":"drill broke before it touched"}
---
not pilot-hole-left-open J2
+++
# Readings that decide nothing are treated as a blocked wall.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"1/2 in"}
---
pilot-hole-left-open J3 stop - open
J3 says the readings do not clear the wall
