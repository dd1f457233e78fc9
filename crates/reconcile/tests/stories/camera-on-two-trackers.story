# Two laptops out of reach of each other tie camera LK-C-0412 to different trackers.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
lap-b {"kind":"job","job":"J2","trailer":"5313","by":"jonas"}
lap-a {"kind":"link","job":"J1","camera":"LK-C-0412","tracker":"LK-T-1001","by":"mara"}
---
not camera-on-two-trackers
+++
lap-b {"kind":"link","job":"J2","camera":" LK-C-0412","tracker":"LK-T-1002","by":"jonas"}
---
camera-on-two-trackers LK-C-0412 stop unaware open jobs=J1,J2 facts=3,4
LK-C-0412 says LK-T-1001 by mara on lap-a
nothing else
+++
# The depot has seen both and rules.
depot saw lap-a
depot saw lap-b
depot {"kind":"ruling","finding":"@camera-on-two-trackers:camera:LK-C-0412","ruling":"accepted","why":"label printed twice","by":"ines"}
---
camera-on-two-trackers LK-C-0412 stop unaware settled jobs=J1,J2 facts=3,4
+++
# A third link joins the clash: the ruling had not seen it.
lap-a {"kind":"link","job":"J1","camera":"LK-C-0412","tracker":"LK-T-1003","by":"mara"}
---
camera-on-two-trackers LK-C-0412 stop aware open jobs=J1,J2 facts=3,4,6
+++
# All but one are taken off: the cause is gone, the history stays.
lap-a saw lap-b
lap-a {"kind":"unlink","job":"J1","camera":"LK-C-0412","tracker":"LK-T-1001","why":"wrong label"}
lap-a {"kind":"unlink","job":"J1","camera":"LK-C-0412","tracker":"LK-T-1003","why":"wrong label"}
---
camera-on-two-trackers LK-C-0412 stop aware cleared facts=3,4,6
