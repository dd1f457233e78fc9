# The reading lies between two answers: nobody may cut. The office approves it, and then the cut is clear.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"sheet-and-post","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"1 3/4 in","by":"mara"}
---
pilot-hole-left-open J1 stop - open facts=3,4
+++
lap-a {"kind":"check","job":"J1","check":"approval","ok":true,"of":"reading","by":"ida"}
---
pilot-hole-left-open J1 stop - cleared facts=3,4
J1 says put right since by the approval of ida, recorded on lap-a
+++
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"mara"}
---
not cut-without-clearance J1
pilot-hole-left-open J1 stop - cleared facts=3,4
+++
# Approved by whoever read it.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"sheet-and-post","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"approval","ok":true,"of":"reading","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true,"by":"jonas"}
---
cut-without-clearance J2 stop aware open
J2 says not decidable
# That cut does not settle the pilot hole either.
pilot-hole-left-open J2 stop - open
+++
# Approved by whoever cuts then.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"sheet-and-post","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"approval","ok":true,"of":"reading","by":"jonas"}
lap-a {"kind":"check","job":"J3","check":"hole-cut","ok":true,"by":"jonas"}
---
cut-without-clearance J3 stop aware open
+++
# A reading that blocks cannot be approved away.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"sheet-and-post","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J4","check":"first-probe","value":"1 in","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"approval","ok":true,"of":"reading","by":"ida"}
lap-a {"kind":"check","job":"J4","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J4 stop aware open
J4 says blocked
pilot-hole-left-open J4 stop - open
+++
# The office had not seen the reading: approved elsewhere, at the same time.
lap-a {"kind":"job","job":"J5","trailer":"5316","wall":"sheet-and-post","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J5","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J5","check":"pilot-hole","ok":true,"by":"mara"}
lap-b saw lap-a
lap-a {"kind":"check","job":"J5","check":"first-probe","value":"1 3/4 in","by":"mara"}
lap-b {"kind":"check","job":"J5","check":"approval","ok":true,"of":"reading","by":"ida"}
lap-a saw lap-b
lap-a {"kind":"check","job":"J5","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J5 stop aware open
+++
# The approval does not cover what is read after it, and not another wall.
lap-a {"kind":"job","job":"J6","trailer":"5317","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J6","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J6","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J6","check":"first-probe","value":"1/2 in","by":"mara"}
lap-a {"kind":"check","job":"J6","check":"approval","ok":true,"of":"reading","by":"ida"}
lap-a {"kind":"check","job":"J6","check":"first-probe","value":"33/64 in","by":"mara"}
lap-a {"kind":"check","job":"J6","check":"hole-cut","ok":true,"by":"mara"}
lap-a {"kind":"job","job":"J7","trailer":"5318","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J7","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J7","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J7","check":"first-probe","value":"1/2 in","by":"mara"}
lap-a {"kind":"check","job":"J7","check":"approval","ok":true,"of":"reading","by":"ida"}
lap-a {"kind":"job","job":"J7","wall":"sheet-and-post","by":"mara"}
lap-a {"kind":"check","job":"J7","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J6 stop aware open
cut-without-clearance J7 stop aware open
+++
# Too late: the approval of a cut that is done.
lap-a {"kind":"job","job":"J8","trailer":"5319","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J8","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J8","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J8","check":"first-probe","value":"1/2 in","by":"mara"}
lap-a {"kind":"check","job":"J8","check":"hole-cut","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J8","check":"approval","ok":true,"of":"reading","by":"ida"}
---
cut-without-clearance J8 stop aware open
pilot-hole-left-open J8 stop - open
+++
# 9/16 in, with neither thickness nor freight recorded: as good as blocked, so the hole is to be sealed.
lap-a {"kind":"job","job":"J9","trailer":"5320","wall":"sheet-and-post","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J9","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J9","check":"first-probe","value":"9/16 in","by":"mara"}
---
pilot-hole-left-open J9 stop - open
J9 says first-probe is 9/16 in
J9 next seal the pilot hole
+++
# The approval replaces nothing that was never recorded: freight at the opening.
lap-a {"kind":"check","job":"J9","check":"approval","ok":true,"of":"reading","by":"ida"}
lap-a {"kind":"check","job":"J9","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J9 stop aware open
J9 says freight-at-opening was not recorded
+++
# Cut on what its recorder had in view: another laptop's reading, unseen, is no reason against it.
lap-a {"kind":"job","job":"J10","trailer":"5321","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J10","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J10","check":"pilot-hole","ok":true,"by":"mara"}
lap-b saw lap-a
lap-b {"kind":"check","job":"J10","check":"first-probe","value":"1/4 in","by":"jonas"}
lap-a {"kind":"check","job":"J10","check":"first-probe","value":"free","by":"mara"}
lap-a {"kind":"check","job":"J10","check":"hole-cut","ok":true,"by":"mara"}
---
not cut-without-clearance J10
