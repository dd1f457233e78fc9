# The server handed out yesterday's picture: both times by the server's clock.
lap-a {"kind":"proof","job":"J1","state":"asked","clock":"reference","at":"2026-03-02T10:00:00-05:00","by":"mara"}
lap-a {"kind":"proof","job":"J1","state":"taken","clock":"reference","taken_at":"2026-03-02T09:59:59-05:00","picture":"p1.jpg"}
---
not proof-older-than-request
+++
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"picture":"p1.jpg","by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-older-than-request J1 stop aware open jobs=J1 facts=1,2,3
J1 next This picture does not show the finished work
J1 says taken at 2026-03-02 09:59 -05:00, before it was requested by mara on lap-a (2026-03-02 10:00 -05:00)
+++
depot saw lap-a
depot {"kind":"ruling","finding":"@proof-older-than-request:job:J1","ruling":"accepted","why":"clock jump on the server"}
---
proof-older-than-request J1 stop aware settled
+++
# Judged once more elsewhere, the same picture.
lap-b saw lap-a
lap-b {"kind":"proof","job":"J1","state":"judged","ok":true,"picture":"p1.jpg","by":"jonas","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-older-than-request J1 stop aware open facts=1,2,3,5
+++
# A new picture, judged with both in view.
lap-a saw lap-b
lap-a {"kind":"proof","job":"J1","state":"asked","clock":"reference","at":"2026-03-02T11:00:00-05:00"}
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"clock":"reference","taken_at":"2026-03-02T11:00:00-05:00","picture":"p2.jpg","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-older-than-request J1 stop aware cleared facts=1,2,3,5
