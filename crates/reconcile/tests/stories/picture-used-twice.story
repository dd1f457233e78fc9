# The same bytes prove two trailers, on two laptops.
fit lap-a J1 5312 C1 T1
lap-a {"kind":"proof","job":"J1","state":"judged","picture":"picture:same","ok":true,"by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"sign-off","job":"J1"}
---
not picture-used-twice
+++
fit lap-b J2 5313 C2 T2
lap-b {"kind":"proof","job":"J2","state":"judged","picture":"picture:same","ok":true,"by":"jonas","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-b {"kind":"sign-off","job":"J2"}
---
picture-used-twice picture:same stop unaware open jobs=J1,J2
5312 relied no
5313 relied no
+++
# One of them proven anew is not enough.
sync lap-a lap-b
proof lap-a J1 other
lap-a {"kind":"sign-off","job":"J1","note":"again"}
---
picture-used-twice picture:same stop unaware open
+++
lap-b saw lap-a
proof lap-b J2 another
lap-b {"kind":"sign-off","job":"J2","note":"again"}
---
picture-used-twice picture:same stop unaware cleared
5312 relied yes
5313 relied yes
