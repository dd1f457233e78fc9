# Written into the job, then measured as a check: the later one counts, also for the clearance.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"sheet-and-post","load":"loaded","thickness":"7/8 in"}
lap-a {"kind":"check","job":"J1","check":"thickness","value":"1/2 in"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true}
---
not cut-without-clearance J1
+++
# The other way round: measured too thick after it was written down as thin.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"sheet-and-post","load":"loaded","thickness":"1/2 in"}
lap-a {"kind":"check","job":"J2","check":"thickness","value":"7/8 in"}
lap-a {"kind":"check","job":"J2","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J2","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true}
---
cut-without-clearance J2 stop aware open
J2 says the wall is 7/8 in thick
+++
# Two of them at the same time, one too thick: nobody knows, and a free probe does not decide between them.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"sheet-and-post","load":"loaded"}
sync lap-a lap-b
lap-a {"kind":"job","job":"J3","thickness":"1/2 in"}
lap-b {"kind":"check","job":"J3","check":"thickness","value":"7/8 in"}
sync lap-a lap-b
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J3","check":"hole-cut","ok":true}
---
cut-without-clearance J3 stop aware open
J3 says not decidable: thickness is 1/2 in and 7/8 in, recorded beside each other
+++
# What cannot be read is no dead end on a loaded trailer: the second probe that ran free has found the thickness.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"sheet-and-post","load":"loaded","thickness":"5"}
lap-a {"kind":"check","job":"J4","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J4","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J4","check":"first-probe","value":"3/8 in"}
lap-a {"kind":"check","job":"J4","check":"pilot-depth","value":"5/8 in"}
lap-a {"kind":"check","job":"J4","check":"second-probe","value":"free"}
lap-a {"kind":"check","job":"J4","check":"second-hole-entered","ok":true}
lap-a {"kind":"check","job":"J4","check":"hole-cut","ok":true}
---
not cut-without-clearance J4
not pilot-hole-left-open J4
