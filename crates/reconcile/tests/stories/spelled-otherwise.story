# One trailer, one camera, one fleet, however they are written.
depot {"kind":"stock","camera":"C-77","fleet":"Larkspur Freight"}
depot {"kind":"stock","tracker":"T 7","fleet":"Larkspur Freight"}
lap-a saw depot
lap-a {"kind":"job","job":"J1","trailer":"LF 5396","fleet":"Larkspur freight","camera":"C77","tracker":"t/7"}
lap-a {"kind":"link","job":"j1","camera":"c_77","tracker":"T.7"}
lap-a {"kind":"settings","tracker":"t7","state":"live"}
lap-a {"kind":"sign-off","job":"J1"}
---
not wrong-fleet
not code-suspect
not unknown-part
not planned-not-linked
not signed-without-link
not signed-before-live
not fields-disagree
+++
# The same trailer is opened once more; the same camera is linked to another tracker.
lap-b {"kind":"job","job":"J2","trailer":"lf5396","fleet":"LARKSPUR FREIGHT"}
lap-b {"kind":"link","job":"J2","camera":"C–77","tracker":"T8"}
---
trailer-opened-twice LF_5396 ask unaware open jobs=J1,J2
camera-on-two-trackers C-77 stop unaware open
+++
# Concurrent values that differ only in spelling do not disagree.
lap-a {"kind":"job","job":"J3","trailer":"LF 100","fleet":"Larkspur Freight"}
lap-b {"kind":"job","job":"J3","trailer":"lf-100","fleet":"larkspur  freight"}
---
not fields-disagree J3
