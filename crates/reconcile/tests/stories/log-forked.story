# A cloned disk: two entries claim place 2 of lap-a's log.
lap-a {"kind":"note","text":"one"}
lap-a {"kind":"note","text":"two"}
depot saw lap-a
depot {"kind":"note","text":"the depot noticed"}
fork lap-a 2 depot
---
log-forked lap-a stop - open jobs= facts=
lap-a says place 2 (01010101 and 02020202).
nothing else
+++
# A ruling by somebody who has not heard of it settles nothing.
lap-b {"kind":"ruling","finding":"@log-forked:device:lap-a","ruling":"corrected","why":"old disk destroyed"}
---
log-forked lap-a stop - open
+++
depot {"kind":"ruling","finding":"@log-forked:device:lap-a","ruling":"corrected","why":"old disk destroyed"}
---
log-forked lap-a stop - settled
+++
lap-c {"kind":"note","text":"another one"}
fork lap-a 1 lap-c
---
log-forked lap-a stop - open
