# Two laptops out of reach of each other.
lap-a {"kind":"link","job":"J1","camera":"LK-C-0412","tracker":"LK-T-1001","by":"mara"}
lap-b {"kind":"link","job":"J2","camera":"LK-C-0412","tracker":"LK-T-1002","by":"jonas"}
---
camera-on-two-trackers LK-C-0412 stop unaware open facts=1,2
LK-C-0412 says linked to trackers LK-T-1001 by mara on lap-a (2026-03-02 08:01) and LK-T-1002 by jonas on lap-b (2026-03-02 08:02); neither device had seen the other's link.
+++
# A third one, as unknowing.
lap-c {"kind":"link","job":"J3","camera":"LK-C-0412","tracker":"LK-T-1003","by":"tomas"}
---
camera-on-two-trackers LK-C-0412 stop unaware open facts=1,2,3
LK-C-0412 says none of these devices had seen another's link
+++
# lap-b hears of lap-a's link, writes a note while it holds it, and 41 minutes after that note makes another link all the same.
lap-a {"kind":"link","job":"J4","camera":"LK-C-0500","tracker":"LK-T-2001","by":"mara"}
lap-b saw lap-a
lap-b {"kind":"note","text":"Tolland yard, row 4","by":"jonas"}
wait 40
lap-b {"kind":"link","job":"J5","camera":"LK-C-0500","tracker":"LK-T-2002","by":"jonas"}
---
camera-on-two-trackers LK-C-0500 stop aware open facts=4,6
LK-C-0500 says lap-b had held the link of LK-C-0500 to LK-T-2001 for at least 41 minutes by its own clock.
+++
# Its clock was an hour and a half fast all the while: the time that passed on it is the same.
clock lap-c +90
lap-c saw lap-a
lap-c {"kind":"note","text":"row 5","by":"tomas"}
wait 124
lap-c {"kind":"link","camera":"LK-C-0500","tracker":"LK-T-2003","by":"tomas"}
lap-b saw lap-a
lap-b {"kind":"unlink","camera":"LK-C-0500","tracker":"LK-T-2002","why":"wrong camera"}
---
camera-on-two-trackers LK-C-0500 stop aware open facts=4,8
LK-C-0500 says lap-c had held the link of LK-C-0500 to LK-T-2001 for at least 2 hours 5 minutes by its own clock.
+++
# Nothing was recorded between hearing of the first link and making the second: nobody kept since when it was there.
lap-a {"kind":"link","camera":"LK-C-0600","tracker":"LK-T-3001","by":"mara"}
lap-b saw lap-a
wait 60
lap-b {"kind":"link","camera":"LK-C-0600","tracker":"LK-T-3002","by":"jonas"}
---
camera-on-two-trackers LK-C-0600 stop aware open
LK-C-0600 says lap-b had the link of LK-C-0600 to LK-T-3001 in view.
+++
# The clock was set back meanwhile, or a server's time was written down: no duration.
lap-a {"kind":"link","camera":"LK-C-0700","tracker":"LK-T-4001"}
lap-a {"kind":"link","camera":"LK-C-0800","tracker":"LK-T-5001"}
lap-b saw lap-a
lap-b {"kind":"note","text":"row 6","by":"jonas"}
wait 30
lap-b {"kind":"link","camera":"LK-C-0800","tracker":"LK-T-5002","clock":"reference","at":"2026-03-02T20:00:00Z"}
clock lap-b -90
lap-b {"kind":"link","camera":"LK-C-0700","tracker":"LK-T-4002"}
---
LK-C-0700 says lap-b had the link of LK-C-0700 to LK-T-4001 in view.
LK-C-0800 says lap-b had the link of LK-C-0800 to LK-T-5001 in view.
+++
# One laptop contradicts itself.
lap-a {"kind":"link","camera":"LK-C-0900","tracker":"LK-T-6001"}
wait 25
lap-a {"kind":"link","camera":"LK-C-0901","tracker":"LK-T-6001"}
---
tracker-with-two-cameras LK-T-6001 stop aware open
LK-T-6001 says lap-a itself had recorded the link of LK-C-0900 to LK-T-6001, 26 minutes before by its own clock.
+++
# A laptop set up again from a copy of its disk knows no more of what it did since than a stranger.
lap-c {"kind":"link","camera":"LK-C-1000","tracker":"LK-T-7001"}
restore lap-c 1
lap-c {"kind":"link","camera":"LK-C-1000","tracker":"LK-T-7002"}
---
camera-on-two-trackers LK-C-1000 stop unaware open
LK-C-1000 says neither copy of lap-c had seen the other's link
