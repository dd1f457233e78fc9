# A loaded plate trailer is cut before anybody probed.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
---
not cut-without-clearance
+++
lap-a {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"mara"}
---
cut-without-clearance J1 stop aware open jobs=J1 facts=1,2,3
J1 says cut by mara on lap-a (2026-03-02 08:03) on a loaded trailer
+++
# A probe afterwards helps nobody.
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"free"}
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@cut-without-clearance:job:J1","ruling":"accepted","why":"looked behind: no freight there","by":"ines"}
---
cut-without-clearance J1 stop aware settled facts=1,2,3
+++
# The same cut is recorded by a second laptop that knew even less.
lap-c saw lap-a:1
lap-c {"kind":"check","job":"J1","check":"hole-cut","ok":true,"by":"tomas"}
---
cut-without-clearance J1 stop aware open facts=1,2,3,6
+++
# It is empty now: that does not unload it for the day of the cut.
lap-a saw lap-c
lap-a {"kind":"job","job":"J1","load":"empty","by":"mara"}
---
cut-without-clearance J1 stop aware open facts=1,2,3,6
+++
# Nobody had written down that it was loaded; it comes to light afterwards.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate"}
lap-a {"kind":"check","job":"J2","check":"hole-cut","ok":true}
---
not cut-without-clearance J2
+++
lap-a {"kind":"job","job":"J2","load":"loaded"}
---
cut-without-clearance J2 stop - open facts=9,10
J2 says load was not recorded
+++
# It stands as empty now: whoever recorded it as loaded was wrong.
lap-a {"kind":"job","job":"J2","load":"empty","by":"mara"}
---
cut-without-clearance J2 stop - cleared facts=9,10
J2 says the trailer was empty after all, says mara on lap-a
+++
# Two people looked for freight at the same time; one saw some. Whoever cut had seen both.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"sheet-and-post","load":"loaded","thickness":"1/2 in"}
sync lap-a lap-b
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no"}
lap-b {"kind":"check","job":"J3","check":"freight-at-opening","value":"yes"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"free"}
sync lap-a lap-b
lap-a {"kind":"check","job":"J3","check":"hole-cut","ok":true}
lap-b {"kind":"check","job":"J3","check":"hole-diameter","value":"1 3/4 in"}
---
cut-without-clearance J3 stop aware open facts=12,13,14,15,16,17
J3 says freight stands at the opening
+++
# Freight is seen at the opening of a plate wall; a probe that runs free afterwards does not take that back.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J4","check":"freight-at-opening","value":"yes"}
lap-a {"kind":"check","job":"J4","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J4","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J4","check":"hole-cut","ok":true}
---
cut-without-clearance J4 stop aware open
J4 says freight stands at the opening
+++
# Nothing can be seen from inside: the probe decides.
lap-a {"kind":"job","job":"J5","trailer":"5316","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J5","check":"freight-at-opening","value":"cannot-be-seen"}
lap-a {"kind":"check","job":"J5","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J5","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J5","check":"hole-cut","ok":true}
---
not cut-without-clearance J5
+++
# A second probe misses the hole in the liner, the next one runs free; nobody says that it entered that hole.
lap-a {"kind":"job","job":"J6","trailer":"5317","wall":"sheet-and-post","load":"loaded"}
lap-a {"kind":"check","job":"J6","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J6","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J6","check":"first-probe","value":"3/8 in"}
lap-a {"kind":"check","job":"J6","check":"pilot-depth","value":"5/8 in"}
lap-a {"kind":"check","job":"J6","check":"second-probe","value":"1/2 in"}
lap-a {"kind":"check","job":"J6","check":"second-probe","value":"free"}
lap-a {"kind":"check","job":"J6","check":"hole-cut","ok":true}
---
cut-without-clearance J6 stop aware open
J6 says second-hole-entered was still to be recorded
+++
# The same, and it entered: the wall is clear, and nobody needs to have measured it.
lap-a {"kind":"job","job":"J7","trailer":"5318","wall":"sheet-and-post","load":"loaded"}
lap-a {"kind":"check","job":"J7","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J7","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J7","check":"first-probe","value":"3/8 in"}
lap-a {"kind":"check","job":"J7","check":"pilot-depth","value":"5/8 in"}
lap-a {"kind":"check","job":"J7","check":"second-probe","value":"1/2 in"}
lap-a {"kind":"check","job":"J7","check":"second-probe","value":"free"}
lap-a {"kind":"check","job":"J7","check":"second-hole-entered","ok":true}
lap-a {"kind":"check","job":"J7","check":"hole-cut","ok":true}
---
not cut-without-clearance J7
# As long as the liner was missed nobody could tell: the pilot hole stood open.
pilot-hole-left-open J7 stop - cleared
J7 says put right since by the check second-probe of J7, recorded by somebody on lap-a
+++
# It was measured at 3/4 in: a probe that runs free does not decide against that. At 11/16 in it does.
lap-a {"kind":"job","job":"J8","trailer":"5319","wall":"sheet-and-post","load":"loaded","thickness":"3/4 in"}
lap-a {"kind":"job","job":"J9","trailer":"5320","wall":"sheet-and-post","load":"loaded","thickness":"11/16 in"}
lap-a {"kind":"check","job":"J8","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J9","check":"freight-at-opening","value":"no"}
lap-a {"kind":"check","job":"J8","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J9","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J8","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J9","check":"first-probe","value":"free"}
lap-a {"kind":"check","job":"J8","check":"hole-cut","ok":true}
lap-a {"kind":"check","job":"J9","check":"hole-cut","ok":true}
---
cut-without-clearance J8 stop aware open
not cut-without-clearance J9
