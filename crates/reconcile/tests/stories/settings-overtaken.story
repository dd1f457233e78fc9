# Live, then failed, then signed: the latest settings count.
lap-a {"kind":"job","job":"J1","trailer":"5312","tracker":"T1","camera":"C1"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"settings","tracker":"T1","camera":"C1","state":"live"}
lap-a {"kind":"settings","tracker":"T1","camera":"C1","state":"failed"}
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
signed-before-live J1 stop aware open facts=2,4,5
J1 says the latest settings of tracker T1 before it are not live
+++
# Live again afterwards, and signed again: put right.
lap-a {"kind":"settings","tracker":"T1","camera":"C1","state":"live","note":"again"}
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
signed-before-live J1 stop aware cleared
+++
# Asked for, live, signed: nothing to say. What fails after the sign-off does not overtake.
lap-a {"kind":"job","job":"J2","trailer":"5313","tracker":"T2","camera":"C2"}
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"settings","tracker":"T2","state":"asked"}
lap-a {"kind":"settings","tracker":"T2","state":"live"}
lap-a {"kind":"sign-off","job":"J2"}
lap-a {"kind":"settings","tracker":"T2","state":"failed"}
---
not signed-before-live J2
+++
# Live on one device, failed on another, neither knowing of the other, both before the sign-off: not all live.
lap-a {"kind":"job","job":"J3","trailer":"5314","tracker":"T3","camera":"C3"}
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-b saw lap-a
lap-a {"kind":"settings","tracker":"T3","state":"live"}
lap-b {"kind":"settings","tracker":"T3","state":"failed","by":"jonas"}
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J3"}
---
signed-before-live J3 stop aware open
+++
# Asked for on another device, neither knowing of the other, both before the sign-off: not all of the latest are live.
lap-a {"kind":"job","job":"J4","trailer":"5315","tracker":"T4","camera":"C4"}
lap-a {"kind":"link","job":"J4","camera":"C4","tracker":"T4"}
lap-b saw lap-a
lap-a {"kind":"settings","tracker":"T4","state":"live"}
lap-b {"kind":"settings","tracker":"T4","state":"asked","by":"jonas"}
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J4"}
---
signed-before-live J4 stop aware open
