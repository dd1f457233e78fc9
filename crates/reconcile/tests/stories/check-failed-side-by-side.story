# Two people measured the hole at the same time; one found it too wide.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty"}
checks lap-a J1 plate empty but hole-diameter
lap-b saw lap-a
lap-a {"kind":"check","job":"J1","check":"hole-diameter","value":"1 3/4 in"}
lap-b {"kind":"check","job":"J1","check":"hole-diameter","value":"2 in","by":"jonas"}
sync lap-a lap-b
lap-a {"kind":"sign-off","job":"J1"}
---
check-failed J1 stop - open
J1 says hole-diameter is 2 in
+++
# A later measurement that had seen both decides, although it is recorded before a new sign-off only.
lap-a {"kind":"check","job":"J1","check":"hole-diameter","value":"44.45 mm","note":"together"}
lap-a {"kind":"sign-off","job":"J1","note":"again"}
---
check-failed J1 stop - cleared
+++
# Outside the default zone the office is asked; its approval makes it good.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"empty"}
checks lap-a J2 plate empty but placement-rear
lap-a {"kind":"check","job":"J2","check":"placement-rear","value":"20 in"}
lap-a {"kind":"sign-off","job":"J2"}
---
check-failed J2 ask - open
+++
lap-a {"kind":"check","job":"J2","check":"approval","ok":true,"by":"ines"}
lap-a {"kind":"sign-off","job":"J2","note":"again"}
---
check-failed J2 ask - cleared
