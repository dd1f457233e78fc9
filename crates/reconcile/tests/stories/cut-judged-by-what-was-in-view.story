# Cut on a reading that is taken back afterwards, with an approval: the cutter had a clear answer in view.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"free","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"mara"}
lap-a {"kind":"withdraw","job":"J1","fact":"#4","why":"another trailer's reading","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"approval","ok":true,"of":"#4","by":"ida"}
---
not cut-without-clearance J1
not pilot-hole-left-open J1
+++
# The other way round: a reading that blocked is taken back after the cut. That makes the cut no better.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"1/4 in","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"free","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true,"by":"mara"}
lap-a {"kind":"withdraw","job":"J2","fact":"#11","why":"misread","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"approval","ok":true,"of":"#11","by":"ida"}
---
cut-without-clearance J2 stop aware open
J2 says blocked
+++
# Taken back and approved before the cut: then it was clear.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"1/4 in","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"free","by":"mara"}
lap-a {"kind":"withdraw","job":"J3","fact":"#19","why":"misread","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"approval","ok":true,"of":"#19","by":"ida"}
lap-a {"kind":"check","job":"J3","check":"hole-cut","ok":true,"by":"mara"}
---
not cut-without-clearance J3
+++
# Without the approval it stays in force.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J4","check":"first-probe","value":"1/4 in","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"first-probe","value":"free","by":"mara"}
lap-a {"kind":"withdraw","job":"J4","fact":"#27","why":"misread","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J4 stop aware open
