# A plate wall is blocked; then it is called sheet-and-post, and cut without probing again.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"1/4 in"}
lap-a {"kind":"job","job":"J1","wall":"sheet-and-post"}
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true}
---
cut-without-clearance J1 stop aware open
J1 says a reading belongs to the wall and load under which it was taken
+++
# The same, and everything was probed again.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J2","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"1/4 in"}
lap-a {"kind":"job","job":"J2","wall":"sheet-and-post"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true}
---
not cut-without-clearance J2
+++
# It is called plate again: the reading of that wall blocks it, whatever is probed.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"1/4 in"}
lap-a {"kind":"job","job":"J3","wall":"sheet-and-post"}
lap-a {"kind":"job","job":"J3","wall":"plate"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J3","check":"hole-cut","ok":true}
---
cut-without-clearance J3 stop aware open
J3 says blocked: first-probe is 1/4 in
+++
# Blocked, then called empty; nobody looked inside before the cut, and looking afterwards is too late.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","load":"loaded","thickness":"1/2 in"}
lap-a {"kind":"check","job":"J4","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J4","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J4","check":"first-probe","value":"1/4 in"}
lap-a {"kind":"job","job":"J4","load":"empty"}
lap-a {"kind":"check","job":"J4","check":"hole-cut","ok":true}
lap-a {"kind":"check","job":"J4","check":"seen-empty","ok":true}
---
cut-without-clearance J4 stop aware open
J4 says the trailer is called empty now
+++
# The same, and somebody looked inside first; so too where nobody set the load.
lap-a {"kind":"job","job":"J5","trailer":"5316","wall":"plate","load":"loaded","thickness":"1/2 in"}
lap-a {"kind":"job","job":"J6","trailer":"5317","wall":"plate","load":"loaded","thickness":"1/2 in"}
lap-a {"kind":"check","job":"J5","check":"freight-at-opening","value":"yes"}
lap-a {"kind":"check","job":"J6","check":"freight-at-opening","value":"yes"}
lap-a {"kind":"job","job":"J5","load":"empty"}
lap-a {"kind":"check","job":"J5","check":"seen-empty","ok":true}
lap-a {"kind":"check","job":"J6","check":"seen-empty","ok":true}
lap-a {"kind":"check","job":"J5","check":"hole-cut","ok":true}
lap-a {"kind":"check","job":"J6","check":"hole-cut","ok":true}
---
not cut-without-clearance J5
not cut-without-clearance J6
+++
# Loaded again after that: what was probed before says nothing of the new freight. And a probe after the look inside counts.
lap-a {"kind":"job","job":"J7","trailer":"5318","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J7","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J7","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J7","check":"first-probe","value":"free"}
lap-a {"kind":"job","job":"J7","load":"empty"}
lap-a {"kind":"job","job":"J7","load":"loaded"}
lap-a {"kind":"check","job":"J7","check":"hole-cut","ok":true}
lap-a {"kind":"job","job":"J8","trailer":"5319","wall":"plate","load":"loaded","thickness":"1/2 in"}
lap-a {"kind":"check","job":"J8","check":"seen-empty","ok":true}
lap-a {"kind":"check","job":"J8","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J8","check":"first-probe","value":"1/4 in"}
lap-a {"kind":"check","job":"J8","check":"hole-cut","ok":true}
---
cut-without-clearance J7 stop aware open
J7 says freight-at-opening was not recorded
cut-without-clearance J8 stop aware open
J8 says blocked: first-probe is 1/4 in
+++
# Two laptops write different walls without knowing of each other; what blocked goes on blocking while they differ.
lap-a {"kind":"job","job":"J9","trailer":"5320","load":"loaded"}
sync lap-a lap-b
lap-a {"kind":"job","job":"J9","wall":"plate"}
lap-a {"kind":"check","job":"J9","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J9","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J9","check":"first-probe","value":"1/4 in"}
lap-b {"kind":"job","job":"J9","wall":"sheet-and-post"}
sync lap-a lap-b
---
pilot-hole-left-open J9 stop - open
J9 says blocked: first-probe is 1/4 in
