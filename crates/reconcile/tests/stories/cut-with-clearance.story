# Probed free, then cut; the diameter measured elsewhere, later, is no second cut.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true}
lap-b saw lap-a:1
lap-b {"kind":"check","job":"J1","check":"hole-diameter","value":"1 3/4 in"}
---
cut-without-clearance J1 stop - cleared
not pilot-hole-left-open
+++
# An empty trailer may be cut.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"sheet-and-post","load":"empty"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true}
---
cut-without-clearance J1 stop - cleared
+++
# Too close: the reading is less than 1/2 in, and the hole was measured all the same.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"1/4 in"}
lap-a {"kind":"check","job":"J3","check":"hole-diameter","value":"1 3/4 in"}
---
cut-without-clearance J3 stop aware open facts=9,10,11,12,13
J3 says the clearance was blocked
# A cut without clearance settles nothing about the pilot hole.
pilot-hole-left-open J3 stop - open facts=11,12
