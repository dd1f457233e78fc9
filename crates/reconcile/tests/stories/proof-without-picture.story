# Judged good, and no picture is named.
lap-a {"kind":"job","job":"J1","trailer":"5312"}
lap-a {"kind":"proof","job":"J1","state":"asked"}
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-without-picture J1 ask - open jobs=J1 facts=3
J1 next picture
+++
# A file that was not there; bytes that are no picture.
lap-a {"kind":"proof","job":"J2","state":"judged","ok":true,"picture":"front.jpg","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"proof","job":"J3","state":"judged","ok":true,"picture":"picture:three","picture_held":"unreadable","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"proof","job":"J4","state":"judged","ok":true,"picture":"picture:four","picture_held":"absent","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-without-picture J2 ask - open
J2 says front.jpg
proof-without-picture J3 ask - open
proof-without-picture J4 ask - open
+++
# Near: named by the fact that it was taken; judged bad.
lap-a {"kind":"proof","job":"J5","state":"taken","picture":"picture:five"}
lap-a {"kind":"proof","job":"J5","state":"judged","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"proof","job":"J6","state":"judged","ok":false}
---
not proof-without-picture J5
not proof-without-picture J6
+++
# Judged once more with the picture named.
proof lap-a J1 one
---
proof-without-picture J1 ask - cleared
