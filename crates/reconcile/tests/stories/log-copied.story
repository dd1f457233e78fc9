# A copied home goes on in a log of its own, and so does the one that it was copied from.
lap-a {"kind":"note","text":"one"}
lap-a {"kind":"note","text":"two"}
depot saw lap-a
depot {"kind":"note","text":"the depot noticed"}
copy lap-a 2 depot
---
log-forked lap-a stop - open jobs= facts=
lap-a says Device lap-a was copied or restored from a backup, and went on from there more than once: from place 2 of log 1 on it is written in 2 logs. All entries of all of them count.
lap-a next If two copies are at work, keep one and take the other out of use
nothing else
+++
# Two entries claim one place as well: both are said.
fork lap-a 1 depot
---
log-forked lap-a stop - open
lap-a says place 1 (01010101 and 02020202). Device lap-a was copied
