# The place is outside the default zone. Whoever measured it approves it himself: that does not count, and the finding says so.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty"}
checks lap-a J1 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J1","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J1","check":"approval","ok":true,"by":"Mara "}
lap-a {"kind":"check","job":"J1","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
check-failed J1 ask aware open
J1 says the approval of Mara, recorded on lap-a
J1 says does not count: nobody but Mara is known to have recorded the value
J1 next Ask the office
+++
# Somebody else's approval counts on whatever device it is recorded.
lap-a {"kind":"job","job":"J2","trailer":"5313","wall":"plate","load":"empty"}
checks lap-a J2 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J2","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J2","check":"approval","ok":true,"of":"place","by":"ida"}
lap-a {"kind":"check","job":"J2","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J2","by":"mara"}
---
not check-failed J2
+++
# After the cut it is too late.
lap-a {"kind":"job","job":"J3","trailer":"5314","wall":"plate","load":"empty"}
checks lap-a J3 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J3","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"check","job":"J3","check":"approval","ok":true,"by":"ida"}
lap-a {"kind":"sign-off","job":"J3","by":"mara"}
---
check-failed J3 ask aware open
J3 says the approval of ida, recorded on lap-a (2026-03-02 09:
J3 says does not count: it is not before the cut
+++
# Whoever cuts does not approve, although somebody else measured.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","load":"empty"}
checks lap-a J4 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J4","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J4","check":"approval","ok":true,"by":"jonas"}
lap-a {"kind":"check","job":"J4","check":"hole-diameter","value":"1 3/4 in","by":"jonas"}
lap-a {"kind":"sign-off","job":"J4","by":"mara"}
---
check-failed J4 ask aware open
J4 says does not count: nobody but jonas is known to have cut
+++
# An approval that was given before the place was measured is of something else.
lap-a {"kind":"job","job":"J5","trailer":"5316","wall":"plate","load":"empty"}
lap-a {"kind":"check","job":"J5","check":"approval","ok":true,"by":"ida"}
checks lap-a J5 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J5","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J5","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J5","by":"mara"}
---
check-failed J5 ask aware open
J5 says does not count: it was recorded without this value in view
+++
# An approval of a reading is none of the place, and one that nobody gave is none at all.
lap-a {"kind":"job","job":"J6","trailer":"5317","wall":"plate","load":"empty"}
checks lap-a J6 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J6","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J6","check":"approval","ok":true,"of":"reading","by":"ida"}
lap-a {"kind":"check","job":"J6","check":"approval","ok":true}
lap-a {"kind":"check","job":"J6","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J6","by":"mara"}
---
check-failed J6 ask aware open
J6 says does not count: it does not say whose it is
+++
# A no is no approval, and takes one back.
lap-a {"kind":"job","job":"J7","trailer":"5318","wall":"plate","load":"empty"}
checks lap-a J7 plate empty but placement-top,hole-diameter
lap-a {"kind":"check","job":"J7","check":"placement-top","value":"4 in","by":"mara"}
lap-a {"kind":"check","job":"J7","check":"approval","ok":true,"by":"ida"}
lap-a {"kind":"check","job":"J7","check":"approval","ok":false,"by":"ida"}
lap-a {"kind":"check","job":"J7","check":"hole-diameter","value":"1 3/4 in","by":"mara"}
lap-a {"kind":"sign-off","job":"J7","by":"mara"}
---
check-failed J7 ask aware open
J7 says it was refused beside it or later
J7 says it does not say yes
+++
# The lock rods would strike: further forward without anybody's approval, but not beyond 30 in.
lap-a {"kind":"job","job":"J8","trailer":"5319","wall":"plate","load":"empty"}
checks lap-a J8 plate empty but placement-rear
lap-a {"kind":"check","job":"J8","check":"lock-rods-would-strike","ok":true}
lap-a {"kind":"check","job":"J8","check":"placement-rear","value":"30 in"}
lap-a {"kind":"sign-off","job":"J8"}
lap-a {"kind":"job","job":"J9","trailer":"5320","wall":"plate","load":"empty"}
checks lap-a J9 plate empty but placement-rear
lap-a {"kind":"check","job":"J9","check":"lock-rods-would-strike","ok":true}
lap-a {"kind":"check","job":"J9","check":"placement-rear","value":"31 in"}
lap-a {"kind":"sign-off","job":"J9"}
---
not check-failed J8
check-failed J9 ask aware open
J9 says placement-rear is 31 in
+++
# Near a post with the bare post covered: good behind a wall over 3/4 in, not behind a thinner one or one that nobody measured.
lap-a {"kind":"job","job":"J10","trailer":"5321","wall":"sheet-and-post","load":"empty","thickness":"7/8 in"}
checks lap-a J10 sheet-and-post empty but post-distance,thickness
lap-a {"kind":"check","job":"J10","check":"post-distance","value":"8 in"}
lap-a {"kind":"check","job":"J10","check":"post-covered","ok":true}
lap-a {"kind":"sign-off","job":"J10"}
lap-a {"kind":"job","job":"J11","trailer":"5322","wall":"sheet-and-post","load":"empty","thickness":"3/4 in"}
checks lap-a J11 sheet-and-post empty but post-distance,thickness
lap-a {"kind":"check","job":"J11","check":"post-distance","value":"8 in"}
lap-a {"kind":"check","job":"J11","check":"post-covered","ok":true}
lap-a {"kind":"sign-off","job":"J11"}
---
not check-failed J10
check-failed J11 stop aware open
