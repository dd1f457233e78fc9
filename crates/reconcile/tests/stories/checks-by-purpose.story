# A take-off wants the hole closed against water, and nothing that a fit wants; wall and load need not be known.
lap-a {"kind":"job","job":"J1","trailer":"5312","purpose":"take-off"}
lap-a {"kind":"sign-off","job":"J1"}
---
check-missing J1 ask - open
J1 says without 1 required check: hole-closed
not check-failed J1
+++
lap-a {"kind":"check","job":"J1","check":"hole-closed","ok":true}
lap-a {"kind":"sign-off","job":"J1","note":"again"}
---
check-missing J1 ask - cleared
+++
# Another picture is proven: the doors are closed for it.
lap-a {"kind":"job","job":"J2","trailer":"5313","purpose":"prove"}
lap-a {"kind":"check","job":"J2","check":"doors-closed","ok":true}
lap-a {"kind":"sign-off","job":"J2"}
---
not check-missing J2
+++
# Another camera on the bracket that is there: no hole, no placement. A check that the purpose does not want is not judged.
lap-a {"kind":"job","job":"J3","trailer":"5314","purpose":"replace"}
lap-a {"kind":"check","job":"J3","check":"placement-top","value":"9 in"}
lap-a {"kind":"check","job":"J3","check":"doors-closed","ok":true}
lap-a {"kind":"sign-off","job":"J3"}
---
check-missing J3 ask - open
J3 says without 5 required checks: tracker-reporting, kit-complete, camera-screws, lens-untouched, label-moved
not check-failed J3
+++
# The same checks for a fit, which a job without a purpose is: the place is wrong.
lap-a {"kind":"job","job":"J4","trailer":"5315","wall":"plate","load":"empty"}
lap-a {"kind":"check","job":"J4","check":"placement-top","value":"9 in"}
lap-a {"kind":"sign-off","job":"J4"}
---
check-failed J4 ask aware open
check-missing J4 ask - open
+++
# Two purposes, written without knowing of each other: what either wants.
lap-a {"kind":"job","job":"J5","trailer":"5316"}
lap-b saw lap-a
lap-a {"kind":"job","job":"J5","purpose":"prove"}
lap-b {"kind":"job","job":"J5","purpose":"take-off"}
sync lap-a lap-b
lap-a {"kind":"sign-off","job":"J5"}
---
check-missing J5 ask - open
J5 says without 2 required checks: doors-closed, hole-closed
fields-disagree J5 ask unaware open
+++
# A picture of a take-off needs no answers; a judgement of a fit without them contradicts itself.
lap-a {"kind":"job","job":"J6","trailer":"5317","purpose":"take-off"}
lap-a {"kind":"proof","job":"J6","state":"judged","ok":true}
lap-a {"kind":"job","job":"J7","trailer":"5318","purpose":"prove"}
lap-a {"kind":"proof","job":"J7","state":"judged","ok":true}
---
not proof-answers-disagree J6
proof-answers-disagree J7 stop - open
