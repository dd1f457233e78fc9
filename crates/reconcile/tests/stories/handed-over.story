# Mara begins, hands over at shift end, and jonas finishes on his own laptop: nothing is wrong with that.
lap-a {"kind":"job","job":"J1","trailer":"5312","wall":"plate","load":"empty","camera":"C1","tracker":"T1","by":"mara"}
checks lap-a J1 plate empty but doors-closed
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","by":"mara"}
lap-a {"kind":"settings","job":"J1","tracker":"T1","state":"asked","by":"mara"}
lap-b saw lap-a
lap-b {"kind":"settings","job":"J1","tracker":"T1","state":"live","by":"jonas"}
lap-b {"kind":"check","job":"J1","check":"doors-closed","ok":true,"by":"jonas"}
lap-b {"kind":"proof","job":"J1","state":"asked","by":"jonas"}
lap-b {"kind":"proof","job":"J1","state":"taken","by":"jonas"}
lap-b {"kind":"proof","job":"J1","state":"judged","picture":"blake3:6666666666666666666666666666666666666666666666666666666666666666","ok":true,"by":"jonas","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-b {"kind":"sign-off","job":"J1","by":"jonas"}
---
nothing else
+++
# Both measure the wall after the hand-over, and write down different thicknesses: each value with its author.
lap-a {"kind":"job","job":"J1","thickness":"3/4 in","by":"mara"}
lap-b {"kind":"job","job":"J1","thickness":"5/8 in","by":"jonas"}
---
fields-disagree J1 ask unaware open jobs=J1
J1 says thickness is 3/4 in by mara on lap-a
J1 says and 5/8 in by jonas on lap-b
J1 says neither device had seen the other's value.
J1 next set thickness of the job again
nothing else
+++
# Somebody who had seen only one of them resolves nothing.
lap-c saw lap-a
lap-c {"kind":"job","job":"J1","thickness":"11/16 in","by":"tomas"}
---
fields-disagree J1 ask unaware open
J1 says and 5/8 in by jonas on lap-b
J1 says thickness is 11/16 in by tomas on lap-c
+++
# The next one has seen all of them.
lap-b saw lap-c
lap-b {"kind":"job","job":"J1","thickness":"5/8 in","by":"jonas","note":"measured with tomas"}
---
fields-disagree J1 ask unaware cleared
J1 says thickness is now 5/8 in by jonas on lap-b
nothing else
