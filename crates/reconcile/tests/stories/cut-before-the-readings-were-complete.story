# A probe is still to be made.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J1 stop aware open facts=1,2,3,4
J1 says when the clearance was not there yet: first-probe was still to be recorded; lap-a itself had recorded the check pilot-hole of J1
J1 next Look behind the wall for damaged freight
+++
# The probe was made, and decides nothing.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"1/2 in"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J2 stop aware open facts=5,6,7,8,9
J2 says when the clearance was not decidable: first-probe is 1/2 in
