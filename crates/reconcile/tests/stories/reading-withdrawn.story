# A blocking reading is taken back: it stays in force until somebody else has approved that.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J1","check":"first-probe","value":"1/4 in","by":"mara"}
---
pilot-hole-left-open J1 stop - open
not reading-withdrawn
+++
lap-a {"kind":"withdraw","fact":"#4","why":"read off the wrong hole","by":"mara"}
---
reading-withdrawn J1 note - open facts=4,5
J1 says which nobody else has approved
J1 next Until somebody else approves
pilot-hole-left-open J1 stop - open
+++
# Nobody approves himself, and a refusal is none.
lap-b saw lap-a
lap-b {"kind":"check","job":"J1","check":"approval","of":"#4","ok":true,"by":"mara"}
lap-b {"kind":"check","job":"J1","check":"approval","of":"#4","ok":false,"by":"ida"}
---
J1 says which nobody else has approved
pilot-hole-left-open J1 stop - open
+++
lap-b {"kind":"check","job":"J1","check":"approval","of":"#4","ok":true,"by":"ida"}
---
reading-withdrawn J1 note - open
J1 says with the approval of ida, recorded on lap-b
J1 next unless the reason does not convince
pilot-hole-left-open J1 stop - cleared
+++
# A failed check: the sign-off stands on it until the withdrawal is approved.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"empty"}
lap-a {"kind":"check","job":"J2","check":"rivet-count","value":6,"by":"mara"}
lap-a {"kind":"sign-off","job":"J2","by":"mara"}
lap-a {"kind":"withdraw","fact":"#10","why":"miscounted","by":"mara"}
---
check-failed J2 stop aware open
reading-withdrawn J2 note - open
+++
lap-b saw lap-a
lap-b {"kind":"check","job":"J2","check":"approval","of":"#10","ok":true,"by":"ida"}
---
check-failed J2 stop aware cleared
J2 says rivet-count
+++
# The load by which a reading was judged stays in force too.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","by":"mara"}
lap-a {"kind":"job","job":"J3","load":"loaded","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"freight-at-opening","value":"no","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"pilot-hole","ok":true,"by":"mara"}
lap-a {"kind":"check","job":"J3","check":"first-probe","value":"1/4 in","by":"mara"}
lap-a {"kind":"withdraw","fact":"#15","why":"it was empty","by":"mara"}
lap-a {"kind":"sign-off","job":"J3","by":"mara"}
---
pilot-hole-left-open J3 stop - open
not reading-withdrawn J3
check-missing J3 ask - open
J3 says without 21 required checks: tracker-reporting
+++
# Approved: nobody has recorded the load. What blocked goes on blocking: that is another reading, and it was not taken back.
lap-b saw lap-a
lap-b {"kind":"check","job":"J3","check":"approval","of":"#15","ok":true,"by":"ida"}
---
pilot-hole-left-open J3 stop - open
check-missing J3 ask - open
J3 says load (not recorded)
+++
# Near: a load that was taken back before anything was read by it counts no more, and no later reading brings it back.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","by":"mara"}
lap-a {"kind":"job","job":"J4","load":"loaded","by":"mara"}
lap-a {"kind":"withdraw","fact":"#23","why":"of the next trailer","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"hole-cut","ok":true,"by":"mara"}
---
not cut-without-clearance J4
