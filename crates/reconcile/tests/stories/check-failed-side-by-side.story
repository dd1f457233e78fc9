# Two people measured the hole at the same time; one found it too wide.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty"}
checks lap-a J1 plate empty but hole-diameter
lap-b saw lap-a
lap-a {"kind":"check","job":"J1","check":"hole-diameter","value":"1 3/4 in"}
lap-b {"kind":"check","job":"J1","check":"hole-diameter","value":"2 in","by":"jonas"}
sync lap-a lap-b
lap-a {"kind":"sign-off","job":"J1"}
---
check-failed J1 stop aware open
J1 says hole-diameter is 2 in
+++
# A later measurement that had seen both decides, although it is recorded before a new sign-off only.
lap-a {"kind":"check","job":"J1","check":"hole-diameter","value":"44.45 mm","note":"together"}
lap-a {"kind":"sign-off","job":"J1","note":"again"}
---
check-failed J1 stop aware cleared
+++
# Outside the default zone the office is asked; its approval makes it good.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"empty"}
checks lap-a J2 plate empty but placement-rear,hole-diameter
lap-a {"kind":"check","job":"J2","check":"placement-rear","value":"20 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J2"}
---
J2 next Ask the office
check-failed J2 ask aware open
+++
lap-a {"kind":"check","job":"J2","check":"approval","ok":true,"by":"ines"}
lap-a {"kind":"check","job":"J2","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J2","note":"again"}
---
check-failed J2 ask aware cleared
+++
# Recorded as not ok: no approval makes that good.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"empty"}
checks lap-a J3 plate empty but placement-rear
lap-a {"kind":"check","job":"J3","check":"placement-rear","value":"20 in","ok":false}
lap-a {"kind":"check","job":"J3","check":"approval","ok":true,"by":"ines"}
lap-a {"kind":"sign-off","job":"J3"}
---
check-failed J3 stop aware open
+++
# The lock rods excuse a place further forward, not one further back.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","load":"empty"}
checks lap-a J4 plate empty but placement-rear
lap-a {"kind":"check","job":"J4","check":"placement-rear","value":"6 in"}
lap-a {"kind":"check","job":"J4","check":"lock-rods-would-strike","ok":true}
lap-a {"kind":"sign-off","job":"J4"}
lap-a {"kind":"job","job":"J5","trailer":"5316","wall":"plate","load":"empty"}
checks lap-a J5 plate empty but placement-rear
lap-a {"kind":"check","job":"J5","check":"placement-rear","value":"14 in"}
lap-a {"kind":"check","job":"J5","check":"lock-rods-would-strike","ok":true}
lap-a {"kind":"sign-off","job":"J5"}
---
check-failed J4 ask aware open
not check-failed J5
+++
# Of two times that a server gave the later one decides, in whatever order they were written down.
lap-a {"kind":"job","job":"J6","trailer":"5317","wall":"plate","load":"empty"}
checks lap-a J6 plate empty but doors-closed
lap-a {"kind":"check","job":"J6","check":"doors-closed","ok":true,"clock":"reference","at":"2026-03-02T07:30:00Z"}
lap-a {"kind":"check","job":"J6","check":"doors-closed","ok":false,"clock":"reference","at":"2026-03-02T07:00:00Z"}
lap-a {"kind":"sign-off","job":"J6"}
---
not check-failed J6
