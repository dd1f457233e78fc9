# Judged good, then not good, then signed: the latest judgement counts.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"proof","job":"J1","state":"judged","ok":false,"by":"ilse","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":false}}
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
signed-without-proof J1 stop aware open facts=3,4
J1 says its picture was judged, but not as good, by ilse
+++
# A new picture judged good, and signed again, puts it right.
lap-a {"kind":"proof","job":"J1","state":"judged","ok":true,"note":"lens wiped","by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
signed-without-proof J1 stop aware cleared
+++
# Not good first, then good, then signed: nothing to say.
lap-a {"kind":"proof","job":"J2","state":"judged","ok":false,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":false}}
lap-a {"kind":"proof","job":"J2","state":"judged","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-a {"kind":"sign-off","job":"J2"}
---
not signed-without-proof J2
+++
# Two people judge without knowing of each other; whoever signs has seen both: one that is not good counts.
lap-a {"kind":"proof","job":"J3","state":"judged","ok":true,"by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
lap-b {"kind":"proof","job":"J3","state":"judged","ok":false,"by":"jonas","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":false}}
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J3","by":"mara"}
---
signed-without-proof J3 stop aware open
