# The picture carries the tracker's time, the request the laptop's: nobody can tell.
lap-a {"kind":"proof","job":"J1","state":"asked","by":"mara"}
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"clock":"reference","at":"2026-03-02T09:00:00Z","taken_at":"2026-03-02T07:00:00Z","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-older-than-request J1 ask aware open facts=1,2
J1 next Compare both times on the server
J1 says it cannot be told whether that was after the request
+++
# No time was written down; the laptop that says it was taken had seen the request. Fine.
lap-a {"kind":"proof","job":"J2","state":"asked"}
lap-b saw lap-a
lap-b {"kind":"proof","job":"J2","state":"taken","picture":"p.jpg"}
lap-b {"kind":"proof","job":"J2","state":"judged","ok":false,"picture":"p.jpg"}
---
not proof-older-than-request J2
+++
# Impatient: requested again after the picture was there, and the old picture judged. It belongs to the first request.
lap-b {"kind":"proof","job":"J2","state":"asked","note":"again"}
lap-b {"kind":"proof","job":"J2","state":"judged","ok":true,"picture":"p.jpg","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
not proof-older-than-request J2
+++
# Nobody says when it was taken: nothing contradicts.
lap-a {"kind":"proof","job":"J3","state":"asked"}
lap-a {"kind":"proof","job":"J3","state":"judged","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
not proof-older-than-request J3
+++
# The clocks do not compare, but whoever asked had seen that this very picture was taken: it is older.
lap-a {"kind":"proof","job":"J4","state":"taken","picture":"q.jpg","clock":"reference","taken_at":"2026-03-02T23:00:00Z"}
lap-a {"kind":"proof","job":"J4","state":"asked"}
lap-a {"kind":"proof","job":"J4","state":"judged","ok":false,"picture":"q.jpg"}
---
proof-older-than-request J4 stop aware open facts=10,11,12
