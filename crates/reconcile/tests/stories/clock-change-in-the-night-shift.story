# 25 October 2026, a yard at +02:00: at three the clocks go back to two (IANA data, Europe/Berlin). Linked at 02:20 and live at 02:50
# of the first hour, signed off at 02:10 of the second: twenty minutes later, although the figures say otherwise.
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","at":"2026-10-25T02:20:00+02:00"}
lap-a {"kind":"settings","tracker":"T1","state":"live","at":"2026-10-25T02:50:00+02:00"}
lap-a {"kind":"sign-off","job":"J1","at":"2026-10-25T02:10:00+01:00"}
---
not signed-before-live J1
not changed-after-sign-off J1
+++
# The other way round, and on two laptops of that night, both measured by the depot: signed at 02:50 of the first hour, live at 02:15 of the second, 25 minutes after.
wait 340860
reading lap-a depot 200
reading lap-b depot 200
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2","at":"2026-10-25T02:20:00+02:00"}
lap-a {"kind":"sign-off","job":"J2","at":"2026-10-25T02:50:00+02:00","by":"mara"}
lap-b {"kind":"settings","tracker":"T2","state":"live","at":"2026-10-25T02:15:00+01:00","by":"jonas"}
---
signed-before-live J2 stop unaware open
J2 says signed off by mara on lap-a (2026-10-25 02:50 +02:00)
J2 says recorded live by jonas on lap-b (2026-10-25 02:15 +01:00)
changed-after-sign-off J2 ask unaware open
+++
# New York, 1 November 2026: half past one exists twice (05:30Z and 06:30Z). Requested at 01:40 of the first, taken at 01:30 of the
# second: fifty minutes later.
lap-b {"kind":"proof","job":"J3","state":"asked","clock":"reference","at":"2026-11-01T01:40:00-04:00"}
lap-b {"kind":"proof","job":"J3","state":"judged","ok":true,"clock":"reference","taken_at":"2026-11-01T01:30:00-05:00","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
not proof-older-than-request J3
+++
# Requested at 01:30 of the second, and handed out was a picture from 01:45 of the first.
lap-b {"kind":"proof","job":"J4","state":"asked","clock":"reference","at":"2026-11-01T01:30:00-05:00","by":"jonas"}
lap-b {"kind":"proof","job":"J4","state":"judged","ok":true,"clock":"reference","taken_at":"2026-11-01T01:45:00-04:00","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-older-than-request J4 stop aware open
J4 says taken at 2026-11-01 01:45 -04:00, before it was requested by jonas on lap-b (2026-11-01 01:30 -05:00)
+++
# In one offset nobody needs to be told which.
lap-b {"kind":"proof","job":"J5","state":"asked","clock":"reference","at":"2026-11-01T05:30:00-05:00","by":"jonas"}
lap-b {"kind":"proof","job":"J5","state":"judged","ok":true,"clock":"reference","at":"2026-11-01T05:50:00-05:00","taken_at":"2026-11-01T05:10:00-05:00","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
J5 says taken at 2026-11-01 05:10, before it was requested by jonas on lap-b (2026-11-01 05:30);
